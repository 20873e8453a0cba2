"""Due days follow from what happened, not from the order in which it was typed in."""

import uuid
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from equipment.kinds import SystemState
from servicedesk.actions.due import refresh_systems
from servicedesk.actions.states import record_state
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.work import record_work
from servicedesk.kinds import DecisionKind, DoneBy
from servicedesk.models import Decision, DueItem, Task, place_of
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)
FIRST = datetime(2025, 3, 1, 18, tzinfo=UTC)
TASKS = ["filter_change", "annual_inspection", "relief_valve_test", "post_outage_restart"]
SHOWN = ["opens_on", "due_on", "closes_on", "because", "basis", "estimated", "paused", "verify"]
instants = st.integers(0, (NOW - FIRST).days * 24).map(lambda h: FIRST + timedelta(hours=h))
works = st.tuples(st.just("work"), instants, st.sampled_from(TASKS), st.booleans())
states = st.tuples(
    st.just("state"),
    instants,
    st.sampled_from(
        [
            SystemState.RUNNING,
            SystemState.RUNNING_TIMER,
            SystemState.SHUT_WINTER,
            SystemState.FAILED,
        ]
    ),
)
decisions = st.tuples(
    st.just("decision"),
    instants,
    st.sampled_from(TASKS),
    st.sampled_from(DecisionKind),
    st.one_of(st.none(), st.integers(0, 300)),
)


class Entry:
    """One system, into which facts are entered one by one."""

    def __init__(self, manager, records_from):
        self.manager = manager
        system = make.system(name="Cabinet", records_from_on=records_from)
        self.filter = make.filter_position(system)
        self.system = self.filter.system

    def place(self, slug):
        return self.filter if slug == "filter_change" else self.system

    def work(self, at, slug, by_owner):
        record_work(
            uuid=uuid.uuid4(),
            task=Task.objects.get(slug=slug),
            place=place_of(self.place(slug)),
            done_at=at,
            now=NOW,
            done_by=DoneBy.OWNER if by_owner and slug == "filter_change" else DoneBy.TECHNICIAN,
            derive=False,
        )

    def state(self, at, word):
        record_state(
            self.system,
            at=at,
            state=word,
            now=NOW,
            approved_by=self.manager,
            caution_read=True,
            reason="as the manager said",
            derive=False,
        )

    def decision(self, at, slug, kind, days):
        Decision.objects.create(
            **place_of(self.place(slug)),
            task=Task.objects.get(slug=slug),
            kind=kind,
            from_on=at.date(),
            until_on=at.date() + timedelta(days=days) if days is not None else None,
            reason=f"{kind} {days}",
            by=self.manager,
            decided_at=at - timedelta(days=20),
        )

    def rows(self):
        refresh_systems([self.system.pk], now=NOW)
        return {
            (row.task.slug, row.occasion): [getattr(row, name) for name in SHOWN]
            for row in DueItem.objects.filter(system=self.system).select_related("task")
        }


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.lists(st.one_of(works, states, decisions), min_size=2, max_size=8),
    st.one_of(st.none(), instants.map(datetime.date)),
    st.randoms(use_true_random=False),
)
def test_due_items_do_not_depend_on_the_order_of_entry(facts, records_from, chance):
    load_task_defaults()
    manager = make.manager()
    as_it_happened, as_it_came = Entry(manager, records_from), Entry(manager, records_from)

    for kind, *fact in facts:
        getattr(as_it_happened, kind)(*fact)
    for kind, *fact in chance.sample(facts, len(facts)):
        getattr(as_it_came, kind)(*fact)

    assert as_it_happened.rows() == as_it_came.rows()
    assert as_it_came.rows()
