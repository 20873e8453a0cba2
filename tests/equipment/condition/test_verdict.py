"""What is said of one system: rules of the trade, each in its own words.

The figures of the scenarios are the trade's (winter position, flood, dirty filter); they rest on
hydrostatics, 0.433 psi a foot, and on common practice, no source.
"""

from dataclasses import replace

import pytest

from equipment.condition.history import PSI_PA, Change, Changed
from equipment.condition.mass import Move, mass_patterns
from equipment.condition.verdict import MEMBRANE_CLEANING, State, assessed
from equipment.kinds import Moment, Quantity, Sign
from tests.make_history import DAY, FT_M, SUMMER, WINTER, baselines, history, later, read, rig

GOOD = (6.0, 5.9, 5.8)


def signs(verdict, *, alone=None):
    return {one.sign for one in verdict.signs if alone is None or one.alone == alone}


def causes(verdict):
    return [one.slug for one in verdict.ranking.causes + verdict.ranking.others]


def test_nothing_found_says_no_fault_shown_by_these_readings():
    verdict = assessed(history(read(90, 6.1, va=325.0, rise_c=10.0)), on=later(90))

    assert verdict.state == State.NO_FAULT
    assert verdict.sentences[0] == "No fault shown by these readings."
    assert (causes(verdict), verdict.opens) == ([], ())


def test_system_without_readings_says_so():
    verdict = assessed(replace(history(), sets=()), on=DAY)

    assert (verdict.state, verdict.flagged) == (State.NO_READINGS, False)
    assert verdict.sentences == ("There are no readings yet, so nothing can be said.",)


def test_plates_in_winter_position_read_less_with_no_fault_and_become_its_baseline_once_confirmed():
    shallow = read(190, 6.0 - 7 * 0.4335, at=WINTER, moment="as_left", boils=None)
    weeks_later = read(205, 3.0, at=WINTER)
    before = history(read(190, 6.0), shallow, weeks_later)

    verdict = assessed(before, on=later(205))

    assert verdict.state == State.NO_FAULT
    assert any("no fault" in one for one in verdict.sentences[1:])
    assert [one.set for one in verdict.proposals] == [weeks_later]
    confirmed = replace(before, baselines=before.baselines + baselines(weeks_later))
    again = assessed(
        replace(confirmed, sets=(*before.sets, read(280, 3.1, at=WINTER))), on=later(280)
    )
    main = again.departures[Quantity.PRESSURE, None]
    assert (again.state, again.proposals, main.band.sure) == (State.NO_FAULT, (), True)
    assert "baseline of 22 November 2026" in main.band.basis


def test_winter_baseline_of_last_year_holds_again_next_winter():
    last_winter = read(200, 3.0, at=WINTER)
    known = history(last_winter, read(300, 6.0), read(560, 4.2, at=WINTER, boils=(2, 2, 2)))
    known = replace(known, baselines=known.baselines + baselines(last_winter))

    verdict = assessed(known, on=later(560))

    main = verdict.departures[Quantity.PRESSURE, None]
    assert main.band.sure
    assert main.away == pytest.approx(1.2 * PSI_PA)
    assert verdict.state == State.FINDING


def test_flood_is_the_water_level_first_and_raises_no_membrane_work():
    flood = read(90, 6.9, level_ft=2.0, lines=(6.9, 6.8, 6.7))

    verdict = assessed(history(flood), on=later(90))

    assert verdict.first_cause == "water_level_changed"
    assert not set(causes(verdict)) & {"membrane_fouled", "membrane_aged_stiff"}
    assert {Sign.LEVEL_UP, Sign.ALL_LINES_SAME} <= signs(verdict)
    assert verdict.opens == ()
    assert any("2.0\N{NO-BREAK SPACE}ft" in one for one in verdict.sentences)


def test_flood_that_lasts_raises_no_membrane_work_either():
    floods = [
        read(d, 6.95 + 0.02 * n, level_ft=2.1, lines=(6.95, 6.85, 6.75))
        for n, d in enumerate(range(60, 360, 60))
    ]

    verdict = assessed(history(*floods), on=later(300))

    assert (verdict.first_cause, verdict.opens) == ("water_level_changed", ())


