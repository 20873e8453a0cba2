"""A restart: readings, a named yes, the owner told before, and a ramp that dates decide."""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from customers.models import Firm, Trail
from equipment.actions.profiles import Probe
from equipment.kinds import SystemState
from equipment.models import StateChange
from servicedesk.actions.holds import end_hold, enter_hold
from servicedesk.actions.restarts.approve import Approval, approve_restart
from servicedesk.actions.restarts.course import course_of, timer_of, today_of
from servicedesk.actions.restarts.known import known_of
from servicedesk.actions.restarts.propose import RestartRefused, Told, propose_restart
from servicedesk.actions.restarts.run import (
    StepSeen,
    close_restart,
    name_watcher,
    record_step,
    resume_ramp,
    start_restart,
    stop_ramp,
)
from servicedesk.actions.restarts.sweep import look_after_restarts
from servicedesk.actions.states import StateRefused, record_state, state_at, strike_state
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.kinds import HoldKind, ObservationKind
from servicedesk.models import Alarm, DueItem, Observation, OfficeTask, Reminder, Restart, Task
from servicedesk.planning.restart.ramps import DayIs, StepEnd
from servicedesk.planning.restart.readings import Fish
from tests import make

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 6, 8, 15, tzinfo=UTC)  # a Monday, 10:00 in Chicago
DAY = timedelta(days=1)
JUNE = (Probe("0", "24", "8"), Probe("4", "13", "0.4"))  # layered
APRIL = (Probe("0", "8.0", "11"), Probe("4", "7.4", "9"))  # mixed
WEAK = (Probe("0", "15", "8"), Probe("4", "13.5", "3"))
DONE = {"end": StepEnd.DONE}


@pytest.fixture
def system():
    load_task_defaults()
    make.firm()
    owner = make.customer()
    make.contact(customer=owner, email="ines@example.com")
    site = make.site(owner=owner, region=make.region())
    pond = make.pond(site=site, depth_max_m=4.5)
    system = make.system(site=site)
    make.position(system=system, kind="diffuser", label="D1", pond=pond)
    return system


@pytest.fixture
def manager(db):
    return make.manager(email="priya@example.com")


def stop(system, at):
    return record_state(system, at=at, state=SystemState.SHUT_WINTER, now=at, reason="winter")


def proposed(system, probes=JUNE, now=NOON, since=200, **told):
    stop(system, now - since * DAY)
    pond = known_of(system, now=now).pond
    facts = {"off_hours": since * 24.0, "layered_season": True} | told
    told = Told(read_at=now, pond=pond, probes=probes, confirmed=True, **facts)
    return propose_restart(system, told, by=make.user(), now=now)


def approved(system, manager, probes=JUNE, now=NOON, given=None, **told):
    restart = proposed(system, probes, now, **told)
    given = {"watcher": "Dario", "weekend_watcher": "Ines"} | (given or {})
    given.setdefault("first_on", today_of(restart, now))
    return approve_restart(restart, Approval(**given), by=manager, now=now)


def started(system, manager, now=NOON, **more):
    restart = approved(system, manager, now=now, **more)
    return start_restart(restart, by=make.user(), now=now, told_how="Ines, by phone")


def ran(restart, number, minutes, **more):
    on = restart.first_on + (number - 1) * DAY
    said = StepSeen(**{"end": StepEnd.DONE, "minutes": minutes} | more)
    return record_step(restart, on, said, by=make.user(), now=NOON + (number - 1) * DAY)


def today(restart, now):
    on = today_of(restart, now)
    return next(one for one in course_of(restart, today=on).days if one.on == on)


def test_spring_pond_that_is_mixed_runs_without_a_break_with_a_check_on_day_two(system, manager):
    spring = datetime(2026, 4, 8, 15, tzinfo=UTC)
    made = proposed(system, APRIL, spring, since=140, layered_season=False)
    assert (made.path, made.minutes) == ("R6", [1440])
    given = Approval(first_on=date(2026, 4, 8), watcher="Ines", weekend_watcher="Ines")
    approve_restart(made, given, by=manager, now=spring)

    start_restart(made, by=make.user(), now=spring, told_how="Ines, by phone")

    assert state_at(system, spring).state == SystemState.RUNNING
    look = OfficeTask.objects.get(key=f"restart-look:{made.pk}")
    assert (look.due_on, "from the bank" in look.text) == (date(2026, 4, 9), True)


