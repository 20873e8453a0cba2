"""Readings come in as typed: refused, asked about, kept, corrected.

Conversions are held against NIST SP 811 (2008), appendix B: 1 psi = 6894.757 Pa.
"""

import uuid
from datetime import timedelta

import pytest

from customers.models import Trail
from equipment.actions.readings import (
    ReadingsRefused,
    Typed,
    correct_reading,
    record_readings,
)
from equipment.kinds import Moment, PositionKind, Quantity
from equipment.models import Reading, ReadingSet
from tests import make

pytestmark = pytest.mark.django_db
PSI_PA = 6894.757  # NIST SP 811 (2008), appendix B.8


def record(system, *entries, days=0, **fields):
    start = {"moment": Moment.AS_LEFT, "taken_by": None, "entered_at": make.MORNING}
    start["taken_at"] = make.MORNING + timedelta(days=days)
    return record_readings(system, entries=entries, **start | fields)


def test_a_decimal_comma_is_read_and_what_was_typed_is_kept():
    record(make.system(), Typed(Quantity.PRESSURE, "6,4", "psi"))

    kept = Reading.objects.get()
    assert kept.value == pytest.approx(6.4 * PSI_PA, rel=1e-6)
    assert (kept.typed_value, kept.typed_unit, kept.doubtful) == ("6,4", "psi", False)


def test_a_value_beyond_the_hard_limit_is_refused_in_a_sentence_and_nothing_is_written():
    with pytest.raises(ReadingsRefused) as refused:
        record(
            make.system(),
            Typed(Quantity.CURRENT, "3.9", "A"),
            Typed(Quantity.PRESSURE, "640", "psi"),
        )

    assert list(refused.value.faults) == ["pressure"]
    fault = refused.value.faults["pressure"]
    assert fault.says.startswith("Pressure must lie between 0 and 150 psi")
    assert not fault.question
    assert ReadingSet.objects.count() == 0


def test_a_reading_left_out_needs_a_reason():
    with pytest.raises(ReadingsRefused, match="say why"):
        record(make.system(), Typed(Quantity.PRESSURE))

    record(make.system(), Typed(Quantity.PRESSURE, skipped_because="no gauge"))
    assert Reading.objects.get().skipped_because == "no gauge"


def test_a_number_that_fits_another_unit_is_asked_about_and_never_converted_in_silence():
    system = make.system()
    record(system, Typed(Quantity.PRESSURE, "6.3", "psi"))

    with pytest.raises(ReadingsRefused) as refused:
        record(system, Typed(Quantity.PRESSURE, "43.5", "psi"), days=90)
    fault = refused.value.faults["pressure"]
    assert (fault.question, fault.meant_unit) == (True, "kPa")
    assert fault.says.startswith("Did you mean 43.5\u00a0kPa (6.3\u00a0psi)? Last time it was 6.3")

    record(system, Typed(Quantity.PRESSURE, "43.5", "kPa"), days=90)
    newest = Reading.objects.latest("pk")
    assert newest.value == pytest.approx(43_500)
    assert (newest.typed_value, newest.typed_unit) == ("43.5", "kPa")


def test_an_odd_value_is_taken_once_confirmed():
    system = make.system()
    entry = Typed(Quantity.HEAD_TEMPERATURE, "120", "C")
    with pytest.raises(ReadingsRefused, match="burns"):
        record(system, entry)

    record(system, Typed(Quantity.HEAD_TEMPERATURE, "120", "C", confirmed=True))
    assert not Reading.objects.get().doubtful


def test_an_odd_value_that_nobody_can_be_asked_about_is_kept_as_doubtful():
    record(make.system(), Typed(Quantity.HEAD_TEMPERATURE, "120", "C"), ask=False)

    assert Reading.objects.get().doubtful


def test_an_hour_meter_does_not_run_backwards_nor_faster_than_the_clock():
    system = make.system()
    meter = make.position(PositionKind.METER, system=system)
    record(system, Typed(Quantity.RUN_HOURS, "5000", "h", meter))

    with pytest.raises(ReadingsRefused, match="cannot go back"):
        record(system, Typed(Quantity.RUN_HOURS, "4000", "h", meter), days=10)
    with pytest.raises(ReadingsRefused, match="cannot pass"):
        record(system, Typed(Quantity.RUN_HOURS, "5300", "h", meter), days=10)
    record(system, Typed(Quantity.RUN_HOURS, "5240", "h", meter), days=10)


def test_a_new_hour_meter_starts_its_own_count():
    system = make.system()
    meter = make.position(PositionKind.METER, system=system)
    record(system, Typed(Quantity.RUN_HOURS, "14230", "h", meter))
    new = make.component(type=make.compressor_type(kind=PositionKind.METER, compressor_kind=""))
    make.fit(new, meter, from_on=make.TODAY + timedelta(days=2))

    record(system, Typed(Quantity.RUN_HOURS, "310", "h", meter), days=20)
    assert Reading.objects.count() == 2


def test_the_same_set_sent_twice_is_kept_once():
    key, system = uuid.uuid4(), make.system()
    for _ in range(2):
        record(system, Typed(Quantity.PRESSURE, "6.4", "psi"), key=key)

    assert (ReadingSet.objects.count(), Reading.objects.count()) == (1, 1)


def test_a_correction_is_a_new_row_that_names_the_wrong_one():
    by = make.manager()
    record(make.system(), Typed(Quantity.PRESSURE, "6.4", "psi"))
    wrong = Reading.objects.get()

    right = correct_reading(wrong, text="6.9", unit="psi", by=by, entered_at=make.MORNING)

    assert list(Reading.objects.standing()) == [right]
    assert right.corrects == wrong
    assert Reading.objects.get(pk=wrong.pk).typed_value == "6.4"
    assert Trail.objects.get().before == {"typed": "6.4 psi"}
    with pytest.raises(ReadingsRefused, match="corrected already"):
        correct_reading(wrong, text="7", unit="psi", by=by, entered_at=make.MORNING)


def test_hour_meter_that_turns_over_at_its_last_figure_is_read_on():
    system = make.system()
    meter = make.position(PositionKind.METER, system=system)
    kind = make.compressor_type(
        kind=PositionKind.METER, compressor_kind="", nameplate={"turns_at_h": 9_999.9}
    )
    make.fit(make.component(type=kind), meter)
    record(system, Typed(Quantity.RUN_HOURS, "9900", "h", meter))

    record(system, Typed(Quantity.RUN_HOURS, "60", "h", meter), days=10)

    assert Reading.objects.count() == 2
