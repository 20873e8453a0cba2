"""A system goes into service once everything is there, by one action with a name and an instant."""

import re
from datetime import date, datetime, timedelta

import pytest

from customers.models import Trail
from equipment.actions.baselines import confirm_baseline
from equipment.kinds import RUNNING, SystemState, WinterMode
from equipment.models import (
    Baseline,
    Configuration,
    ConfigurationLine,
    Fitting,
    Gauge,
    Reading,
    ReadingSet,
    Schedule,
    StateChange,
    System,
)
from servicedesk.actions.commissioning.missing import missing_of
from servicedesk.actions.commissioning.said import Said, StepRefused
from servicedesk.actions.commissioning.service import put_in_service
from servicedesk.actions.due import refresh_all
from servicedesk.actions.states import StateRefused, record_state, strike_state
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.kinds import Point, Step
from servicedesk.models import Acknowledged, Commissioning, DoubtConfirmed, DueItem, Ticket
from tests import make
from tests.servicedesk.actions.commissioning import handing_over as hand
from tests.servicedesk.actions.commissioning.handing_over import NOW

pytestmark = pytest.mark.django_db
AT = NOW - timedelta(minutes=10)


@pytest.fixture
def system():
    load_task_defaults()
    return hand.planned()


def wanted(system):
    return [(gap.step, gap.words) for gap in missing_of(hand.read(system))]


def serve(system, **fields):
    record = Commissioning.objects.open().get(system=system)
    start = {"at": AT, "state": SystemState.RUNNING, "said": Said(), "by": make.user(), "now": NOW}
    return put_in_service(record, **start | fields)


def test_nothing_is_missing_after_every_step_and_much_before(system):
    before = wanted(system)

    hand.complete(system)

    assert {step for step, _ in before} == set(Step)
    assert wanted(system) == []


@pytest.mark.parametrize("step", hand.STEPS, ids=lambda step: step.__name__)
def test_step_that_is_not_done_is_missed_by_name(system, step):
    for earlier in hand.STEPS[: hand.STEPS.index(step)]:
        earlier(system, by=make.user(), now=NOW)

    missed = [gap.step for gap in missing_of(hand.read(system))]

    assert missed[0] == Step(step.__name__)


def test_system_runs_in_service_from_that_instant_by_that_name(system):
    hand.complete(system)
    dario = make.user()

    serve(system, by=dario)

    system.refresh_from_db()
    record = Commissioning.objects.get()
    assert (record.in_service_at, record.in_service_by) == (AT, dario)
    assert system.commissioned_on == date(2026, 6, 1)
    change = StateChange.objects.standing().latest("at")
    assert (change.state, change.at, change.by) == (SystemState.RUNNING, AT, dario)


def test_facts_stand_in_their_own_records(system):
    hand.complete(system)

    line = ConfigurationLine.objects.get()
    assert (line.depth_m, line.line_length_m, line.bore_m, line.membranes) == (3.4, 60, 0.0159, 2)
    serials = set(Fitting.objects.values_list("component__serial", flat=True))
    assert {"P4471", "H9001"} <= serials
    assert Fitting.objects.get(component__serial="H9001").meter_start_h == 3
    relief = Fitting.objects.get(component__type__kind="relief_valve").component.type
    assert relief.nameplate["set_pa"] == pytest.approx(12 * hand.PSI_PA)
    gauge = Gauge.objects.get()
    assert (gauge.error_percent, gauge.full_scale) == (2.5, pytest.approx(15 * hand.PSI_PA))
    first = Commissioning.objects.get().first_set
    pressure = first.readings.get(quantity="pressure")
    assert (pressure.typed_value, pressure.typed_unit) == ("5.9", "psi")
    level = Reading.objects.get(quantity="level")
    assert (level.set.pond.name, level.set.taken_at) == ("Mill Pond", first.taken_at)
    assert level.value == pytest.approx(-0.06096)
    assert first.configuration == Configuration.objects.get()
    assert Schedule.objects.get().hours_per_day == 24
    assert not Baseline.objects.exists()  # the first readings are provisional


@pytest.mark.parametrize("state", sorted(RUNNING - {SystemState.COMMISSIONING}))
def test_incomplete_system_cannot_be_recorded_as_running_in_service(system, state):
    hand.complete(system, leaving_out=[hand.papers])

    with pytest.raises(StateRefused, match="is being handed over"):
        record_state(system, at=NOW, state=state, now=NOW, by=make.manager())
    with pytest.raises(StepRefused, match="3 things are missing before it may go into service"):
        serve(system)
    assert hand.read(system).state == SystemState.COMMISSIONING
    assert Commissioning.objects.open().exists()