def test_late_restart_of_a_layered_pond(system, manager):
    """6 June, 24 above 13, 0.4 mg/L below, off since November."""
    made = proposed(system)
    assert made.path == "R3"
    assert made.minutes[:3] == [15, 30, 45]
    assert any("autumn" in step for step in made.proposed["steps"])
    with pytest.raises(StateRefused, match="waits for a manager"):
        record_state(
            system,
            at=NOON,
            state=SystemState.RUNNING,
            now=NOON,
            by=make.user(),
            approved_by=manager,
            caution_read=True,
        )
    with pytest.raises(RestartRefused, match="manager approved"):
        start_restart(made, by=make.user(), now=NOON, told_how="Ines")
    with pytest.raises(RestartRefused, match="Only a manager"):
        approve_restart(made, Approval(first_on=NOON.date()), by=make.user(), now=NOON)

    given = Approval(first_on=NOON.date(), watcher="Dario", weekend_watcher="Ines")
    approve_restart(made, given, by=manager, now=NOON)

    line = Reminder.objects.get(topic="restart")
    assert (line.contact.email, line.facts["restart"]) == ("ines@example.com", made.pk)
    with pytest.raises(RestartRefused, match="has not gone out"):
        start_restart(made, by=make.user(), now=NOON)
    start_restart(made, by=make.user(), now=NOON, told_how="Ines, by phone")
    assert state_at(system, NOON).state == SystemState.RAMPING
    follow = DueItem.objects.filter(task__slug="ramp_follow_up", system=system)
    assert min(follow.values_list("due_on", flat=True)) == date(2026, 6, 10)


def test_start_without_a_restart_has_the_name_that_answers_for_it(system, manager):
    stop(system, NOON - 5 * DAY)

    record_state(
        system,
        at=NOON,
        state=SystemState.RUNNING,
        now=NOON,
        by=make.user(),
        approved_by=manager,
        caution_read=True,
        reason="loaner from the shop",
    )

    kept = Restart.objects.get()
    assert (kept.state, kept.approved_by) == (Restart.State.OVERRIDDEN, manager)
    assert kept.override_reason == "loaner from the shop"


def test_other_way_than_the_proposed_needs_a_reason(system, manager):
    made = proposed(system)
    given = {"first_on": NOON.date(), "watcher": "Dario", "weekend_watcher": "Ines", "path": "R8"}
    with pytest.raises(RestartRefused, match="needs a reason"):
        approve_restart(made, Approval(**given), by=manager, now=NOON)

    approve_restart(made, Approval(**given, reason="shallow end only"), by=manager, now=NOON)

    made.refresh_from_db()
    assert (made.path, made.proposed["path"], made.minutes[0]) == ("R8", "R3", 30)
    assert Trail.objects.filter(did="approve restart", after__path="R8").exists()


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"first_on": NOON.date() - DAY}, "over"),
        ({"first_on": NOON.date() + 4 * DAY}, "older than 3 days"),
        ({"watcher": ""}, "working days"),
        ({"weekend_watcher": " "}, "weekend"),
        ({"starts": time(13)}, "morning"),
        ({"path": "R9", "reason": "x"}, "ramps offered"),
    ],
)
def test_approval_that_leaves_something_open_is_refused(system, manager, given, says):
    with pytest.raises(RestartRefused, match=says):
        approved(system, manager, given=given)

    assert Restart.objects.get().state == Restart.State.PROPOSED
    assert not Reminder.objects.exists()


def test_trout_wait_for_the_word_of_an_adviser(system, manager):
    with pytest.raises(RestartRefused, match="fish adviser"):
        approved(system, manager, fish=Fish.COLD_WATER)
    kept = approved(
        system, manager, now=NOON + DAY, fish=Fish.COLD_WATER, given={"adviser": "J. Weir: slowly"}
    )
    assert (kept.path, kept.minutes[0]) == ("R0", 15)


