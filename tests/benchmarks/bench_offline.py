"""Random days without signal: is every closing recorded once, every photo once, in their order?

Run: python -m tests.benchmarks.bench_offline [SCHEDULES] [FIRST_SEED]
Needs chromium. A database of its own, a real server process that is killed and started, a real
browser that is restarted, and a line that breaks or swallows answers (tests/phones.py). Each seed
is one day: tickets are closed on the phone's pages, some with a photo, between random events. At
its end the line holds, the technician signs in, and what the server has is compared with what he
did. Exit status 1 if one schedule differs; never for a time.
"""

import os
import re
import sys
import tempfile
import time
from pathlib import Path
from random import Random
from statistics import median

from tests.environment import FOLDER

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "servicedesk.settings")
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # the browser's driver keeps a loop on this thread

import django
import pytest

django.setup()

# The records can only be read once Django stands.
from django.contrib.sessions.models import Session  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test import Client  # noqa: E402
from playwright.sync_api import Error as BrowserError  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402

from servicedesk.models import Photo, Ticket, Visit, Work  # noqa: E402
from tests import make  # noqa: E402
from tests.machines import Program, free_port, until  # noqa: E402
from tests.phones import Phone, Relay, photo_with_place  # noqa: E402
from tests.servicedesk.views.phone_day import Day, today  # noqa: E402

STOPS = 4
EVENTS = {  # how often each comes
    "close": 8,
    "away": 3,
    "through": 2,
    "deaf": 3,
    "two tabs": 2,
    "session ends": 2,
    "server killed": 2,
    "server started": 2,
    "browser restarted": 2,
    "flush": 2,
}
OPENS_MS = "performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd"
ENDS = re.compile("^(Kept on this phone|Received)$")


class Server:
    """The program's pages in a process that may be killed at any moment."""

    def __init__(self, folder):
        self.port, self.program, self.process = free_port(), Program(folder), None

    def start(self):
        if self.process is None:
            address = f"127.0.0.1:{self.port}"
            self.process = self.program.manage(
                "runserver", address, "--noreload", "--insecure", "--skip-checks"
            )
            self.process.says("Starting development server")

    def kill(self):
        if self.process is not None:
            self.process.kill()
            self.process = None


