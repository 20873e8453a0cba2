"""The coming winter of a system: as the last one, or as its region's windows say."""

from datetime import date

import pytest

from equipment.kinds import SystemState, WinterMode
from servicedesk.planning.due.timeline import StateFrom, timeline
from servicedesk.planning.seasons import Window
from servicedesk.planning.whatif.coming import coming_states, until_then

RUNNING, SHUT = SystemState.RUNNING, SystemState.SHUT_WINTER
WINTERS = [Window(date(2026, 10, 31), date(2026, 11, 13), "ice")]
SPRINGS = [Window(date(2027, 4, 5), date(2027, 5, 20), "ice-out")]


def coming(*history, today=date(2026, 6, 1), mode=WinterMode.SHUT_DOWN):
    rows = [StateFrom(date.fromisoformat(on), state) for on, state in history]
    found = coming_states(rows, today, date(2027, 6, 1), mode, WINTERS, SPRINGS)
    return [(row.on.isoformat(), row.state) for row in found]


def test_last_winter_comes_again_on_its_days():
    assert coming(("2025-01-01", RUNNING), ("2025-11-09", SHUT), ("2026-04-12", RUNNING)) == [
        ("2026-11-09", SHUT),
        ("2027-04-12", RUNNING),
    ]


def test_failure_of_last_summer_does_not_come_again():
    assert coming(
        ("2025-01-01", RUNNING),
        ("2025-08-01", SystemState.FAILED),
        ("2025-08-05", RUNNING),
        ("2025-11-09", SHUT),
        ("2026-04-12", SystemState.RAMPING),
        ("2026-04-20", RUNNING),
    ) == [("2026-11-09", SHUT), ("2027-04-12", RUNNING)]


def test_system_without_a_winter_on_record_keeps_its_regions_windows():
    assert coming(("2026-05-01", RUNNING)) == [("2026-11-13", SHUT), ("2027-04-05", RUNNING)]


def test_system_in_its_first_winter_comes_out_when_ice_leaves():
    assert coming(("2026-05-01", RUNNING), ("2026-11-09", SHUT), today=date(2026, 12, 1)) == [
        ("2027-04-05", RUNNING)
    ]


def test_change_that_is_late_this_year_comes_in_a_week():
    history = ("2025-01-01", RUNNING), ("2025-11-09", SHUT), ("2026-04-12", RUNNING)

    assert coming(*history, today=date(2026, 11, 20))[0] == ("2026-11-27", SHUT)


@pytest.mark.parametrize("state", [SystemState.FAILED, SystemState.SHUT_OTHER])
def test_system_out_of_order_stays_so(state):
    assert coming(("2025-01-01", RUNNING), ("2026-05-01", state)) == []


def test_system_whose_winter_nobody_decided_runs_on():
    assert coming(("2025-01-01", RUNNING), mode=WinterMode.UNDECIDED) == []


def test_timeline_of_a_day_knows_nothing_of_later_changes():
    history = [StateFrom(date(2026, 1, 1), RUNNING), StateFrom(date(2026, 11, 9), SHUT)]
    line = until_then(timeline(history), date(2026, 6, 1))

    assert line == timeline(history[:1])
    assert until_then(timeline(history), date(2026, 11, 9)) == timeline(history)