def test_missed_day_shows_the_same_step_again(system, manager):
    """Day 3, two hours, was not run: day 4 shows two hours again, not four."""
    restart = started(system, manager, probes=WEAK, layered_season=False)
    assert restart.minutes[:4] == [30, 60, 120, 240]
    ran(restart, 1, 30)
    ran(restart, 2, 60)

    day4 = today(restart, NOON + 3 * DAY)

    assert (day4.minutes, day4.what) == (120, DayIs.DUE)
    assert today(restart, NOON + 4 * DAY).minutes == 60


def test_step_entered_late_counts_at_its_day(system, manager):
    restart = started(system, manager, probes=WEAK, layered_season=False)
    for number, minutes in ((1, 30), (2, 60)):
        ran(restart, number, minutes)
    said = StepSeen(StepEnd.DONE, 120)

    record_step(restart, restart.first_on + 2 * DAY, said, by=make.user(), now=NOON + 3 * DAY)

    assert today(restart, NOON + 3 * DAY).minutes == 240


def test_last_step_ends_the_ramp_and_it_runs(system, manager):
    restart = started(system, manager, probes=WEAK, layered_season=False)
    for number, minutes in enumerate(restart.minutes, start=1):
        ran(restart, number, minutes)

    restart.refresh_from_db()
    assert restart.state == Restart.State.DONE
    assert state_at(system, NOON + 9 * DAY).state == SystemState.RUNNING


def test_oxygen_that_falls_stops_the_ramp_and_wakes_the_manager(system, manager):
    restart = started(system, manager, probes=WEAK, layered_season=False)
    ran(restart, 1, 30)

    ran(restart, 2, 40, before_mg_l=6, after_mg_l=3.5)

    assert today(restart, NOON + 2 * DAY).what == DayIs.HELD
    alarm = Alarm.objects.get()
    assert (alarm.to_address, "fell by 2.5" in alarm.text) == ("priya@example.com", True)
    assert state_at(system, NOON + 2 * DAY).state == SystemState.SHUT_OTHER


def test_stopped_ramp_rests_a_day_and_goes_on_one_step_back(system, manager):
    restart = started(system, manager, probes=WEAK, layered_season=False)
    for number, minutes in ((1, 30), (2, 60)):
        ran(restart, number, minutes)
    ran(restart, 3, 20, end=StepEnd.STOPPED, seen=("gasping",))
    stopped = NOON + 2 * DAY
    with pytest.raises(RestartRefused, match="24 hours"):
        resume_ramp(restart, by=manager, now=stopped + timedelta(hours=23))
    with pytest.raises(RestartRefused, match="Only a manager"):
        resume_ramp(restart, by=make.user(), now=stopped + DAY)

    resume_ramp(restart, by=manager, now=stopped + DAY)

    assert today(restart, stopped + DAY).minutes == 60
    assert state_at(system, stopped + DAY).state == SystemState.RAMPING


def test_ramp_on_hold_is_not_run_and_not_started_past_its_page(system, manager):
    restart = started(system, manager, probes=WEAK, layered_season=False)
    ran(restart, 1, 30)
    stop_ramp(
        restart, ["Dark water."], by=manager, now=NOON + timedelta(hours=3), stands_still=True
    )
    with pytest.raises(RestartRefused, match="on hold"):
        ran(restart, 2, 60)
    with pytest.raises(StateRefused, match="on hold"):
        record_state(
            system,
            at=NOON + DAY,
            state=SystemState.RUNNING,
            now=NOON + DAY,
            approved_by=manager,
            caution_read=True,
        )


def test_treatment_of_the_water_blocks_stirring(system, manager):
    made = proposed(system)
    hold = enter_hold(
        HoldKind.TREATMENT,
        from_on=date(2026, 6, 10),
        to_on=date(2026, 6, 24),
        reason="algae, by another firm",
        by=manager,
        now=NOON,
        site=system.site,
    )
    given = Approval(
        first_on=NOON.date(), watcher="Dario", weekend_watcher="Ines", reason="I want it"
    )
    with pytest.raises(RestartRefused, match="treatment of the water holds starts here until 24"):
        approve_restart(made, given, by=manager, now=NOON)

    end_hold(hold, by=manager, now=NOON)
    approve_restart(made, given, by=manager, now=NOON)


