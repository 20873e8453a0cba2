"""Plates moved, ponds rebuilt: a new configuration from a day on, the old one left as it was."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from equipment.actions.configurations import (
    FIELDS,
    ConfigurationRefused,
    begin_configuration,
    configuration_on,
    faults_of_line,
    keep_line,
)
from equipment.kinds import PositionKind, PositionUse
from equipment.models import Baseline, Configuration, ConfigurationLine, Position, ReadingSet
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 6, 20, 18, tzinfo=UTC)
MARCH, MAY, JUNE = date(2026, 3, 1), date(2026, 5, 4), date(2026, 6, 10)
LINE = {"line_length_m": 60.0, "bore_m": 0.0127, "membranes": 2, "check_valve_at": "diffuser"}


def two_plates():
    """A pond 4 m deep with plates at 3.5 m and 3 m since March."""
    system = make.system()
    pond = make.pond(site=system.site, depth_max_m=4.0)
    summer = Configuration.objects.create(
        system=system, from_on=MARCH, name="summer", entered_at=NOW
    )
    plates = [
        make.position(PositionKind.DIFFUSER, system=system, pond=pond, label=f"D{n}")
        for n in (1, 2)
    ]
    for plate, depth in zip(plates, (3.5, 3.0), strict=True):
        ConfigurationLine.objects.create(
            configuration=summer, position=plate, depth_m=depth, **LINE
        )
    return system, summer, plates


def begin(system, changes, **fields):
    start = {"from_on": MAY, "name": "winter shallow", "because": "plates raised", "by": None}
    return begin_configuration(system, changes=changes, now=NOW, **start | fields)


def lines_of(configuration):
    rows = ConfigurationLine.objects.filter(configuration=configuration).order_by("position")
    return list(rows.values(*FIELDS))


def test_what_did_not_change_is_carried_over_and_the_old_configuration_stays():
    system, summer, (deep, _) = two_plates()
    before = lines_of(summer)

    made = begin(system, {deep.pk: {"depth_m": 1.5, "valve_open_percent": 60.0}})

    assert lines_of(made) == [
        before[0] | {"depth_m": 1.5, "valve_open_percent": 60.0},
        before[1],
    ]
    assert lines_of(summer) == before
    assert configuration_on(system, date(2026, 5, 3)) == summer
    assert configuration_on(system, MAY) == made
    assert (made.because, made.settles_from_on) == ("plates raised", MAY)


def test_readings_taken_since_the_change_go_over_to_the_new_configuration():
    system, summer, (deep, _) = two_plates()
    old, new = (
        ReadingSet.objects.create(system=system, configuration=summer, taken_at=at, entered_at=NOW)
        for at in (datetime(2026, 5, 3, 15, tzinfo=UTC), datetime(2026, 5, 9, 15, tzinfo=UTC))
    )

    made = begin(system, {deep.pk: {"depth_m": 1.5}})

    old.refresh_from_db()
    new.refresh_from_db()
    assert (old.configuration, new.configuration) == (summer, made)


def test_change_told_late_takes_no_readings_from_the_configuration_after_it():
    system, _, (deep, _) = two_plates()
    later = begin(system, {deep.pk: {"depth_m": 2.0}}, from_on=JUNE)
    taken = ReadingSet.objects.create(
        system=system,
        configuration=later,
        taken_at=datetime(2026, 6, 15, 15, tzinfo=UTC),
        entered_at=NOW,
    )

    begin(system, {deep.pk: {"depth_m": 1.5}})

    taken.refresh_from_db()
    assert taken.configuration == later


def test_pond_that_was_rebuilt_deeper_gets_its_new_depths_and_no_alarm_over_the_old():
    system, summer, (deep, shallow) = two_plates()
    pond = deep.pond
    pond.depth_max_m = 5.0
    pond.save()

    made = begin(
        system, {deep.pk: {"depth_m": 4.8}, shallow.pk: {"depth_m": 4.5}}, because="pond dredged"
    )

    assert [row["depth_m"] for row in lines_of(made)] == [4.8, 4.5]
    assert [row["depth_m"] for row in lines_of(summer)] == [3.5, 3.0]


def test_plate_without_a_line_until_now_joins_with_its_own():
    system, _, (deep, _) = two_plates()
    third = make.position(PositionKind.DIFFUSER, system=system, pond=deep.pond, label="D3")

    made = begin(system, {third.pk: {"depth_m": 2.0, **LINE}}, because="third plate laid")

    assert [row["depth_m"] for row in lines_of(made)] == [3.5, 3.0, 2.0]


def test_plate_that_was_taken_out_has_no_line_any_more():
    system, _, (deep, shallow) = two_plates()
    Position.objects.filter(pk=shallow.pk).update(use=PositionUse.REMOVED)

    made = begin(system, {deep.pk: {"valve_open_percent": 100.0}}, because="second plate out")

    assert len(lines_of(made)) == 1


@pytest.mark.parametrize(
    ("change", "fields", "says"),
    [
        ({"depth_m": 4.7}, {}, r"13\.1\sft \(4\.00\sm\) at its deepest"),
        ({"depth_m": 0.1}, {}, r"between 0\.7 and 196\.9 ft \(0\.2 and 60\.0 m\)"),
        ({"line_length_m": 2001.0}, {}, "length of the line must lie between"),
        ({"bore_m": 0.5}, {}, r"between 0\.12 and 3\.15 in \(3 and 80 mm\)"),
        ({"valve_open_percent": 101.0}, {}, "opening must lie between 0 and 100 %"),
        ({"membranes": 25}, {}, "between 1 and 24"),
        ({}, {}, "Nothing differs"),
        ({"depth_m": 1.5}, {"because": " "}, "Say what was changed"),
        ({"depth_m": 1.5}, {"from_on": date(2026, 6, 21)}, "lies ahead"),
        ({"depth_m": 1.5}, {"from_on": date(2024, 12, 31)}, "installed on 1 January 2025"),
        ({"depth_m": 1.5}, {"from_on": MARCH}, "begins on 1 March 2026 already"),
    ],
)
def test_nonsense_is_refused_with_a_sentence_and_nothing_is_written(change, fields, says):
    system, _, (deep, _) = two_plates()

    with pytest.raises(ConfigurationRefused, match=says):
        begin(system, {deep.pk: change}, **fields)

    assert Configuration.objects.count() == 1


def test_configuration_without_any_line_in_use_is_refused():
    system, _, plates = two_plates()

    with pytest.raises(ConfigurationRefused, match="nowhere to go"):
        begin(system, {plate.pk: {"in_use": False} for plate in plates})


def test_plate_of_another_system_is_refused():
    system, _, _ = two_plates()
    stranger = make.position(PositionKind.DIFFUSER)

    with pytest.raises(ConfigurationRefused, match="no plate in use"):
        begin(system, {stranger.pk: {"depth_m": 2.0}})


def test_change_dated_before_the_baseline_of_the_old_depths_is_refused():
    system, summer, (deep, _) = two_plates()
    taken = ReadingSet.objects.create(
        system=system,
        configuration=summer,
        taken_at=datetime(2026, 5, 20, 15, tzinfo=UTC),
        entered_at=NOW,
    )
    Baseline.objects.create(
        configuration=summer, quantity="pressure", value=44_000, from_set=taken, confirmed_at=NOW
    )

    with pytest.raises(ConfigurationRefused, match="One of the two days is wrong"):
        begin(system, {deep.pk: {"depth_m": 1.5}})


def test_line_that_is_built_up_is_changed_in_place():
    _, summer, (deep, _) = two_plates()

    keep_line(summer, deep, {"depth_m": 3.2})

    assert [row["depth_m"] for row in lines_of(summer)] == [3.2, 3.0]


class TestAnyDepth(TestCase):
    @settings(max_examples=60, deadline=None)
    @given(depth=st.floats(0.2, 60), deepest=st.floats(0.3, 60))
    def test_depth_is_taken_exactly_up_to_two_feet_below_the_pond(self, depth, deepest):
        pond = make.Pond(name="Mill Pond", depth_max_m=deepest)

        refused = bool(faults_of_line({"depth_m": depth}, pond))

        assert refused == (depth > deepest + 0.6)