def test_complete_record_opens_the_way_through_its_own_action_alone(system):
    hand.complete(system)

    with pytest.raises(StateRefused, match="put it into service there"):
        record_state(system, at=NOW, state=SystemState.RUNNING, now=NOW, by=make.manager())
    serve(system)
    record_state(system, at=NOW, state=SystemState.RUNNING_TIMER, now=NOW, by=make.manager())


@pytest.mark.parametrize("state", [SystemState.FAILED, SystemState.SHUT_OTHER, SystemState.REMOVED])
def test_system_that_is_handed_over_may_fail_or_be_taken_away(system, state):
    hand.complete(system, leaving_out=[hand.papers])

    assert record_state(system, at=NOW, state=state, now=NOW, by=make.manager()).state == state


def test_systems_without_a_record_are_not_locked():
    for state in (None, SystemState.PLANNED, SystemState.COMMISSIONING):
        before = make.system(state=state)

        change = record_state(before, at=NOW, state=SystemState.RUNNING, now=NOW)

        assert change.state == SystemState.RUNNING


def test_running_cannot_be_dated_back_past_the_record(system):
    hand.complete(system, leaving_out=[hand.papers])
    earlier = NOW - timedelta(days=1)

    with pytest.raises(StateRefused, match="is being handed over"):
        record_state(system, at=earlier, state=SystemState.RUNNING, now=NOW, by=make.manager())


def test_putting_into_service_twice_is_refused_and_changes_nothing(system):
    hand.complete(system)
    record = Commissioning.objects.get()
    serve(system)

    with pytest.raises(StepRefused, match="record is closed"):
        put_in_service(
            record, at=NOW, state=SystemState.RUNNING, said=Said(), by=make.user(), now=NOW
        )

    assert StateChange.objects.filter(state=SystemState.RUNNING).count() == 1


def test_service_cannot_begin_before_the_first_start(system):
    hand.complete(system)

    with pytest.raises(StepRefused, match="did not run then"):
        serve(system, at=hand.STARTED_AT - timedelta(minutes=1))
    with pytest.raises(StepRefused, match="Choose how it runs"):
        serve(system, state=SystemState.COMMISSIONING)
    with pytest.raises(StepRefused, match="dated in the future"):
        serve(system, at=NOW + timedelta(days=1))


def test_closed_record_takes_nothing_more(system):
    hand.complete(system)
    serve(system)

    for step in hand.STEPS:
        with pytest.raises(StepRefused, match="record is closed"):
            step(system, by=make.user(), now=NOW)


@pytest.mark.parametrize(
    ("lacks", "says"),
    [
        ({"electrician": ""}, "the electrician with licence"),
        ({"licence": ""}, "the electrician with licence"),
        ({"gfci_tested_on": None}, "GFCI trip test"),
        ({"cabinet_above_water_m": None}, "height over the highest water"),
    ],
)
def test_no_air_before_the_electrics_are_answered_for(system, lacks, says):
    for step in hand.STEPS[: hand.STEPS.index(hand.start)]:
        step(system, by=make.user(), now=NOW)
    Commissioning.objects.update(**lacks)

    with pytest.raises(StepRefused, match=says):
        hand.start(system, by=make.user(), now=NOW)
    assert hand.read(system).state == SystemState.PLANNED


@pytest.mark.parametrize("point", [Point.GFCI_TESTED, Point.CABINET_ABOVE_WATER])
def test_figure_without_a_name_behind_it_starts_no_air(system, point):
    for step in hand.STEPS[: hand.STEPS.index(hand.start)]:
        step(system, by=make.user(), now=NOW)
    Acknowledged.objects.filter(point=point).delete()

    with pytest.raises(StepRefused, match="who answers for it"):
        hand.start(system, by=make.user(), now=NOW)


def test_authority_that_requires_no_electrician_is_named_instead(system):
    hand.complete(system)
    Commissioning.objects.update(electrician="", licence="", not_required_by="Tansy County")

    assert wanted(system) == []


def test_nothing_dug_answers_for_trench_and_locate_at_once(system):
    hand.complete(system)
    Commissioning.objects.update(locate_ticket="", located_on=None)
    Acknowledged.objects.filter(point=Point.UTILITIES_LOCATED).update(point=Point.NOTHING_DUG)
    Commissioning.objects.get().photos.filter(kind="trench").delete()

    assert wanted(system) == []


def test_pond_that_never_freezes_asks_for_nothing_about_ice(system):
    site = system.site
    site.region = make.region(has_winter=False)
    site.save()
    hand.complete(system)
    Acknowledged.objects.filter(point=Point.THIN_ICE_GIVEN).delete()
    System.objects.update(winter_mode=WinterMode.UNDECIDED)

    assert wanted(system) == []


