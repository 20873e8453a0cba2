"""Time of the nightly refresh at scale: everything changed, one in a hundred, and nothing.

Run: SERVICEDESK_DATABASE_URL=... python -m tests.benchmarks.bench_refresh SYSTEMS [PROCESSES ...]
The database must be empty and migrated; it is filled and stays so. Never fails on a time. The word
`quiet` behind the numbers leaves out the nights on which everything changed.

A thousand systems are entered with days, timers and works drawn at random, and refreshed; the
others are copies of all these rows, due items among them, under new keys. CPU seconds stand beside
those of the wall, which say little on a busy machine: of these processes, and of their database
sessions where the server runs on this machine too. The measure beside the refresh is one plain
UPDATE, committed, that gives every due item other days, another sentence, another basis and other
marks, and sets all columns that a refresh sets: the same rows, columns, indexes and constraints.
The refresh that follows finds every row changed by it and puts each right.
"""

import os
import resource
import sys
import time
from datetime import UTC, date, datetime, timedelta
from multiprocessing import get_context
from pathlib import Path
from random import Random

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "servicedesk.settings")
django.setup()

# The records can only be read once Django stands.
from django.conf import settings  # noqa: E402
from django.core.management.color import no_style  # noqa: E402
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
from servicedesk.actions import due, due_rows, marks, refreshing  # noqa: E402
from servicedesk.actions.tasks import load_task_defaults  # noqa: E402
from servicedesk.models import DueItem, JobBeat, RefreshPart, SiteMark, Task, Work  # noqa: E402
from servicedesk.models import place_of as place  # noqa: E402
from servicedesk.planning.calendar import site_date  # noqa: E402
from servicedesk.planning.due.watched import WatchedDay  # noqa: E402

BATCH = 1_000  # entered one by one; what lies beyond is copied from the first of them
STRIDE = 100_000  # between the keys of a copy and those of the next
COPIED = [Site, Pond, System, StateChange, Schedule, Position, Component, Fitting, Work, DueItem]
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
    with transaction.atomic():
        fill_batch(range(min(systems, BATCH)), region, kind, Random(3), now)
    due.refresh_all(now=now)
    for number in range(1, systems // BATCH):
        with transaction.atomic(), connection.cursor() as cursor:
            for model in COPIED:
                cursor.execute(copying(model, number))
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), COPIED):
            cursor.execute(statement)
    vacuumed("")
    mark_all(now)


def mark_all(now):
    """The marks that a night leaves, and how long each holds."""
    ids = list(Site.objects.order_by("pk").values_list("pk", flat=True))
    first = [site for site in ids if site < STRIDE]
    until = {site: day.until for site, day in due.refresh_watched(first, now=now)[1].items()}
    for start in range(0, len(ids), BATCH):
        part = ids[start : start + BATCH]
        days = {site: WatchedDay(site_date(now, "America/Chicago")) for site in part}
        for site, day in days.items():
            day.until = until[site % STRIDE]
        seen = marks.look_at(part, now=now, between=(part[0], part[-1]))
        marks.mark(days, seen, now=now)


def copying(model, number):
    """Statement that copies the rows of the first batch, with keys of their own."""
    fields = model._meta.concrete_fields
    names = ", ".join(f'"{field.column}"' for field in fields)
    values = ", ".join(copied(field, number) for field in fields)
    return (
        f"INSERT INTO {model._meta.db_table} ({names}) SELECT {values} "
        f"FROM {model._meta.db_table} WHERE id < {STRIDE}"
    )


def copied(field, number):
    name, shift = f'"{field.column}"', number * STRIDE
    if field.primary_key or field.related_model in COPIED:
        return f"{name} + {shift}"
    if field.name == "place_key":
        kinds = [("component", "unit"), *((k, k) for k in ("position", "system", "pond", "site"))]
        cases = [
            f"WHEN {column}_id IS NOT NULL THEN '{kind}:' || ({column}_id + {shift})"
            for column, kind in kinds
        ]
        return f"CASE {' '.join(cases)} END"
    if field.name == "uuid":
        postgres = connection.vendor == "postgresql"
        return "gen_random_uuid()" if postgres else "lower(hex(randomblob(16)))"
    return f"{name} || '-{number}'" if field.name in {"key", "serial"} else name


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


