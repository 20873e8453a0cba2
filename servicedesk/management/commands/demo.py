import argparse
import json
import os
import shutil
import sys
from dataclasses import asdict
from datetime import date, timedelta

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone
from tqdm import tqdm

from servicedesk import embedded
from servicedesk.actions.demo import building, people, words
from servicedesk.planning.calendar import site_date, week_name

NOTE = settings.DATA / "demo.json"  # written last: without it the demo is not whole
LOGINS = {
    "service manager": people.MANAGER,
    "technician": people.TECHNICIANS[0],
    "office": people.OFFICE,
}


def a_day(text):
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text} is no day. Write it like 2026-11-25.") from None


class Command(BaseCommand):
    help = (
        "Builds an invented firm in a database of its own, then serves its pages and runs its "
        "jobs on this machine. It writes mails to files and sends none."
    )

    def add_arguments(self, parser):
        parser.add_argument("--no-serve", action="store_true", help="build it, and stop there")
        parser.add_argument("--port", type=int, help="without it the first free one from 8000")
        parser.add_argument("--systems", type=int, help=f"how many ({building.SYSTEMS})")
        parser.add_argument("--reset", action="store_true", help="throw the old demo away first")
        parser.add_argument("--today", type=a_day, metavar="DATE", help="the day it is dated to")
        parser.add_argument("--json", action="store_true", help="print the facts as JSON")

    def handle(self, *, no_serve, port, **options):
        if not settings.DEMO:
            _start_again_as_demo()
        self.options = options
        self.today = options["today"] or site_date(timezone.now(), words.ZONE)
        try:
            if no_serve:
                with embedded.hold_data_folder():
                    self.prepare()
                self.tell(None)
            else:
                embedded.run(port=port, prepare=self.prepare, announce=self.tell)
        except building.DemoRefused as refusal:
            raise CommandError(str(refusal), returncode=2) from None

    def prepare(self):
        building.refuse_too_small(self.options["systems"] or building.SYSTEMS)
        if self.options["reset"] or not NOTE.exists():
            _throw_away()
        call_command("prepare", verbosity=0)
        if not NOTE.exists():
            with _Bars(shown=not self.options["json"]) as bars:
                made = building.build_demo(
                    today=self.today,
                    number=self.options["systems"] or building.SYSTEMS,
                    progress=bars.show,
                )
            NOTE.write_text(json.dumps(asdict(made), default=str))

    def tell(self, address):
        facts = json.loads(NOTE.read_text())
        facts |= {"address": address, "password": people.PASSWORD, "logins": LOGINS}
        facts["old"] = self._old(facts)
        if self.options["json"]:
            self.stdout.write(json.dumps(facts))
        else:
            self.stdout.write("\n".join(_lines(facts)))
        self.stdout.flush()

    def _old(self, facts):
        """What differs from what was asked for, in a sentence; empty where nothing does."""
        differs = facts["today"] != self.today.isoformat()
        wanted = self.options["systems"]
        if not differs and wanted in {None, facts["systems"]}:
            return ""
        return (
            f"This demo is dated {facts['today']} and has {facts['systems']} systems; it is kept "
            "as you left it. Start with --reset to build it anew."
        )


class _Bars:
    """One progress bar after the other, for what is being made."""

    def __init__(self, *, shown):
        self.shown, self.bar, self.what = shown, None, None

    def __enter__(self):
        return self

    def __exit__(self, *fault):
        if self.bar:
            self.bar.close()

    def show(self, what, done, of):
        if what != self.what:
            if self.bar:
                self.bar.close()
            self.what = what
            self.bar = tqdm(desc=what, total=of, disable=not self.shown)
        self.bar.update(done - self.bar.n)


def _start_again_as_demo():
    """In the demo's own data folder: settings were read already, and may name real servers."""
    env = {**os.environ, "SERVICEDESK_DEMO": "yes", "SERVICEDESK_DATA": str(settings.DATA / "demo")}
    os.execve(sys.executable, [sys.executable, *sys.argv], env)


def _throw_away():
    connection.close()
    database = settings.DATABASES["default"]["NAME"]
    for ending in ["", "-wal", "-shm"]:
        database.with_name(database.name + ending).unlink(missing_ok=True)
    for folder in [settings.MAIL_FILES, settings.MEDIA_ROOT]:
        shutil.rmtree(folder, ignore_errors=True)
    NOTE.unlink(missing_ok=True)


def _lines(facts):
    base = facts["address"] or ""
    today = date.fromisoformat(facts["today"])
    coming = week_name(today + timedelta(days=7 - today.weekday()))
    yield f"Alder & Rill Pond Air, an invented firm on {today:%-d %B %Y}:"
    yield (
        f"{facts['systems']} systems on {facts['ponds']} ponds, {facts['visits']} visits in two "
        f"years, {facts['open_tickets']} open tickets."
    )
    if facts["old"]:
        yield facts["old"]
    if base:
        yield f"Pages and jobs run at {base} (Ctrl-C stops both)"
    yield "Sign in, everybody with the password " + facts["password"]
    for role, name in facts["logins"].items():
        yield f"  {role:16} {name}"
    yield "What to look at first:"
    yield f"  service manager  {base}week/{coming}/ and plan the coming week"
    yield f"  technician       {base}day/ in a narrow window, and close a filter change"
    yield f"  pond owner       {base}messages/ as manager: open a mail, follow the link in it"