def test_treatment_booked_after_the_yes_still_blocks_the_start(system, manager):
    restart = approved(system, manager)
    enter_hold(
        HoldKind.TREATMENT,
        from_on=NOON.date(),
        to_on=NOON.date() + 3 * DAY,
        reason="dye",
        by=manager,
        now=NOON,
        site=system.site,
    )

    with pytest.raises(RestartRefused, match="treatment"):
        start_restart(restart, by=make.user(), now=NOON, told_how="Ines")


def test_heat_hold_of_the_region_blocks_a_start(system, manager):
    enter_hold(
        HoldKind.HEAT,
        from_on=NOON.date(),
        to_on=NOON.date() + 3 * DAY,
        reason="38 degrees",
        by=manager,
        now=NOON,
        region=system.site.region,
    )
    with pytest.raises(RestartRefused, match="Heat holds"):
        approved(system, manager)


def seen(system, kind, on, **more):
    pond = known_of(system, now=NOON).pond
    return Observation.objects.create(
        pond=pond, site=pond.site, kind=kind, seen_on=on, by=make.user(), entered_at=NOON, **more
    )


def test_ice_that_came_back_after_it_had_left_counts(system, manager):
    """The last look wins, and what was read before it is not started on."""
    now = datetime(2026, 4, 8, 15, tzinfo=UTC)
    seen(system, ObservationKind.ICE_OUT, date(2026, 3, 30))
    assert known_of(system, now=now).ice is False
    made = proposed(system, APRIL, now, since=140, layered_season=False)

    seen(system, ObservationKind.ICE_ON, date(2026, 4, 7))

    assert known_of(system, now=now).ice is True
    given = Approval(first_on=now.date(), watcher="Ines", weekend_watcher="Ines")
    with pytest.raises(RestartRefused, match="Ice was seen since"):
        approve_restart(made, given, by=manager, now=now)


def test_ice_out_that_waits_for_a_manager_does_not_say_that_there_is_none(system):
    seen(system, ObservationKind.ICE_OUT, date(2026, 2, 8), waits=True)

    assert known_of(system, now=datetime(2026, 2, 10, 15, tzinfo=UTC)).ice is None


def test_ice_asks_who_saw_the_signs_stand(system, manager):
    winter = datetime(2026, 1, 12, 16, tzinfo=UTC)
    with pytest.raises(RestartRefused, match="signs stand"):
        approved(system, manager, probes=(), now=winter, since=3, ice=True)


def test_southern_pond_is_layered_in_january_and_not_in_july(system):
    system.site.lat, system.site.region = -37.0, make.region()  # northern days are moved
    system.site.save()

    assert known_of(system, now=datetime(2027, 1, 15, 12, tzinfo=UTC)).layered_season is True
    assert known_of(system, now=datetime(2027, 7, 15, 12, tzinfo=UTC)).layered_season is False


def test_pond_of_which_nobody_knows_the_season_counts_as_layered(system):
    system.site.lat, system.site.region = 1.3, None
    system.site.save()
    stop(system, NOON - 2 * DAY)

    assert known_of(system, now=NOON).layered_season is None
    told = Told(read_at=NOON, off_hours=48, layered_season=None)
    assert propose_restart(system, told, by=make.user(), now=NOON).path == "R3"


def test_winter_stop_pauses_the_filter_and_the_restart_shows_it(system, manager):
    filter_ = make.filter_position(of=system)
    change = Task.objects.get(slug="filter_change")
    make.work(filter_, change, done_at=NOON - 300 * DAY)
    stop(system, NOON - 200 * DAY)
    item = DueItem.objects.get(position=filter_, task=change)
    assert (item.paused, item.because.startswith("Paused since")) == (True, True)

    restart = approved(system, manager, probes=WEAK, now=NOON + DAY, since=200)
    start_restart(restart, by=make.user(), now=NOON + DAY, told_how="Ines")

    item = DueItem.objects.get(position=filter_, task=change)
    assert (item.paused, item.due_on > NOON.date()) == (False, True)


