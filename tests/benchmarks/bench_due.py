"""Time of a full refresh of due days and of opening tickets, in the configured database.

Run: python -m tests.benchmarks.bench_due
Everything is rolled back: the database is afterwards as it was.
"""

import os
import sys
import time

import django


def timed(what, call):
    start, busy = time.perf_counter(), time.process_time()
    result = call()
    wall, busy = time.perf_counter() - start, time.process_time() - busy
    sys.stdout.write(f"{what:<32} {wall:8.2f} s, of it {busy:7.2f} s of our own   {result}\n")


class _RollBack(Exception):
    pass


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "servicedesk.settings")
    django.setup()
    # The records can only be read once Django stands.
    from django.db import transaction  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from equipment.models import System  # noqa: PLC0415
    from servicedesk.actions.due import refresh_all, refresh_systems  # noqa: PLC0415
    from servicedesk.actions.tickets import open_due_tickets  # noqa: PLC0415
    from servicedesk.models import DueItem, Ticket  # noqa: PLC0415

    now = timezone.now()
    one = System.objects.values_list("pk", flat=True).first()
    sys.stdout.write(f"{System.objects.count()} systems\n")
    try:
        with transaction.atomic():
            DueItem.objects.all().delete()
            timed("full refresh, every row new", lambda: refresh_all(now=now))
            timed("full refresh, nothing changed", lambda: refresh_all(now=now))
            timed("refresh of one system", lambda: refresh_systems([one], now=now))
            Ticket.objects.open().update(occasion="bench")
            timed("opening tickets", lambda: open_due_tickets(clock=lambda: now))
            timed("opening tickets again", lambda: open_due_tickets(clock=lambda: now))
            raise _RollBack
    except _RollBack:
        return


if __name__ == "__main__":
    main()
