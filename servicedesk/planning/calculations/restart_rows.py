"""How a system is started again, by name: the table, a ramp's days, and the signs to stop at."""

from datetime import date, timedelta

from servicedesk.planning.calculations.engine import Calculation
from servicedesk.planning.restart import ramps, readings, stops, table
from servicedesk.planning.restart.proposal import Proposal, proposal

RAMPS = {
    "standard": ramps.STANDARD,
    "slow": ramps.SLOW,
    "short": ramps.SHORT,
    "continuous": ramps.CONTINUOUS,
}
NO_ICE = {"open", "none", "no", "false", ""}


def restart_path(
    off_hours: float | None = None,
    ran_full_time: bool | None = None,
    top_c: float | None = None,
    bottom_c: float | None = None,
    profile_c: list[float] | None = None,
    difference_kg_m3: float | None = None,
    surface_c: float | None = None,
    surface_do_mg_l: float | None = None,
    bottom_do_mg_l: float | None = None,
    smell: bool = False,
    stop_sign: bool = False,
    cold_water_fish: bool = False,
    fish: str | None = None,
    past_kill: bool | None = False,
    ice: bool | None = False,
    ice_state: str | None = None,
    layered_season: bool | None = None,
    hot_still_forecast: bool = False,
    ramp_open: bool = False,
    ramp_last_step_days: float | None = None,
    treatment: bool = False,
    stop_below_mg_l: float | None = None,
    stop_fall_mg_l: float | None = None,
) -> Proposal:
    """How to start again after a stop: the row of the table that holds, with reasons and steps.

    off_hours: since the air stopped [h], 0 or more; unknown counts as the longest.
    ran_full_time: whether it ran all day before the stop; unknown counts as no.
    top_c, bottom_c: temperature near the surface and at the bottom [degC], -1 to 45.
    profile_c: temperatures from the surface down [degC] instead, a list.
    difference_kg_m3: density of the bottom less that of the surface [kg/m3], instead of both.
    surface_c: temperature of the surface [degC] where there is no profile.
    surface_do_mg_l: oxygen near the surface [mg/L], 0 to 40.
    bottom_do_mg_l: oxygen at the bottom [mg/L], 0 to 40; unknown counts as less than 2 in the
        warm season and as 2 to 4 else.
    smell: foul smell or black water within the first minutes.
    stop_sign: fish gasping, dark water spreading, or another sign at which a ramp stops.
    cold_water_fish: such as trout.
    fish: none, warm_water, cold_water or unknown, instead of the yes or no.
    past_kill: whether fish died here before; unknown counts as yes.
    ice: whether there is any ice; unknown counts as yes.
    ice_state: open, skim, partial, full, rotten or unknown, instead of the yes or no.
    layered_season: whether it is the warm season in which ponds layer; unknown counts as yes.
    hot_still_forecast: whether a hot, still, overcast spell is forecast within 48 hours.
    ramp_open: whether a ramp is under way.
    ramp_last_step_days: days since its last step; unknown counts as long ago.
    treatment: whether a treatment of the water is under way.
    stop_below_mg_l, stop_fall_mg_l: the firm's own limits of the stop rule [mg/L]; none: by fish.
    Returns path, name, minutes of each day, reasons, steps, what has to be waited for, cautions.
    Raises ValueError for figures that no pond has, and words that are none of these.
    Source: judgement and common practice, no source; density of Martin & McCutcheon (1999).
    """
    temps = profile_c or [t for t in (top_c, bottom_c) if t is not None]
    difference = difference_kg_m3
    if difference is None and (profile_c or None not in (top_c, bottom_c)):
        difference = readings.density_difference_kg_m3(temps)
    if surface_c is None:
        surface_c = profile_c[0] if profile_c else top_c
    _refuse(off_hours, surface_do_mg_l, bottom_do_mg_l, ramp_last_step_days)
    kind = _fish(fish, cold_water_fish)
    seen = readings.Readings(
        off_hours=off_hours,
        ran_full_time=ran_full_time,
        difference=difference,
        surface_c=surface_c,
        surface_mg_l=surface_do_mg_l,
        bottom_mg_l=bottom_do_mg_l,
        fish=kind,
        past_kill=past_kill,
        smell=smell,
        stop_sign=stop_sign,
        ice=ice if ice_state is None else ice_state.strip().lower() not in NO_ICE,
        layered_season=layered_season,
        bad_weather_coming=hot_still_forecast,
        ramp=ramp_open,
        ramp_days=ramp_last_step_days,
        limits=_limits(kind, stop_below_mg_l, stop_fall_mg_l),
    )
    deepest = temps[-1] if len(temps) > 1 else None
    return proposal(seen, bottom_c=deepest, treated=treatment)