def test_point_is_kept_with_who_answered_for_it_first(system):
    dario, wen = make.user(), make.user()
    hand.site(system, by=dario, now=NOW)

    hand.site(system, by=wen, now=NOW + timedelta(hours=1))

    row = Acknowledged.objects.get(point=Point.HAZARDS_LOOKED_FOR)
    assert (row.by, row.at) == (dario, NOW)


def test_doubt_is_kept_with_who_looked_again(system):
    hand.complete(system)
    dario = make.user()

    serve(system, by=dario, said=Said(doubts=["It was installed 70 days before."]))

    row = DoubtConfirmed.objects.get()
    assert (row.says, row.by) == ("It was installed 70 days before.", dario)


def test_second_set_falls_due_seven_to_thirty_days_later_until_it_is_confirmed(system):
    hand.complete(system)
    serve(system)

    due = DueItem.objects.get(task__slug="second_readings")
    assert (due.opens_on, due.due_on, due.closes_on) == (
        date(2026, 6, 8),
        date(2026, 6, 8),
        date(2026, 7, 1),
    )
    assert due.because == "Day 7 after full run began on 1 June 2026."

    later = NOW + timedelta(days=9)
    configuration = Configuration.objects.get()
    second = ReadingSet.objects.create(
        system=system, configuration=configuration, taken_at=later, entered_at=later
    )
    Reading.objects.create(set=second, quantity="pressure", value=41_000)
    confirm_baseline(configuration, second, by=make.manager(), now=later)
    refresh_all(now=later)
    assert not DueItem.objects.filter(task__slug="second_readings").exists()


def test_work_done_answers_the_second_set_too(system):
    hand.complete(system)
    serve(system)
    due = DueItem.objects.get(task__slug="second_readings")

    make.work(system, due.task, done_at=NOW + timedelta(days=8), occasion=due.occasion)
    refresh_all(now=NOW + timedelta(days=9))

    assert not DueItem.objects.filter(task__slug="second_readings").exists()


def test_ticket_for_the_second_set_opens_by_itself(system):
    hand.complete(system)
    serve(system)

    record_state(
        system, at=NOW + timedelta(days=8), state=SystemState.RUNNING, now=NOW + timedelta(days=8)
    )

    assert Ticket.objects.open().filter(task__slug="second_readings").count() == 1


def test_striking_out_a_state_does_not_open_the_way_round_the_record():
    moved = make.system(site=make.site())
    installed = record_state(
        moved, at=NOW - timedelta(days=2), state=SystemState.INSTALLED, now=NOW
    )
    Commissioning.objects.create(system=moved, begun_at=NOW, begun_by=make.manager())

    with pytest.raises(StateRefused, match="holds the system back"):
        strike_state(installed, by=make.manager(), reason="mistake", now=NOW)


def test_planned_system_may_be_installed_later(system):
    planned = hand.planned(key="A-0191", installed_on=date(2026, 9, 1))

    assert hand.read(planned).state == SystemState.PLANNED
    with pytest.raises(StateRefused, match="installed on 1 September"):
        record_state(planned, at=NOW, state=SystemState.COMMISSIONING, now=NOW)


def test_new_day_of_installation_takes_along_what_began_with_it(system):
    hand.compressor(system, by=make.user(), now=NOW)

    planned = hand.read(system)
    hand.keep_site(
        planned,
        installed_on=date(2026, 5, 30),
        site={},
        hazard=None,
        said=Said(),
        by=make.user(),
        now=NOW,
    )

    system.refresh_from_db()
    assert system.installed_on == date(2026, 5, 30)
    days = {Schedule.objects.get().from_on, *Fitting.objects.values_list("from_on", flat=True)}
    assert days == {date(2026, 5, 30)}


def test_start_before_the_plan_was_entered_takes_its_place():
    late = hand.planned(at=NOW)

    hand.complete(late)

    states = [(row.state, row.at) for row in hand.read(late).states]
    assert states == [(SystemState.COMMISSIONING, hand.STARTED_AT)]


def test_everything_asked_for_is_said_in_plain_words(system):
    words = " ".join(text for _, text in wanted(system))

    assert not re.search(r"\bsafe\b|_", words)
    assert Trail.objects.filter(did="began a commissioning").count() == 1


def test_date_at_the_site_decides_the_day_of_service(system):
    hand.complete(system)
    late_evening = datetime(2026, 6, 2, 3, tzinfo=NOW.tzinfo)  # 22:00 on 1 June in Chicago

    serve(system, at=late_evening, now=late_evening)

    system.refresh_from_db()
    assert system.commissioned_on == date(2026, 6, 1)