def test_water_that_was_not_read_widens_the_band_by_the_swing_of_the_pond():
    unread = read(90, 6.9, level_ft=None)

    assert assessed(history(unread, swing_m=2 * FT_M), on=later(90)).state == State.NO_FAULT
    steady = assessed(history(unread, swing_m=0.0), on=later(90))
    assert steady.state == State.FINDING
    assert any("level against its mark" in one for one in steady.data_needed)


def test_loaded_filter_comes_first_and_no_restriction_downstream_is_named():
    dirty = read(90, 6.0, boils=(1, 1, 1), rise_c=29.0, va=325.0, seen={Sign.FILTER_LOADED: True})

    verdict = assessed(history(dirty), on=later(90))

    assert verdict.first_cause == "intake_filter_loaded"
    downstream = {
        "membrane_fouled",
        "valve_moved",
        "line_crushed_or_kinked",
        "main_line_or_all_valves_shut",
        "check_valve_stuck_closed",
    }
    assert not set(causes(verdict)) & downstream
    assert Sign.P_FLAT in signs(verdict)


def test_filter_that_was_seen_clean_is_not_named():
    weak = read(90, 6.0, boils=(1, 1, 1), rise_c=29.0, seen={Sign.FILTER_LOADED: False})

    assert "intake_filter_loaded" not in causes(assessed(history(weak), on=later(90)))


def test_loaded_filter_at_its_change_is_no_fault_while_every_reading_is_normal():
    verdict = assessed(history(read(120, 6.0, seen={Sign.FILTER_LOADED: True})), on=later(120))

    assert verdict.state == State.NO_FAULT


def rising(*psi, step=75, start=75, **more):
    return [
        read(start + n * step, 6.0 + 0.1 * n, lines=(6.0, p, 5.8), boils=(3, 2, 3), **more)
        for n, p in enumerate(psi)
    ]


def test_one_line_over_its_limit_twice_running_opens_cleaning_of_its_plate():
    verdict = assessed(history(*rising(6.2, 6.5, 6.7, 7.0, 7.2)), on=later(375))

    (call,) = verdict.opens
    assert (call.task, call.position) == (MEMBRANE_CLEANING, "D2")
    assert "line pressure of D2" in call.because
    assert verdict.first_cause == "membrane_fouled"


def test_one_odd_reading_is_a_finding_and_no_trend():
    verdict = assessed(history(read(75, 6.0), read(150, 7.6, boils=(2, 2, 3))), on=later(150))

    assert verdict.state == State.FINDING
    assert verdict.opens == ()
    (main, *_) = verdict.drifts
    assert "no drift that can be told from noise" in main.says


def test_cleaning_starts_the_series_anew_and_as_found_stays_evidence():
    found = read(375, 6.6, lines=(6.0, 7.3, 5.8), boils=(3, 2, 3))
    left = read(375, 6.1, lines=(6.0, 6.0, 5.8), moment="as_left", boils=None)
    sets = [*rising(6.3, 6.6, 7.0, 7.2), found, left]
    cleaned = Changed(later(375), Change.CLEANED)
    known = history(*sets, changes=(cleaned,))

    verdict = assessed(known, on=later(375))

    assert Sign.P_UP in signs(verdict, alone=True)
    line = next(one for one in verdict.drifts if one.key[1] == "D2")
    assert [value / PSI_PA for _, value in line.points] == [pytest.approx(6.0)]
    assert line.says.startswith("Not enough comparable readings")
    assert verdict.opens == ()
    after = assessed(replace(known, sets=(*known.sets, read(450, 6.0, lines=GOOD))), on=later(450))
    assert after.state == State.NO_FAULT


def test_what_was_put_right_on_the_same_visit_is_said_to_be_mended():
    found = read(90, 7.4, boils=(1, 1, 1))
    left = read(90, 6.1, moment=Moment.AS_LEFT, boils=(3, 3, 3))

    verdict = assessed(history(found, left), on=later(90))

    assert verdict.state == State.MENDED
    assert any("As left" in one and "inside its band" in one for one in verdict.sentences)