def test_stop_in_june_that_nobody_told_of_is_entered_late_and_warns_before_the_start(system):
    """The owner switched it off on the 3rd: hours stop there, and the time off counts as long."""
    record_state(
        system,
        at=datetime(2026, 6, 3, 17, tzinfo=UTC),
        state=SystemState.SHUT_OTHER,
        now=NOON,
        certainty="assumed",
        reason="owner says off since 3 June",
    )

    known = known_of(system, now=NOON)
    assert (known.off_since.date(), known.off_is_assumed) == (date(2026, 6, 3), True)
    told = Told(read_at=NOON, pond=known.pond, off_hours=None, layered_season=None)
    made = propose_restart(system, told, by=make.user(), now=NOON)
    assert made.path == "R3"
    assert "it counts as long" in " ".join(made.proposed["reasons"])


def test_running_system_has_no_restart(system):
    told = Told(read_at=NOON)
    with pytest.raises(RestartRefused, match="runs, as far as is on record"):
        propose_restart(system, told, by=make.user(), now=NOON)


def test_profile_that_ends_half_way_down_does_not_speak_for_the_bottom(system):
    made = proposed(system, (Probe("0", "24", "8"), Probe("1.5", "23.9", "7")))

    assert made.path == "R3"
    assert "no profile that reaches the bottom" in made.proposed["reasons"][0]


def test_new_readings_take_the_place_of_those_that_wait(system):
    first = proposed(system)

    told = Told(read_at=NOON + DAY, off_hours=10.0, ran_full_time=True, layered_season=True)
    second = propose_restart(system, told, by=make.user(), now=NOON + DAY)

    first.refresh_from_db()
    assert (first.state, second.state) == (Restart.State.CLOSED, Restart.State.PROPOSED)


def test_lapsed_ramp_is_closed_once_and_the_table_read_anew(system, manager):
    restart = started(system, manager, probes=WEAK, layered_season=False)
    ran(restart, 1, 30)
    later = NOON + 5 * DAY

    for _ in range(3):
        look_after_restarts(clock=lambda: later)

    restart.refresh_from_db()
    assert restart.state == Restart.State.CLOSED
    assert OfficeTask.objects.filter(key=f"ramp-lapsed:{restart.pk}").count() == 1
    assert state_at(system, later).state == SystemState.SHUT_OTHER
    anew = Told(read_at=later, off_hours=10.0, ran_full_time=True, layered_season=False)
    assert propose_restart(system, anew, by=make.user(), now=later).path != "R4"


def test_job_that_did_not_run_for_days_finds_the_same_as_one_that_ran_each_hour(system, manager):
    restart = started(system, manager, probes=WEAK, layered_season=False)
    ran(restart, 1, 30)
    hourly = [NOON + timedelta(hours=n) for n in range(48)]
    for now in hourly:
        look_after_restarts(clock=lambda now=now: now)
    each_hour = set(OfficeTask.objects.values_list("key", flat=True))
    OfficeTask.objects.filter(key__startswith="ramp-").delete()

    look_after_restarts(clock=lambda: hourly[-1])

    assert set(OfficeTask.objects.values_list("key", flat=True)) == each_hour
    assert f"ramp-day:{restart.pk}:{restart.first_on + DAY}" in each_hour


def test_ramp_over_a_change_of_clocks_keeps_its_days(system, manager):
    """Clocks went forward in Chicago on 8 March 2026 at two in the morning."""
    friday = datetime(2026, 3, 6, 15, tzinfo=UTC)
    restart = started(system, manager, now=friday, probes=WEAK, since=140, layered_season=False)
    person = make.user()
    for n in range(2):
        said = StepSeen(StepEnd.DONE, restart.minutes[n])
        record_step(restart, restart.first_on + n * DAY, said, by=person, now=friday + n * DAY)

    sunday = course_of(restart, today=date(2026, 3, 8)).days[2]
    assert (sunday.on, sunday.minutes, sunday.what) == (date(2026, 3, 8), 120, DayIs.DUE)
    told = timer_of(restart, sunday.on, sunday.minutes)
    assert (told.starts.hour, told.ends.hour, told.clocks_change) == (8, 10, True)
    late = datetime(2026, 3, 9, 4, 30, tzinfo=UTC)  # 23:30 on Sunday
    assert today_of(restart, late) == date(2026, 3, 8)
    look_after_restarts(clock=lambda: late)
    assert not OfficeTask.objects.filter(key__startswith=f"ramp-day:{restart.pk}").exists()


