"""Time of the nightly refresh at scale: everything changed, one in a hundred, and nothing.

Run: SERVICEDESK_DATABASE_URL=... python -m tests.benchmarks.bench_refresh SYSTEMS [PROCESSES ...]
The database must be empty and migrated; it is filled and stays so. Never fails on a time.
"""

import os
import resource
import sys
import time
from datetime import UTC, date, datetime, timedelta
from multiprocessing import get_context
from random import Random

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "servicedesk.settings")
django.setup()

# The records can only be read once Django stands.
from django.conf import settings  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.utils import timezone  # noqa: E402

from customers.models import Pond, Region, Site  # noqa: E402
from equipment.kinds import PositionKind, SystemState  # noqa: E402
from equipment.models import (  # noqa: E402
    Component,
    ComponentType,
    Fitting,
    Position,
    Schedule,
    StateChange,
    System,
)
from servicedesk.actions import due, refreshing  # noqa: E402
from servicedesk.actions.tasks import load_task_defaults  # noqa: E402
from servicedesk.models import DueItem, JobBeat, RefreshPart, SiteMark, Task, Work  # noqa: E402
from servicedesk.models import place_of as place  # noqa: E402

BATCH = 2_000
BEGAN = date(2023, 5, 1)
DONE_AT_ONCE = ["filter_change", "compressor_overhaul", "annual_inspection"]


def say(text):
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def fill(systems, now):
    """Ponds with one cabinet each: a compressor, its filter, two plates, and works on them."""
    load_task_defaults()
    region = Region.objects.create(
        name="Bench",
        ice_on_typical="12-05",
        ice_on_earliest="11-20",
        ice_out_typical="04-05",
        layering_typical="05-20",
        mixing_typical="09-25",
    )
    kind = ComponentType.objects.create(
        kind=PositionKind.COMPRESSOR, maker="Brookmade", model="P", compressor_kind="piston"
    )
    random = Random(3)
    for start in range(0, systems, BATCH):
        with transaction.atomic():
            fill_batch(range(start, min(start + BATCH, systems)), region, kind, random, now)


def fill_batch(numbers, region, kind, random, now):
    many = {"batch_size": 500}
    sites = Site.objects.bulk_create(
        [Site(key=f"S{n}", name=f"Lane {n}", lat=45.0, lon=-93.0, region=region) for n in numbers],
        **many,
    )
    ponds = Pond.objects.bulk_create(
        [Pond(key=f"P{s.key}", name=s.name, site=s) for s in sites], **many
    )
    days = [BEGAN + timedelta(days=random.randrange(500)) for _ in numbers]
    systems = System.objects.bulk_create(
        [
            System(key=f"A{s.key}", name="Cabinet", site=s, installed_on=d, commissioned_on=d)
            for s, d in zip(sites, days, strict=True)
        ],
        **many,
    )
    at = [datetime(d.year, d.month, d.day, 18, tzinfo=UTC) for d in days]
    StateChange.objects.bulk_create(
        [
            StateChange(system=s, at=a, state=SystemState.RUNNING, entered_at=a)
            for s, a in zip(systems, at, strict=True)
        ],
        **many,
    )
    Schedule.objects.bulk_create(
        [
            Schedule(system=s, from_on=s.installed_on, hours_per_day=random.choice([18, 24]))
            for s in systems
        ],
        **many,
    )
    pairs = list(zip(systems, ponds, strict=True))
    compressors = Position.objects.bulk_create(
        [Position(system=s, pond=p, kind="compressor", label="C1") for s, p in pairs], **many
    )
    filters = Position.objects.bulk_create(
        [
            Position(system=c.system, pond=c.pond, kind="filter", label="F1", serves=c)
            for c in compressors
        ],
        **many,
    )
    Position.objects.bulk_create(
        [
            Position(system=s, pond=p, kind="diffuser", label=f"D{n}")
            for s, p in pairs
            for n in (1, 2)
        ],
        **many,
    )
    units = Component.objects.bulk_create(
        [Component(type=kind, serial=f"U{c.pk}") for c in compressors], **many
    )
    Fitting.objects.bulk_create(
        [
            Fitting(component=u, position=c, from_on=c.system.installed_on, entered_at=now)
            for u, c in zip(units, compressors, strict=True)
        ],
        **many,
    )
    tasks = {task.slug: task for task in Task.objects.all()}
    done = [
        (tasks["filter_change"], row, random.randrange(1, 200) + 120 * k)
        for row in filters
        for k in range(4)
    ]
    yearly = [t for t in tasks.values() if t.place_kind == "system"][:4]
    done += [(t, s, random.randrange(1, 300)) for s in systems for t in yearly]
    Work.objects.bulk_create(
        [
            Work(
                **place(thing),
                task=task,
                done_at=now - timedelta(days=ago),
                entered_at=now,
                outcome="done",
                done_by="technician",
            )
            for task, thing, ago in done
        ],
        **many,
    )