def test_another_gauge_starts_a_new_series_and_its_offset_is_no_step_of_the_system():
    found, left = read(90, 6.0), read(90, 6.4, moment="as_left", gauge="new", boils=None)
    known = history(read(45, 6.0), found, left, read(160, 6.4, gauge="new"))

    verdict = assessed(known, on=later(160))

    assert verdict.state == State.NO_FAULT
    assert not signs(verdict) & {Sign.P_UP, Sign.P_UP_STEP}
    assert len(verdict.drifts[0].points) == 2
    assert Sign.NEW_GAUGE in signs(verdict)


def test_gauge_that_shows_far_more_than_the_one_before_it_is_doubted_itself():
    found, left = read(90, 6.0), read(90, 7.6, moment="as_left", gauge="new", boils=None)

    verdict = assessed(history(found, left, read(160, 7.6, gauge="new")), on=later(160))

    assert verdict.first_cause == "gauge_wrong"
    assert "membrane_fouled" not in causes(verdict)


def test_drift_goes_on_showing_across_an_exchange_of_gauges():
    found, left = read(90, 6.4), read(90, 6.8, moment="as_left", gauge="new", boils=None)
    fouled = read(260, 7.9, gauge="new", boils=(2, 2, 2))

    verdict = assessed(history(found, left, fouled), on=later(260))

    main = verdict.departures[Quantity.PRESSURE, None]
    assert main.away == pytest.approx((7.9 - 6.0 - 0.4) * PSI_PA)
    assert verdict.first_cause == "membrane_fouled"


def test_new_membranes_are_provisional_until_they_have_settled():
    new = Changed(later(100), Change.MEMBRANES)
    first = read(100, 6.6, moment="as_left", boils=None)
    known = history(read(100, 7.4), first, read(103, 6.5), read(118, 6.1), changes=(new,))

    early = assessed(replace(known, sets=known.sets[:4]), on=later(103))
    settled = assessed(known, on=later(118))

    assert [one.set for one in early.proposals] == [None]
    assert "first and provisional" in early.data_needed[0]
    assert early.state == State.NO_FAULT
    assert [one.set.on for one in settled.proposals] == [later(118)]
    assert not any(one.trend for one in settled.drifts)


def test_weather_that_moved_many_sites_lets_no_membrane_work_be_raised():
    up = history(*rising(6.2, 6.5, 6.7, 7.0, 7.2))
    moves = [Move(n, n, later(375), 1.2) for n in range(40)]

    alone = assessed(up, on=later(375))
    with_others = assessed(up, on=later(375), mass=mass_patterns(moves))

    assert alone.opens
    assert with_others.opens == ()
    assert "40 of 40 sites" in with_others.sentences[0]
    assert not signs(with_others, alone=True) & {Sign.P_UP, Sign.P_UP_STEP}


def test_same_figures_three_visits_running_are_asked_about_and_nobody_is_accused():
    same = [read(days, 6.2, va=331.0, rise_c=9.0) for days in (60, 120, 180)]

    verdict = assessed(history(*same), on=later(180))
    asked = [one for one in verdict.sentences if "same" in one]

    assert asked == [
        "The same 5 figures stand in 3 visits running, since 30 June 2026. They may well be right; "
        "were they measured anew each time?"
    ]
    other = [*same[:2], read(180, 6.3, va=331.0, rise_c=9.0)]
    assert not any("same" in one for one in assessed(history(*other), on=later(180)).sentences)


def test_worn_compressor_is_told_from_a_loaded_filter_by_its_power():
    worn = read(90, 5.8, boils=(2, 2, 2), va=270.0, rise_c=9.0)

    assert assessed(history(worn), on=later(90)).first_cause == "compressor_worn"


def test_hiss_with_weak_boils_is_a_leak_on_shore_though_power_falls_a_little():
    leak = read(
        90, 5.7, boils=(2, 1, 2), va=303.0, seen={Sign.N_HISS: True, Sign.FILTER_LOADED: False}
    )

    assert assessed(history(leak), on=later(90)).first_cause == "leak_on_shore"