def test_day_without_a_watcher_is_asked_for_the_day_before(system, manager):
    restart = started(system, manager, probes=WEAK, layered_season=False)
    Restart.objects.filter(pk=restart.pk).update(watcher="")
    name_watcher(restart, restart.first_on, "Wen", by=manager, now=NOON)

    look_after_restarts(clock=lambda: NOON)

    keys = set(
        OfficeTask.objects.filter(key__startswith="ramp-watch").values_list("key", flat=True)
    )
    assert keys == {f"ramp-watch:{restart.pk}:{restart.first_on + DAY}"}


def test_longer_run_than_planned_is_told_to_the_office(system, manager):
    restart = started(system, manager, probes=WEAK, layered_season=False)

    ran(restart, 1, 90)

    assert OfficeTask.objects.filter(key__startswith="ramp-long").get().urgent


def test_closing_leaves_it_standing_still_and_says_why(system, manager):
    restart = started(system, manager)

    assert close_restart(restart, by=manager, reason="plates come up first", now=NOON + DAY)
    assert not close_restart(restart, by=manager, reason="again", now=NOON + DAY)

    last = state_at(system, NOON + 2 * DAY)
    assert (last.state, "plates come up first" in last.reason) == (SystemState.SHUT_OTHER, True)


def test_step_of_another_day_or_of_a_ramp_that_is_over_is_refused(system, manager):
    restart = started(system, manager)
    for on in (restart.first_on - DAY, restart.first_on + DAY):
        with pytest.raises(RestartRefused, match="Give a day of this ramp"):
            record_step(restart, on, StepSeen(StepEnd.MISSED), by=manager, now=NOON)
    close_restart(restart, by=manager, reason="over", now=NOON)
    with pytest.raises(RestartRefused, match="No ramp is under way"):
        ran(restart, 1, 15)


def test_start_that_is_struck_out_leaves_the_restart_on_record(system, manager):
    restart = started(system, manager)
    change = StateChange.objects.get(system=system, state=SystemState.RAMPING)

    strike_state(change, by=manager, reason="other cabinet", now=NOON)

    assert Restart.objects.get(pk=restart.pk).state == Restart.State.UNDER_WAY


def test_start_on_ice_waits_for_all_that_bars_a_winter_run(system, manager):
    winter = datetime(2026, 1, 12, 16, tzinfo=UTC)
    with pytest.raises(RestartRefused, match="may not run this winter yet"):
        approved(
            system,
            manager,
            probes=(),
            now=winter,
            since=3,
            ice=True,
            given={"ice_word": "Dario, from the dam"},
        )


def test_start_past_an_open_restart_that_is_done_already_is_kept_and_told(system, manager):
    made = proposed(system)

    record_state(
        system,
        at=NOON,
        state=SystemState.RUNNING,
        now=NOON,
        by=make.user(),
        approved_by=manager,
        caution_read=True,
        already_done=True,
    )

    told = OfficeTask.objects.get(key__startswith="past-restart:")
    assert told.urgent
    assert Restart.objects.exclude(pk=made.pk).get().state == Restart.State.OVERRIDDEN


def test_firm_sets_its_own_limits_to_stop_at(system, manager):
    Firm.objects.update(ramp_stop_mg_l=4.5)
    restart = started(system, manager, probes=WEAK, layered_season=False)

    step = ran(restart, 1, 30, before_mg_l=5, after_mg_l=4.4)

    assert step.end == StepEnd.STOPPED
    assert "below 4.5" in restart.holds.get().because