def worker(clock_at, results):
    """What one Celery process does: turn after turn, until no part is left."""
    connection.close()
    busy = time.process_time()
    turns = []
    while refreshing.RefreshPart.objects.free().exists() or not turns:
        begun = time.perf_counter()
        refreshing.refresh_in_turn(clock=ticking(clock_at))
        turns.append(time.perf_counter() - begun)
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    results.put((time.process_time() - busy, used, max(turns)))
    connection.close()


def ticking(at):
    """A clock that begins at an instant and goes on."""
    begun = time.monotonic()
    return lambda: at + timedelta(seconds=time.monotonic() - begun)


def round_of(what, at, processes):
    JobBeat.objects.filter(name=due.BEAT).update(beat_at=due.NEVER)
    refreshing.begin_round(now=at)
    connection.close()
    context = get_context("spawn")
    results = context.Queue()
    begun = time.perf_counter()
    crew = [context.Process(target=worker, args=(at, results)) for _ in range(processes)]
    for one in crew:
        one.start()
    found = [results.get() for _ in crew]
    for one in crew:
        one.join()
    wall = time.perf_counter() - begun
    parts = RefreshPart.objects.all()
    looked, written = (sum(parts.values_list(n, flat=True)) for n in ("looked_at", "written"))
    say(
        f"{what:<34} {processes} proc {wall:8.1f} s, own {sum(f[0] for f in found):7.1f} s, "
        f"memory {max(f[1] for f in found):4.0f} MB, longest turn {max(f[2] for f in found):4.1f} "
        f"s; {looked} systems computed, {written} rows written"
    )
    return wall


def plain_update():
    """As many rows changed by one plain statement each thousand sites."""
    begun = time.perf_counter()
    last = Site.objects.order_by("-pk").values_list("pk", flat=True)[0]
    with connection.cursor() as cursor:
        for start in range(0, last + 1, 1000):
            cursor.execute(
                "UPDATE servicedesk_dueitem SET due_on = due_on, because = because || '.', "
                "estimated = NOT estimated WHERE site_id > %s AND site_id <= %s",
                [start, start + 1000],
            )
    wall = time.perf_counter() - begun
    say(f"{'plain UPDATE of every row':<34} 1 proc {wall:8.1f} s")
    return wall


def change_one_in_a_hundred(now):
    """A filter change entered behind the program's back."""
    task = Task.objects.get(slug="filter_change")
    filters = Position.objects.filter(kind="filter").select_related("system")[::100]
    rows = [
        Work(
            **place(p),
            task=task,
            done_at=now - timedelta(hours=2),
            entered_at=now,
            outcome="done",
            done_by="technician",
        )
        for p in filters
    ]
    Work.objects.bulk_create(rows, batch_size=500)


def main():
    systems = int(sys.argv[1])
    counts = [int(word) for word in sys.argv[2:]] or [1, 2]
    now = timezone.now()
    if not System.objects.exists():
        begun = time.perf_counter()
        fill(systems, now)
        say(f"filled in {time.perf_counter() - begun:.0f} s")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    say(f"{System.objects.count()} systems on {connection.vendor}, {settings.BASE_DIR.name}")
    JobBeat.objects.get_or_create(name=due.BEAT, defaults={"beat_at": due.NEVER})
    if not DueItem.objects.exists():
        round_of("first round, every row new", now, counts[-1])
    say(f"{DueItem.objects.count()} due items, {SiteMark.objects.count()} sites marked")
    for processes in counts:
        plain = plain_update()
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("VACUUM ANALYZE servicedesk_dueitem")
        wall = round_of("every row changed", now, processes)
        say(f"{'ratio to the plain UPDATE':<34} {wall / plain:.1f}")
        change_one_in_a_hundred(now + timedelta(days=1))
        round_of("next day, 1 % changed", now + timedelta(days=1), processes)
        round_of("nothing changed", now + timedelta(days=1), processes)


if __name__ == "__main__":
    main()