def test_one_line_down_alone_is_a_leak_of_that_line_and_no_wear():
    hole = read(90, 5.6, lines=(6.0, 3.6, 5.8), boils=(3, 1, 3), seen={Sign.B_OFF_PLATE: True})

    verdict = assessed(history(hole), on=later(90))

    assert verdict.first_cause == "line_leak_in_water"
    assert Sign.P_DOWN_STEP in signs(verdict, alone=True)


def test_weak_boil_of_one_plate_clears_no_membrane_though_the_manifold_is_as_expected():
    weak = [read(days, 6.0, boils=(3, 1, 3)) for days in (80, 160)]

    verdict = assessed(history(*weak), on=later(160))

    assert verdict.first_cause == "membrane_fouled"
    assert any("pressure of each line" in one for one in verdict.data_needed)


def test_one_step_less_at_one_plate_is_inside_the_tolerance_until_seen_twice():
    once = history(read(80, 6.0, boils=(3, 2, 3)))
    twice = replace(once, sets=(*once.sets, read(160, 6.0, boils=(3, 2, 3))))

    assert assessed(once, on=later(80)).state == State.NO_FAULT
    assert assessed(twice, on=later(160)).state == State.FINDING


def test_hour_meter_that_was_exchanged_counts_from_its_own_start():
    old = replace(read(80, 6.0, hours=14_230.0), gauges={Quantity.RUN_HOURS: "meter 1"})
    new = replace(
        read(94, 6.0, hours=310.0, scheduled_h=336.0), gauges={Quantity.RUN_HOURS: "meter 2"}
    )
    same = replace(new, gauges={Quantity.RUN_HOURS: "meter 1"})

    assert assessed(history(old, new), on=later(94)).state == State.NO_FAULT
    wrong = assessed(history(old, same), on=later(94))
    assert wrong.first_cause == "meter_fault_or_typo"


def test_hours_far_short_of_the_schedule_are_a_sign():
    sets = read(80, 6.0, hours=2000.0), read(120, 6.0, hours=2300.0, scheduled_h=960.0)

    assert Sign.HOURS_SHORT in signs(assessed(history(*sets), on=later(120)), alone=True)


def test_unchanged_pressure_is_no_sign_while_everything_else_is_normal():
    assert Sign.P_FLAT not in signs(assessed(history(read(90, 6.0)), on=later(90)))


def test_finding_that_was_not_read_again_still_stands_and_work_on_it_ends_that():
    found = read(80, 7.3, boils=(2, 2, 2))
    look = replace(read(110, boils=None), values={})

    still = assessed(history(found, look), on=later(110))
    cleaned = history(found, look, changes=(Changed(later(100), Change.CLEANED),))

    assert still.state == State.FINDING
    assert assessed(cleaned, on=later(110)).state == State.NO_FAULT


def test_own_tolerances_of_the_firm_decide():
    odd = history(read(90, 6.8))
    loose = replace(odd, tolerances=replace(odd.tolerances, pressure_pa=1.5 * PSI_PA))

    assert assessed(odd, on=later(90)).state == State.FINDING
    assert assessed(loose, on=later(90)).state == State.NO_FAULT


def test_metric_reader_gets_metric_figures():
    verdict = assessed(history(read(90, 7.4), units="metric"), on=later(90))

    assert any("kPa" in one for one in verdict.sentences)
    assert not any("psi" in one for one in verdict.sentences)


def test_relief_valve_that_stays_open_pins_every_line_at_its_pressure():
    pinned = read(90, 5.0, lines=(5.0, 5.0, 5.1), boils=(1, 1, 1))
    known = history(pinned, rigs={SUMMER: rig(relief_pa=5.0 * PSI_PA)})

    assert Sign.P_PINNED in signs(assessed(known, on=later(90)), alone=True)
    assert Sign.P_PINNED not in signs(assessed(history(pinned), on=later(90)))
