"""Load a register of customers, sites, ponds and systems: all of it, or nothing."""

from collections.abc import Callable
from datetime import datetime
from typing import BinaryIO

from django.db import transaction

from customers.models import Firm, Site, Trail, User
from servicedesk.actions import due
from servicedesk.actions.registers import components, parties, places, systems, works
from servicedesk.actions.registers.entries import gather, warnings
from servicedesk.actions.registers.merging import filter_in
from servicedesk.actions.registers.report import RegisterRefused, Report
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.planning.calendar import site_date
from servicedesk.registers.columns import NAMES
from servicedesk.registers.files import read_register
from servicedesk.wakeups import wake

STEPS = 10


def import_register(
    file: BinaryIO,
    *,
    now: datetime,
    by: User | None = None,
    dry_run: bool = False,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> Report:
    """Load a CSV or XLSX file; `dry_run` does it all and takes it back.

    progress: called with steps done and steps in all.
    Raises NotARegister where the file cannot be read, RegisterRefused with every faulty cell;
    then nothing was written.
    """
    register = read_register(file)
    firm = Firm.objects.first() or Firm()
    today = site_date(now, firm.time_zone)
    missing = {fault.column for fault in register.faults if fault.row == 1}
    entries, faults = gather(register.rows, header=set(NAMES) - missing, today=today)
    if register.faults or faults:
        raise RegisterRefused(register.faults + faults)
    report = Report(rows=len(register.rows), dry_run=dry_run)
    report.warnings += warnings(entries)
    with transaction.atomic():
        Firm.objects.select_for_update().first()  # one register at a time
        load_task_defaults()
        for step, _ in enumerate(_write(entries, report, firm, now, today, by), start=1):
            progress(step, STEPS)
        if dry_run:
            transaction.set_rollback(True)
        elif report.total().new or report.changes:
            keys = [key for (key,) in entries["site"]]
            sites = filter_in(Site.objects.all(), "key", keys)
            due.refresh_sites([site.pk for site in sites], now=now)
            wake("servicedesk.tasks.open_tickets")
            after = {"sentence": report.sentence()}
            Trail.objects.create(at=now, by=by, did="loaded a register", about="", after=after)
    return report


def _write(entries, report, firm, now, today, by):
    """Writes step by step; yields after each, for whoever shows progress."""
    customers = parties.save_customers(entries, report)
    yield
    sites = places.save_sites(entries, report, firm=firm)
    yield
    since = {}
    for entry in entries["system"].values():
        day = since.get(entry["site_key"], entry["installed_on"])
        since[entry["site_key"]] = min(day, entry["installed_on"])
    places.save_owners(entries, customers, sites, report, since=since, today=today)
    parties.save_contacts(entries, customers, sites, report, firm=firm, today=today)
    yield
    places.save_ways_in(entries, sites, report, now=now)
    ponds = places.save_ponds(entries, sites, report)
    yield
    models = components.save_models(entries, report)
    yield
    cabinets = systems.save_systems(entries, sites, report, today=today)
    systems.save_schedules(entries, cabinets, report)
    yield
    positions = components.save_positions(entries, cabinets, ponds, report)
    yield
    components.save_depths(entries, cabinets, positions, report, now=now, today=today)
    yield
    components.save_compressors(entries, cabinets, models, positions, report, now=now, today=today)
    yield
    systems.save_states(entries, cabinets, sites, report, by=by, now=now)
    works.save_works(entries, cabinets, sites, positions, report, by=by, now=now)
    yield