def restart_path_code(
    off_hours: float | None = None,
    ran_full_time: bool | None = None,
    difference_kg_m3: float | None = None,
    surface_c: float | None = None,
    bottom_do_mg_l: float | None = None,
    layered_season: bool | None = None,
) -> str:
    """The row of the table alone, for figures of an ordinary pond of warm-water fish without ice.

    off_hours: since the air stopped [h]; none: it counts as the longest.
    ran_full_time: whether it ran all day before the stop; unknown counts as no.
    difference_kg_m3: density of the bottom less that of the surface [kg/m3]; none: no profile.
    surface_c: temperature of the surface [degC].
    bottom_do_mg_l: oxygen at the bottom [mg/L].
    layered_season: whether it is the season in which ponds layer; unknown counts as yes.
    Returns R3 to R8.
    Raises ValueError for figures that no pond has.
    Source: judgement and common practice, no source.
    """
    _refuse(off_hours, None, bottom_do_mg_l, None)
    return table.row_of(
        readings.Readings(
            off_hours=off_hours,
            ran_full_time=ran_full_time,
            difference=difference_kg_m3,
            surface_c=surface_c,
            bottom_mg_l=bottom_do_mg_l,
            layered_season=layered_season,
        )
    ).code


def ramp_days(
    ramp: str,
    first_on: date,
    done: list[str] | None = None,
    missed: list[str] | None = None,
    stopped: list[str] | None = None,
    resumed: list[str] | None = None,
    today: date | None = None,
) -> dict:
    """The days of a ramp with the minutes of each, as they follow from what was run.

    ramp: standard, slow, short or continuous.
    first_on: day of the first step.
    done, missed, stopped: days on which a step was run, left out or broken off; lists.
    resumed: days on which a stopped ramp was taken up again; a list.
    today: the day it is; none: the first one.
    Returns each day with its minutes, what it was, and why; whether it is complete, on hold, or
        has lapsed, so that the table is read anew.
    Raises ValueError for another ramp, or a text that is no day.
    Source: common practice, no source, and judgement.
    """
    if ramp not in RAMPS:
        raise ValueError(f"{ramp!r} is no ramp: choose {', '.join(RAMPS)}")
    minutes = RAMPS[ramp]
    walk = ramps.course(
        minutes,
        first_on,
        today or first_on,
        _ran(minutes, done, missed, stopped),
        _holds(stopped, resumed),
    )
    return {
        "days": [
            {"on": d.on, "minutes": d.minutes, "what": d.what.value, "because": d.because}
            for d in walk.days
        ],
        "complete": walk.complete,
        "lapsed": walk.lapsed,
        "held": walk.held,
    }


def stop_signs(
    fish: str = "warm_water",
    before_mg_l: float | None = None,
    after_mg_l: float | None = None,
    seen: list[str] | None = None,
) -> list[str]:
    """Why a ramp has to be stopped now, in sentences; none where nothing speaks for it.

    fish: none, warm_water, cold_water or unknown.
    before_mg_l, after_mg_l: oxygen near the surface before and after a run [mg/L].
    seen: of gasping, smell, dark_water; a list.
    Returns sentences.
    Raises ValueError for words that are none of these.
    Source: judgement; the signs are common practice, no source.
    """
    if unknown := [word for word in seen or () if word not in stops.WORDS]:
        raise ValueError(f"{unknown[0]!r} is no sign: choose {', '.join(stops.WORDS)}")
    limits = readings.LIMITS[_fish(fish, False)]
    return stops.stop_signs(limits, before_mg_l, after_mg_l, tuple(seen or ()))


