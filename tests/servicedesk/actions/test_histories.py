"""Random histories against a count by hand, and a test of that test: seeded faults are found."""

from datetime import UTC

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import RULE_MARKER, run_state_machine_as_test

from equipment.kinds import RUNNING, SystemState
from servicedesk.actions import due, facts, rules
from servicedesk.kinds import Outcome
from servicedesk.models.visits import WorkQuerySet
from servicedesk.planning.calendar import add_months
from servicedesk.planning.due import clocks
from tests.servicedesk.actions.histories import Histories

pytestmark = [pytest.mark.long, pytest.mark.django_db]
QUICK = {"deadline": None, "suppress_health_check": list(HealthCheck), "database": None}
THOROUGH = settings(max_examples=12, stateful_step_count=12, phases=[Phase.generate], **QUICK)
SEARCH = settings(
    max_examples=60, stateful_step_count=8, derandomize=True, phases=[Phase.generate], **QUICK
)


def step_by_step(day, every, unit):
    for _ in range(int(every)):
        day = add_months(day, 1)
    return day


def forgetting_exchanges(fittings, reads):
    return list(facts._between(reads))


FAULTS = {
    "a paused clock runs": (rules, "RUNNING", RUNNING | {SystemState.SHUT_WINTER}),
    "work that was not accepted resets a clock": (
        WorkQuerySet,
        "counting",
        lambda self: self.filter(outcome=Outcome.DONE),
    ),
    "months are clamped from the last date": (clocks, "_later", step_by_step),
    "an exchange of meters is forgotten": (facts, "_counted", forgetting_exchanges),
    "days are those of UTC": (facts, "site_date", lambda at, zone: at.astimezone(UTC).date()),
    "wear stays behind at the old pond": (
        facts.SystemFacts,
        "seats_of",
        lambda self, unit: [seat for seat in self.seats[unit] if seat.to_on is None],
    ),
    "due days of a unit that moved wait for the night": (due, "_where_units_went", lambda ids: ()),
}
# What a fault is about: histories of nothing else show it within a few examples.
ABOUT = {
    "a paused clock runs": {"run_or_stop"},
    "work that was not accepted resets a clock": {"visit"},
    "months are clamped from the last date": {"visit"},
    "an exchange of meters is forgotten": {"read_the_meter", "change_the_meter"},
    "days are those of UTC": {"run_or_stop", "visit"},
    "wear stays behind at the old pond": {"swap_units"},
    "due days of a unit that moved wait for the night": {"swap_units", "visit"},
}


def histories_of(names):
    """The same machine with these rules alone."""
    rules_of = {name for name in vars(Histories) if hasattr(vars(Histories)[name], RULE_MARKER)}
    assert names <= rules_of
    return type("HistoriesOfSome", (Histories,), dict.fromkeys(rules_of - names))


def test_due_days_of_random_histories_are_those_counted_by_hand():
    run_state_machine_as_test(Histories, settings=THOROUGH)


@pytest.mark.parametrize("fault", FAULTS)
def test_seeded_fault_is_found(fault, monkeypatch):
    monkeypatch.setattr(*FAULTS[fault])

    with pytest.raises(AssertionError):
        run_state_machine_as_test(histories_of(ABOUT[fault]), settings=SEARCH)
