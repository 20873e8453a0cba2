"""How long it takes to judge many systems with two years of readings, in one process.

    python -m tests.benchmarks.bench_assess [SYSTEMS] [SETS]

Systems with three lines each, a gauge, a baseline and a set of readings a month, on a database of
its own in a temporary folder; one in ten has fouling plates. Prints seconds of the wall and of the
processor, which tell more on a busy machine; never fails on a time.
"""

import os
import sys
import tempfile
import time
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from random import Random

import django

FOLDER = tempfile.TemporaryDirectory()
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "servicedesk.settings")
os.environ["SERVICEDESK_DATA"] = FOLDER.name
django.setup()

# The records can only be read once Django stands.
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402

from customers.models import Pond, Site  # noqa: E402
from equipment.actions.rigs import setups_of  # noqa: E402
from equipment.condition.expected import expected_pressure  # noqa: E402
from equipment.kinds import CompressorKind, Moment, PositionKind, Quantity, SystemState  # noqa: E402
from equipment.models import (  # noqa: E402
    Assessment,
    Baseline,
    Component,
    ComponentType,
    Configuration,
    ConfigurationLine,
    Fitting,
    Gauge,
    Position,
    Reading,
    ReadingSet,
    Schedule,
    StateChange,
    System,
)
from servicedesk.actions import assessing  # noqa: E402

BEGAN, NOW = date(2024, 6, 1), datetime(2026, 6, 2, 15, tzinfo=UTC)
START = datetime(2024, 6, 1, 15, tzinfo=UTC)
PSI_PA = 6894.757
FOULING_PA = 9_000  # over the two years, in one system of ten


def main(systems, sets):
    call_command("migrate", verbosity=0)
    draw = Random("readings of two years")
    began = time.perf_counter()
    fill(draw, systems, sets)
    say(f"{systems} systems, {Reading.objects.count()} readings, entered in "
          f"{time.perf_counter() - began:.0f} s")  # fmt: skip
    wall, cpu, said = time.perf_counter(), time.process_time(), 0
    ids = list(System.objects.order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(ids), assessing.PIECE):
        said += len(assessing.assess(ids[start : start + assessing.PIECE], now=NOW, mass={}))
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    words = Counter(basis["word"] for basis in Assessment.objects.values_list("basis", flat=True))
    say(f"judged and kept in {wall:.1f} s, {cpu:.1f} s of the processor; {said} said something")
    say(f"what they say: {dict(words)}")
    again = time.process_time()
    said = len(assessing.assess(ids[: assessing.PIECE], now=NOW, mass={}))
    say(f"{assessing.PIECE} judged again: {time.process_time() - again:.2f} s, {said} written")


def say(text):
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def fill(draw, number, sets):
    systems = enter_systems(number)
    setups = setups_of([system.pk for system in systems[:1]])
    rig = next(iter(setups[systems[0].pk].rigs(NOW.date()).values()))
    normal_pa = expected_pressure(rig).expected
    for first in range(0, number, 250):
        enter_readings(draw, systems[first : first + 250], sets, normal_pa)


def enter_systems(number):
    site = Site.objects.create(key="S", name="Bench", lat=45, lon=-93, elevation_m=300)
    pond = Pond.objects.create(key="P", site=site, name="Bench Pond")
    kind = ComponentType.objects.create(
        kind=PositionKind.COMPRESSOR, maker="Brookmade", model="P-72", pressure_max_pa=206_000,
        compressor_kind=CompressorKind.PISTON, free_air_l_min=125, current_a=5.2,
    )  # fmt: skip
    make = System.objects.bulk_create
    systems = make(
        System(key=f"A{n}", site=site, name=f"A{n}", installed_on=BEGAN) for n in range(number)
    )
    StateChange.objects.bulk_create(
        StateChange(system=one, at=START, state=SystemState.RUNNING, entered_at=START)
        for one in systems
    )
    Schedule.objects.bulk_create(Schedule(system=one, from_on=BEGAN) for one in systems)
    Gauge.objects.bulk_create(
        Gauge(system=one, quantity=Quantity.PRESSURE, label="0 to 15 psi", from_on=BEGAN,
              full_scale=15 * PSI_PA, error_percent=2) for one in systems
    )  # fmt: skip
    places = Position.objects.bulk_create(
        Position(system=one, kind=PositionKind.COMPRESSOR, label="compressor 1") for one in systems
    )
    units = Component.objects.bulk_create(
        Component(type=kind, serial=str(n)) for n in range(number)
    )
    Fitting.objects.bulk_create(
        Fitting(component=unit, position=place, from_on=BEGAN, entered_at=START)
        for unit, place in zip(units, places, strict=True)
    )
    plans = Configuration.objects.bulk_create(
        Configuration(system=one, from_on=BEGAN, name="summer", entered_at=START) for one in systems
    )
    plates = Position.objects.bulk_create(
        Position(system=one, pond=pond, kind=PositionKind.DIFFUSER, label=f"D{n}")
        for one in systems
        for n in (1, 2, 3)
    )
    ConfigurationLine.objects.bulk_create(
        ConfigurationLine(
            configuration=plans[at // 3], position=plate, depth_m=3.0, line_length_m=40,
            bore_m=0.0127,
        )
        for at, plate in enumerate(plates)
    )  # fmt: skip
    return systems


def enter_readings(draw, systems, number, normal_pa):
    """A set a month; the second one is the confirmed baseline."""
    gauges = {gauge.system_id: gauge for gauge in Gauge.objects.filter(system__in=systems)}
    plans = {plan.system_id: plan for plan in Configuration.objects.filter(system__in=systems)}
    sets = ReadingSet.objects.bulk_create(
        ReadingSet(
            system=one, moment=Moment.AS_FOUND, configuration=plans[one.pk], entered_at=NOW,
            taken_at=START + timedelta(days=round(730 * n / number) + draw.randrange(8)),
        )
        for one in systems
        for n in range(number)
    )  # fmt: skip
    rows = [
        Reading(set=one, quantity=quantity, value=value,
                gauge=gauges[one.system_id] if quantity == Quantity.PRESSURE else None)
        for one in sets
        for quantity, value in values(draw, one, normal_pa).items()
    ]  # fmt: skip
    Reading.objects.bulk_create(rows, batch_size=2000)
    wanted = {one.pk for one in sets[1::number]}
    Baseline.objects.bulk_create(
        Baseline(
            configuration_id=row.set.configuration_id, quantity=row.quantity, value=row.value,
            gauge=row.gauge, from_set=row.set, confirmed_at=row.set.taken_at,
        )
        for row in rows
        if row.set_id in wanted
    )  # fmt: skip


def values(draw, taken, normal_pa):
    grown = (taken.taken_at - START).days / 730 * FOULING_PA * (taken.system_id % 10 == 0)
    outside = draw.gauss(12, 8)
    return {
        Quantity.PRESSURE: normal_pa + grown + draw.gauss(0, 400),
        Quantity.FLOW: draw.gauss(110, 2),
        Quantity.CURRENT: draw.gauss(3.6, 0.05),
        Quantity.VOLTAGE: draw.gauss(117, 1.5),
        Quantity.OUTSIDE_AIR: outside,
        Quantity.CABINET_AIR: outside + draw.gauss(9, 1),
        Quantity.LEVEL: draw.gauss(0, 0.03),
    }


if __name__ == "__main__":
    main(*(int(word) for word in (sys.argv[1:] + ["5000", "24"][len(sys.argv[1:]) :])))
    connection.close()
    FOLDER.cleanup()