def session_s():
    """CPU seconds of this process's database session so far; 0 where that cannot be told."""
    if connection.vendor != "postgresql":
        return 0.0
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        stat = Path(f"/proc/{cursor.fetchone()[0]}/stat")
    if not stat.exists():
        return 0.0
    user, system = stat.read_text().rpartition(")")[2].split()[11:13]
    return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")


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
    results.put((time.process_time() - busy, used, max(turns), session_s()))
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
    own, served = (sum(f[n] for f in found) for n in (0, 3))
    parts = RefreshPart.objects.all()
    looked, written = (sum(parts.values_list(n, flat=True)) for n in ("looked_at", "written"))
    say(
        f"{what:<34} {processes} proc {wall:8.1f} s, CPU {own:.1f} s, sessions {served:.1f} s, "
        f"memory {max(f[1] for f in found):4.0f} MB, longest turn {max(f[2] for f in found):4.1f} "
        f"s; {looked} systems computed, {written} rows written"
    )
    return wall, own + served


def plain_update():
    """Every row changed by one statement, in all columns that a refresh writes; (wall, CPU) [s]."""
    if connection.vendor == "postgresql":
        days = "{0} = {0} + 1"
        basis = 'basis = basis || \'{"since": "2001-01-01"}\''
    else:
        days = "{0} = date({0}, '+1 day')"
        basis = "basis = json_set(basis, '$.since', '2001-01-01')"
    sets = [days.format(name) for name in ("opens_on", "due_on", "closes_on")]
    sets += [basis, "because = because || '.'"]
    sets += [f"{name} = NOT {name}" for name in ("estimated", "paused", "verify")]
    sets += [f"{name} = {name}" for name in due_rows.WHERE]
    begun, busy, before = time.perf_counter(), time.process_time(), session_s()
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE servicedesk_dueitem SET {', '.join(sets)}")
        rows = cursor.rowcount
    wall = time.perf_counter() - begun
    used = time.process_time() - busy + session_s() - before
    say(
        f"{'one plain UPDATE of every row':<34} 1 proc {wall:8.1f} s, CPU {used:.1f} s; {rows} rows"
    )
    return wall, used


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


def vacuumed(table="servicedesk_dueitem"):
    """As autovacuum would have done by the night."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"VACUUM ANALYZE {table}")


def main():
    systems = int(sys.argv[1])
    counts = [int(word) for word in sys.argv[2:] if word.isdigit()] or [1, 2]
    now = timezone.now()
    if not System.objects.exists():
        begun = time.perf_counter()
        fill(systems, now)
        say(f"filled in {time.perf_counter() - begun:.0f} s")
    say(f"{System.objects.count()} systems on {connection.vendor}, {settings.BASE_DIR.name}")
    JobBeat.objects.get_or_create(name=due.BEAT, defaults={"beat_at": due.NEVER})
    say(f"{DueItem.objects.count()} due items, {SiteMark.objects.count()} sites marked")
    for processes in counts:
        if "quiet" not in sys.argv:
            plain = plain_update()
            vacuumed()
            changed = round_of("every row changed", now, processes)
            ratios = ", ".join(f"{a / b:.1f}" for a, b in zip(changed, plain, strict=True))
            say(f"{'ratio to it: wall, CPU':<34} {processes} proc {ratios}")
        change_one_in_a_hundred(now + timedelta(days=1))
        round_of("next day, 1 % changed", now + timedelta(days=1), processes)
        round_of("nothing changed", now + timedelta(days=1), processes)


if __name__ == "__main__":
    main()
