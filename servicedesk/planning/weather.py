"""What the weather of a region means for its seasons: hints with their spread, and alerts.

Nothing here says what ice bears. Thickness is a hint for planning crews, and never beside a pond.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from equipment.physics import ice
from equipment.physics.weather import trailing_mean_c
from servicedesk.planning.due.sentences import day as said
from servicedesk.planning.season_plan import pond_year, spring_window, winter_of, winter_window
from servicedesk.planning.seasons import Climate, Window, winter_begins

LEAST_CM, MOST_CM = 1.7, 2.7  # per root of a degC day: lake with snow, windy lake without; memory
FROST_DAYS, FROST_C = 3, 0.0
THAW_DAYS, THAW_C = 5, 2.0
WARM_DAYS, WARM_C = 7, 15.0
HEAT_DAYS, HEAT_C = 3, 25.0
LOOKED_BACK, LOOKED_AHEAD = timedelta(days=3), timedelta(days=7)
FROST_BEFORE_WINDOW = timedelta(days=21)
NO_PERMISSION = (
    "A rough rule for planning crews. It says nothing about what ice bears: bubbles keep open "
    "water and thin ice under any cold. Nobody goes onto the ice of a pond with air."
)


class AlertKind(StrEnum):
    FROST = "frost"
    THAW = "thaw"
    WARM_SPELL = "warm_spell"
    HEAT = "heat"


@dataclass(frozen=True)
class Around:
    """The season windows that a day lies in or near; None where there is none."""

    winter: Window | None
    spring: Window | None
    ice_on: date | None
    ice_out: date | None
    layering: date | None
    mixing: date | None


@dataclass(frozen=True)
class Alert:
    """Something of the weather that an office should know, told once for its occasion."""

    kind: AlertKind
    occasion: date
    says: str
    due_on: date | None = None


@dataclass(frozen=True)
class ColdSoFar:
    """The cold of a winter up to a day, and ice as a hint with its spread, in cm."""

    since: date
    until: date
    freezing_c: float  # degC days; thaw counts nothing
    net_c: float  # thaw taken off
    thaw_c: float  # degC days above freezing since the most cold
    least_cm: float
    most_cm: float
    missing: int  # days without weather


def windows_around(climate: Climate, today: date) -> Around:
    """The season windows of a region that a day lies in, or that come next.

    climate: the region's usual days.
    today: the day.
    Returns both windows and the usual days of this winter and the warm season after it.
    Source: our own rule.
    """
    winter = winter_of(today, climate.latitude)
    plan, before = pond_year(climate, (), winter), pond_year(climate, (), winter - 1)
    warm = before if before.mixing and today <= before.mixing.on else plan
    return Around(
        winter=winter_window(plan),
        spring=spring_window(plan),
        ice_on=plan.ice_on and plan.ice_on.on,
        ice_out=plan.ice_out and plan.ice_out.on,
        layering=warm.layering and warm.layering.on,
        mixing=warm.mixing and warm.mixing.on,
    )


def cold_so_far(
    days: Mapping[date, float], climate: Climate, today: date, ice_on: date | None = None
) -> ColdSoFar | None:
    """The cold of this winter, and how much ice still water may have grown by it.

    days: mean air temperature by day [degC].
    climate: of the region, for the side of the equator.
    today: the last day that counts.
    ice_on: when ice was seen, if anybody saw it; growth counts from then on.
    Returns sums in degC days and a spread in cm; None without any weather of this winter. The
        least is 0 while nobody has seen ice, and takes thaw off; the most takes nothing off.
    Raises ValueError for means that no day has.
    Source: Stefan (1891); coefficients 1.7 to 2.7 cm from memory (USACE EM 1110-2-1612).
    """
    begins = winter_begins(winter_of(today, climate.latitude), climate.latitude)
    known = sorted(on for on in days if begins <= on <= today)
    if not known:
        return None
    since = max(ice_on or known[0], known[0])
    means = [days[on] for on in known if on >= since]
    net, thaw, most_net = 0.0, 0.0, 0.0
    for mean in means:
        net = max(0.0, net - mean)
        thaw = thaw + max(0.0, mean) if net < most_net else 0.0
        most_net = max(most_net, net)
    gross = ice.freezing_degree_days(means)
    return ColdSoFar(
        since=since,
        until=known[-1],
        freezing_c=gross,
        net_c=net,
        thaw_c=thaw,
        least_cm=100 * ice.grown_ice_m(net, LEAST_CM) if ice_on else 0.0,
        most_cm=100 * ice.grown_ice_m(gross, MOST_CM),
        missing=(today - since).days + 1 - len(means),
    )


def alerts(days: Mapping[date, float], today: date, around: Around) -> list[Alert]:
    """What the office should know of the weather of a region now.

    days: mean air temperature by day [degC], forecast days among them.
    today: the day there.
    around: the season windows of the region.
    Returns alerts, each with the occasion that it is told once for.
    Source: our own rule; how many days of which warmth is a judgement.
    """
    found = (
        _frost(days, today, around),
        _thaw(days, today, around),
        _warm_spell(days, today, around),
        _heat(days, today, around),
    )
    return [alert for alert in found if alert]


def _frost(days, today, around):
    window = around.winter
    if not window or not window.opens_on - FROST_BEFORE_WINDOW <= today <= window.closes_on:
        return None
    run = _run(days, today, FROST_DAYS, lambda mean: mean < FROST_C)
    if not run:
        return None
    says = (
        f"{_spell(run, 'Frost')}. The winter window closes on {said(window.closes_on)}; ice may "
        "come before it. Do work from boats and blow-downs first."
    )
    return Alert(AlertKind.FROST, window.opens_on, says, window.closes_on)


def _thaw(days, today, around):
    on, out = around.ice_on, around.ice_out
    if not on or not out or not on <= today <= out:
        return None
    run = _run(days, today, THAW_DAYS, lambda mean: mean > THAW_C)
    if not run:
        return None
    says = (
        f"{_spell(run, 'Thaw')}. Ice weakens and open water grows, first near the bubbles. Look "
        "from the bank whether signs stand, and when ice leaves."
    )
    return Alert(AlertKind.THAW, run[0], says)


def _warm_spell(days, today, around):
    window = around.spring
    if not window or not window.opens_on <= today <= window.closes_on:
        return None
    ahead = today + LOOKED_AHEAD
    while ahead > today and ahead not in days:
        ahead -= timedelta(days=1)
    mean = trailing_mean_c(days, ahead, WARM_DAYS)
    if mean is None or mean < WARM_C:
        return None
    says = (
        f"The seven days up to {said(ahead)} have a mean of {mean:.0f} °C "
        f"({1.8 * mean + 32:.0f} °F). Water may layer before the usual {said(window.closes_on)}: "
        "do restarts first, and take a profile before each."
    )
    return Alert(AlertKind.WARM_SPELL, window.opens_on, says, window.closes_on)


def _heat(days, today, around):
    first, last = around.layering, around.mixing
    if first and last and not first <= today <= last:
        return None
    run = _run(days, today, HEAT_DAYS, lambda mean: mean >= HEAT_C)
    if not run:
        return None
    says = (
        f"{_spell(run, 'Heat')}. Warm water holds little oxygen: consider a heat hold for the "
        "region, and have ponds looked at before sunrise."
    )
    return Alert(AlertKind.HEAT, run[0], says)


def _run(days, today, wanted, fits):
    """The first and the last of so many days in a row, around today; None without such."""
    day, last, first = today - LOOKED_BACK, today + LOOKED_AHEAD, None
    found = None
    while day <= last:
        mean = days.get(day)
        if mean is not None and fits(mean):
            first = first or day
            if (day - first).days + 1 >= wanted:
                found = (first, day)
        elif found:
            return found
        else:
            first = None
        day += timedelta(days=1)
    return found


def _spell(run, what):
    first, last = run
    return f"{what} from {said(first)} to {said(last)}, measured or forecast"