class Schedule:
    """One technician's day: what is done on his phone, and what happens around it."""

    def __init__(self, seed, world, server, relay, browser_type, folder):
        self.random, self.server, self.relay = Random(seed), server, relay
        self.user = make.user(username=f"dario{seed}")
        technician = make.technician(user=self.user, shifts=False)
        world.route = make.route(technician=technician, day=today())
        stops = [world.add_stop(10 * seed + number) for number in range(1, STOPS + 1)]
        self.tickets = list(Ticket.objects.filter(stops__in=stops).order_by("pk"))
        self.done, self.events = [], []  # (ticket, photos), in order
        self.opens_ms = 0
        self.phone = Phone(browser_type, folder, relay.url)

    def run(self):
        self.phone.sign_in(self.user)
        self.phone.open_day()
        self.relay.turn("away")
        self.phone.page.goto("/day/")
        self.opens_ms = self.phone.page.evaluate(OPENS_MS)
        self.relay.turn("through")
        left = list(self.tickets)
        while left:
            event = self.random.choices([*EVENTS], [*EVENTS.values()])[0]
            self.events.append(event)
            if event == "close":
                self.close(left.pop(0))
            else:
                self.happen(event)
        self.settle()
        self.phone.stop()
        return self.faults()

    def close(self, ticket):
        page = self.open(f"/day/ticket/{ticket.pk}/")
        page.get_by_role("group", name="Running when you came?").get_by_label("Yes").check()
        page.get_by_label("Wet").check()
        page.get_by_label("Outlet pressure", exact=False).first.fill("6.4")
        page.get_by_label("Yes, seen bubbling").check()
        photos = self.random.choice([0, 0, 1, 2])
        if photos:
            page.get_by_label("Photos").set_input_files([photo_with_place()] * photos)
            page.get_by_alt_text(f"Photo {photos}").wait_for()
        page.get_by_role("button", name="Close ticket").click()
        page.get_by_role("heading", name=ENDS).wait_for()
        self.done.append((ticket, photos))

    def open(self, address):
        page = self.phone.page
        page.goto(address)
        if "/accounts/login/" in page.url:
            self.sign_in(address)
        return page

    def sign_in(self, address):
        """With a line that holds: without one nobody gets in."""
        mode, self.relay.mode = self.relay.mode, "through"
        self.phone.sign_in(self.user, then=address)
        self.relay.turn(mode)

    def happen(self, event):
        if event in {"away", "through", "deaf"}:
            self.relay.turn(event)
        elif event == "session ends":
            Session.objects.all().delete()
        elif event == "server killed":
            self.server.kill()
        elif event == "server started":
            self.server.start()
        elif event == "browser restarted":
            self.phone.restart()
        else:
            self.flush(tabs=2 if event == "two tabs" else 1)

    def flush(self, tabs=1):
        pages = [self.phone.page] + [self.phone.tab() for _ in range(tabs - 1)]
        for page in pages:
            page.goto("/day/")
        if any("/accounts/login/" in page.url for page in pages):
            self.sign_in("/day/")
        kept = [page for page in pages if "/accounts/login/" not in page.url]
        for page in kept:
            page.evaluate("void outbox.flush()")
        for page in kept:
            page.evaluate("outbox.flush()")
        for page in pages[1:]:
            page.close()

    def settle(self):
        self.server.start()
        self.relay.turn("through")
        self.open("/day/")
        if "/day/" not in self.phone.page.url:
            self.sign_in("/day/")
        until(lambda: self.sent(), what="what waits")

    def sent(self):
        self.phone.page.evaluate("outbox.flush()")
        if self.phone.page.evaluate("outbox.now.state") == "nobody":
            self.sign_in("/day/")
        return self.phone.waiting() == 0

    def faults(self):
        """What the server has and should not, or should and has not."""
        visits = list(Visit.objects.filter(technician=self.user).order_by("left_at"))
        works = [list(Work.objects.filter(visit=visit)) for visit in visits]
        found = [[work.ticket_id for work in group] for group in works]
        wanted = [[ticket.pk] for ticket, _ in self.done]
        if found != wanted:
            yield f"tickets closed {found}, and should be {wanted}"
        states = {work.state for group in works for work in group}
        if states != {"accepted"}:
            yield f"states {states}"
        photos = [Photo.objects.filter(visit=visit).count() for visit in visits]
        if photos != [count for _, count in self.done]:
            yield f"photos {photos}, and should be {[count for _, count in self.done]}"
        if Photo.objects.filter(by=self.user).count() != sum(photos):
            yield "photos of no visit"
        arrived = [visit.received_at for visit in visits]
        if arrived != sorted(arrived):
            yield "closings arrived in another order"
        yield from self.phone.wrong


def faults_of(schedule):
    """A day that cannot be played to its end is a fault, too."""
    try:
        return list(schedule.run())
    except (BrowserError, pytest.fail.Exception) as stuck:
        schedule.phone.stop()
        return [f"stuck: {str(stuck).splitlines()[0]}"]


def say(line):
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main(schedules=10, first=1):
    call_command("migrate", verbosity=0)
    server, wrong, opens_ms, begun = Server(FOLDER), 0, [], time.monotonic()
    world = Day(Client())
    server.start()
    relay = Relay(server.port, deaf_to=(b"POST /day/visits/", b"POST /day/photos/"))
    try:
        with sync_playwright() as playwright, tempfile.TemporaryDirectory() as folder:
            for seed in range(first, first + schedules):
                server.start()
                relay.turn("through")
                at = Path(folder) / str(seed)
                one = Schedule(seed, world, server, relay, playwright.chromium, at)
                faults = faults_of(one)
                wrong += bool(faults)
                opens_ms.append(one.opens_ms)
                photos = sum(count for _, count in one.done)
                say(
                    f"seed {seed}: {len(one.done)} closings, {photos} photos, "
                    f"{', '.join(one.events)}: {'; '.join(faults) or 'each once, in order'}"
                )
    finally:
        relay.end()
        server.kill()
        connection.close()
    say(
        f"{schedules} schedules, {relay.dropped} answers dropped, {wrong} with a fault, "
        f"{time.monotonic() - begun:.0f} s; the list opened without signal in "
        f"{median(opens_ms):.0f} ms (median), {max(opens_ms):.0f} ms at most"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*(int(word) for word in sys.argv[1:])))