def _fish(word, cold):
    if word is None:
        return readings.Fish.COLD_WATER if cold else readings.Fish.WARM_WATER
    try:
        return readings.Fish(word.strip().lower().replace("-", "_").replace(" ", "_"))
    except ValueError:
        kinds = ", ".join(readings.Fish)
        raise ValueError(f"{word!r} is none of the kinds of fish: choose {kinds}") from None


def _limits(fish, below, fall):
    if below is None and fall is None:
        return None
    usual = readings.LIMITS[fish]
    return readings.Limits(
        usual.stop_mg_l if below is None else below, usual.fall_mg_l if fall is None else fall
    )


def _refuse(off_hours, above, below, days):
    if off_hours is not None and off_hours < 0:
        raise ValueError("the hours off are 0 or more")
    for oxygen in (above, below):
        if oxygen is not None and not 0 <= oxygen <= 40:
            raise ValueError("dissolved oxygen must lie between 0 and 40 mg/L")
    if days is not None and days < 0:
        raise ValueError("the days since the last step are 0 or more")


def _ran(minutes, done, missed, stopped):
    ends = ((missed, "missed"), (stopped, "stopped"), (done, "done"))
    whole = max(minutes)
    return {
        date.fromisoformat(day): ramps.Ran(ramps.StepEnd(end), whole if end == "done" else 0)
        for days, end in ends
        for day in days or ()
    }


def _holds(stopped, resumed):
    back = sorted(date.fromisoformat(day) for day in resumed or ())
    for day in sorted(date.fromisoformat(day) for day in stopped or ()):
        later = next((on for on in back if on >= day + timedelta(days=ramps.HOLD_AT_LEAST_D)), None)
        yield ramps.Held(day, later)


CALCULATIONS = (
    Calculation(
        "restart_path",
        restart_path,
        (r"restart (?:decision|path).*",),
        {
            "hours_off": "off_hours",
            "off_hours": "off_hours",
            "diff_kg_m3": "difference_kg_m3",
            "density_difference_kg_m3": "difference_kg_m3",
            "difference_kg_m3": "difference_kg_m3",
            "top_do": "surface_do_mg_l",
            "top_do_mg_l": "surface_do_mg_l",
            "near_surface_do_mg_l": "surface_do_mg_l",
            "surface_do_mg_l": "surface_do_mg_l",
            "bottom_do": "bottom_do_mg_l",
            "bottom_do_mg_l": "bottom_do_mg_l",
            "fish_class": "fish",
            "fish": "fish",
            "stratified_season": "layered_season",
            "stratified": "layered_season",
            "layered_season": "layered_season",
            "ice_present": "ice",
            "ice": "ice",
            "forecast_hot_still_overcast": "hot_still_forecast",
            "hot_still_overcast": "hot_still_forecast",
            "hot_still_forecast": "hot_still_forecast",
            "ramp_last_step_days_ago": "ramp_last_step_days",
            "ramp_last_step_days": "ramp_last_step_days",
            "ran_full_time_before": "ran_full_time",
            "full_time_before": "ran_full_time",
            "ran_full_time": "ran_full_time",
            "fish_kill_before": "past_kill",
            "past_kill": "past_kill",
        },
    ),
    Calculation("restart_path_code", restart_path_code, (r"restart row",)),
    Calculation("ramp_days", ramp_days, (r"restart ramp days?", r"ramp (?:schedule|days)")),
    Calculation("ramp_stop_signs", stop_signs, (r"ramp stop (?:rule|signs)",)),
)
