"""What holds for every history: checked against a count day by day, and in every order."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.kinds import RUNNING, SystemState
from servicedesk.kinds import Anchor, Clock, DecisionKind
from servicedesk.planning.due.engine import due
from servicedesk.planning.due.facts import Done, Place, RhythmRule, TaskRule, Verdict
from servicedesk.planning.due.timeline import MeterSpan, ScheduleFrom, StateFrom, timeline

FIRST, TODAY = date(2024, 1, 1), date(2026, 6, 1)
FILTER = TaskRule(
    "filter_change",
    "Filter change",
    (RhythmRule(Clock.RUN, 2900, "h"), RhythmRule(Clock.OP, 120, "d")),
    21,
    14,
)
YEARLY = TaskRule(
    "inspection",
    "Inspection",
    (RhythmRule(Clock.CAL, 12, "month"),),
    30,
    30,
    anchor=Anchor.FIXED,
)
days = st.dates(FIRST, TODAY)
states = st.builds(StateFrom, days, st.sampled_from(SystemState))
schedules = st.builds(ScheduleFrom, days, st.sampled_from([0.0, 4.0, 8.0, 24.0]))
works = st.builds(
    lambda on, hour: Done(
        datetime.combine(on, time(hour), UTC), on, f"{on}{hour}", "Filter change"
    ),
    days,
    st.integers(0, 23),
)
verdicts = st.builds(
    lambda kind, on, more, at: Verdict(
        kind, datetime.combine(at, time(9), UTC), on, on + timedelta(days=more), "Priya", f"{more}"
    ),
    st.sampled_from(DecisionKind),
    days,
    st.integers(0, 200),
    days,
)
histories = st.lists(states, max_size=8, unique_by=lambda s: s.on)


def line(history, plan=()):
    return timeline([StateFrom(FIRST, SystemState.RUNNING), *history], plan)


def by_hand(history, plan):
    """(days run, hours run) on each day, counted one by one."""
    state, hours_per_day, ran, hours, found = SystemState.RUNNING, 24.0, 0, 0.0, {}
    for n in range((TODAY - FIRST).days + 400):
        day = FIRST + timedelta(days=n)
        found[day] = (ran, hours)
        state = next((s.state for s in history if s.on == day), state)
        hours_per_day = next((s.hours_per_day for s in plan if s.on == day), hours_per_day)
        ran += state in RUNNING
        hours += hours_per_day if state in RUNNING else 0
    return found


@given(histories, st.lists(schedules, max_size=4, unique_by=lambda s: s.on), days)
def test_sums_are_those_of_a_count_day_by_day(history, plan, day):
    found, counted = line(history, plan), by_hand(history, plan)

    assert (found.days_run(day), found.hours_run(day)) == pytest.approx(counted[day])


@given(histories, st.lists(schedules, max_size=4, unique_by=lambda s: s.on), st.integers(1, 900))
def test_count_is_reached_on_the_first_day_that_has_it(history, plan, count):
    found, counted = line(history, plan), by_hand(history, plan)

    reached = found.when_days_run(count)
    hours_reached = found.when_hours_run(count * 24)

    last = max(counted)
    first = next((day for day, (ran, _) in counted.items() if ran >= count), None)
    assert reached == first or (first is None and (reached is None or reached > last))
    first = next((day for day, (_, h) in counted.items() if h >= count * 24), None)
    assert hours_reached == first or (
        first is None and (hours_reached is None or hours_reached > last)
    )


@given(
    histories,
    st.lists(works, max_size=5, unique_by=lambda d: d.key),
    st.lists(verdicts, max_size=4, unique_by=lambda v: (v.at, v.reason, v.kind, v.about_on)),
    st.randoms(use_true_random=False),
    st.sampled_from([FILTER, YEARLY]),
)
def test_due_day_does_not_depend_on_the_order_in_which_facts_came_in(
    history, done, decided, chance, rule
):
    def entered(states_, done_, decided_):
        place = Place(line(states_), FIRST, done=tuple(done_), verdicts=tuple(decided_))
        return due(rule, place, TODAY)

    shuffled = [chance.sample(facts, len(facts)) for facts in (history, done, decided)]

    assert entered(history, done, decided) == entered(*shuffled)


@given(histories, st.lists(works, max_size=4), works)
def test_one_more_work_never_makes_a_task_due_sooner(history, done, one_more):
    before = due(FILTER, Place(line(history), FIRST, done=tuple(done)), TODAY)
    after = due(FILTER, Place(line(history), FIRST, done=(*done, one_more)), TODAY)

    assert before.on is None or after.on is None or after.on >= before.on


@given(histories, st.lists(works, max_size=3), days, st.integers(1, 200))
def test_one_more_pause_never_makes_a_task_due_sooner(history, done, start, length):
    end = start + timedelta(days=length)
    outside = [s for s in history if not start <= s.on <= end]
    before = [StateFrom(FIRST, SystemState.RUNNING), *outside]
    known = [s for s in reversed(before) if s.on <= end]  # of one day the last given wins
    state_then = max(known, key=lambda s: s.on).state
    pause = [StateFrom(start, SystemState.SHUT_OTHER), StateFrom(end, state_then)]

    going = due(FILTER, Place(line(outside), FIRST, done=tuple(done)), TODAY)
    paused = due(FILTER, Place(line([*outside, *pause]), FIRST, done=tuple(done)), TODAY)

    assert going.on is None or paused.on is None or paused.on >= going.on


@given(histories, st.lists(works, max_size=4), st.lists(verdicts, max_size=3))
def test_due_day_lies_in_its_window_and_has_a_reason(history, done, decided):
    for rule in (FILTER, YEARLY):
        found = due(
            rule, Place(line(history), FIRST, done=tuple(done), verdicts=tuple(decided)), TODAY
        )

        assert found.because
        assert found.paused == (found.on is None)
        assert found.on is None or found.opens_on <= found.on <= found.closes_on


@given(
    st.lists(st.tuples(st.integers(1, 90), st.floats(0, 24)), min_size=1, max_size=6),
    histories,
)
def test_metered_hours_are_those_of_the_meter(stretches, history):
    spans, start = [], FIRST
    for length, per_day in stretches:
        end = start + timedelta(days=length)
        spans.append(MeterSpan(start, end, length * per_day))
        start = end

    found = timeline([StateFrom(FIRST, SystemState.RUNNING), *history], (), spans)

    assert found.hours_run(start) == pytest.approx(sum(s.hours for s in spans))


def test_meter_that_went_backwards_or_too_fast_is_not_believed():
    day, month = timedelta(days=1), timedelta(days=30)
    spans = [MeterSpan(FIRST, FIRST + month, -5.0), MeterSpan(FIRST, FIRST + day, 900.0)]

    found = timeline([StateFrom(FIRST, SystemState.RUNNING)], (), spans)

    assert found.hours_run(FIRST + month) == 720
    assert found.metered_until is None
