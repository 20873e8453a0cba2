"""The season plan of a pond: days that were seen, else those nearby, else usual; windows on them.

A winter is named by the year it begins in: July to June in the north, the calendar year in the
south. What is seen at the pond itself goes before what is seen nearby, and that before what is
usual; where nobody knows, the plan asks.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import median_low

from servicedesk.kinds import ObservationKind
from servicedesk.planning.due.sentences import day as said_on
from servicedesk.planning.seasons import (
    SHORT_WINDOW,
    WINTER_CLOSES_BEFORE_ICE,
    WINTER_OPENS_BEFORE_ICE,
    Climate,
    Season,
    Window,
    freezes,
    season_windows,
    usual_days,
    winter_begins,
)

LOOK_AGAIN = timedelta(days=7)  # after ice came back; a judgement
COUNTS_BEFORE = timedelta(days=30)  # work so long before a window that was moved still counts
WINTERS_LOOKED_BACK = 5
WINTERS_THAT_TELL = 3  # fewer say nothing about what is usual; a judgement
FAR_OFF = timedelta(days=45)  # an ice-out so far from the usual day waits for a manager
HALF_YEAR = timedelta(days=183)
WARM_SEASON = timedelta(days=220)


@dataclass(frozen=True, slots=True, order=True)
class Seen:
    """Something seen from the bank on a day, at the pond itself or nearby."""

    on: date
    kind: ObservationKind
    here: bool = True


@dataclass(frozen=True, slots=True)
class PondDay:
    """A day of the plan, and what it rests on in words."""

    on: date
    basis: str  # "seen here", "seen nearby", "usual here" or "usual in the region"

    @property
    def was_seen(self) -> bool:
        return self.basis.startswith("seen")


@dataclass(frozen=True, slots=True)
class PondYear:
    """One winter of a pond and the warm season after it; an unknown day is a question."""

    winter: int
    ice_on: PondDay | None = None
    ice_on_earliest: date | None = None
    ice_out: PondDay | None = None
    layering: PondDay | None = None
    mixing: PondDay | None = None
    refrozen_on: date | None = None


def pond_year(climate: Climate, seen: Iterable[Seen], winter: int) -> PondYear:
    """The days of one winter of a pond and of the warm season after it.

    climate: the usual days of the region, or those that the site has of its own.
    seen: what was seen at the pond and nearby, in any order.
    winter: the year in which it begins.
    Returns each day with what it rests on; nothing where nobody knows it. Ice that came back
        after it had left takes the day of leaving away, until somebody sees it leave again.
    Source: our own rule; common practice, no source.
    """
    seen = tuple(seen)
    begins = winter_begins(winter, climate.latitude)
    ends = winter_begins(winter + 1, climate.latitude)
    ice = _nearest([s for s in seen if _is_ice(s) and begins <= s.on < ends])
    usual = usual_days(climate, winter)
    ice_on = _first(ice, ObservationKind.ICE_ON)
    left, refrozen = _last_change(ice)
    ice_out = left or _usual(climate, seen, winter, ObservationKind.ICE_OUT, usual.ice_out)
    after = ice_out.on if ice_out else begins + HALF_YEAR
    layering = _first_after(seen, ObservationKind.LAYERED, after)
    layering = layering or _region(usual.layering)
    later = layering.on if layering else after
    mixing = _first_after(seen, ObservationKind.MIXED, later) or _region(usual.mixing)
    earliest = _earliest(climate, seen, winter)
    return PondYear(
        winter=winter,
        ice_on=ice_on or _usual(climate, seen, winter, ObservationKind.ICE_ON, usual.ice_on),
        ice_on_earliest=min(filter(None, (earliest, usual.ice_on_earliest)), default=None),
        ice_out=ice_out,
        layering=layering,
        mixing=mixing,
        refrozen_on=refrozen,
    )


def pond_windows(
    season: str, climate: Climate, years: range, seen: tuple[Seen, ...] = ()
) -> tuple[Window, ...]:
    """The windows of a season at a pond that begin in some calendar years.

    season: winter, spring or summer.
    climate: the usual days of the region, or those that the site has of its own.
    years: calendar years in which a window may open.
    seen: what was seen at the pond and nearby; without any the windows are the usual ones.
    Returns windows in order; one that was moved says so, and from when work counts for it.
    Raises ValueError for an unknown season, or text that is no month and day.
    Source: common practice, no source; the days before and after ice are a judgement.
    """
    if not seen or season == Season.SUMMER:
        return season_windows(season, climate, years)
    make = {Season.WINTER: winter_window, Season.SPRING: spring_window}
    if season not in make:
        raise ValueError(f"{season!r} is not a season: choose winter, spring or summer")
    plans = (pond_year(climate, seen, year) for year in range(years.start - 2, years.stop + 1))
    found = []
    for plan in plans:
        if freezes(climate) or plan.refrozen_on or _ice_was_seen(plan):
            window = make[Season(season)](plan)
            found += [window] if window and window.opens_on.year in years else []
    return tuple(sorted(found))


def winter_window(plan: PondYear) -> Window | None:
    """The days in which winter work must be done, with their hard end.

    plan: a pond's winter.
    Returns the window; None where nobody knows when ice comes. Once ice was seen it is over.
    Source: common practice, no source; 35 and 7 days before ice are a judgement.
    """
    if plan.ice_on is None:
        return None
    ice_on = plan.ice_on.on
    opens = ice_on - WINTER_OPENS_BEFORE_ICE
    if plan.ice_on.was_seen:
        closes, words = ice_on, f"ice was {plan.ice_on.basis} on {said_on(ice_on)}"
    else:
        earliest = min(filter(None, (plan.ice_on_earliest, ice_on)))
        closes = max(earliest - WINTER_CLOSES_BEFORE_ICE, opens)
        place = " here" if plan.ice_on.basis == "usual here" else ""
        words = f"ice usually forms{place} about {ice_on.day} {ice_on:%B}"
    return Window(opens, closes, words, opens - COUNTS_BEFORE if plan.ice_on.was_seen else None)


def spring_window(plan: PondYear) -> Window | None:
    """The days in which a pond may be restarted, from ice-out until its water layers.

    plan: a pond's winter and the warm season after it.
    Returns the window; None where nobody knows when ice leaves. Where ice came back after it had
        left, it opens a week later at the earliest, and says so.
    Source: common practice, no source; that week is a judgement.
    """
    if plan.refrozen_on:
        usual = plan.ice_out.on if plan.ice_out else plan.refrozen_on
        opens = max(usual, plan.refrozen_on + LOOK_AGAIN)
        words = (
            f"ice was seen again on {said_on(plan.refrozen_on)} after it had left; look from the "
            "bank before anything is started"
        )
    elif plan.ice_out is None:
        return None
    else:
        opens = plan.ice_out.on
        words = (
            f"ice-out was {plan.ice_out.basis} on {said_on(opens)}"
            if plan.ice_out.was_seen
            else f"ice usually leaves about {opens.day} {opens:%B}"
        ) + ", and water layers after that"
    closes = plan.layering.on if plan.layering else opens + SHORT_WINDOW
    if plan.layering and plan.layering.was_seen:
        words += f"; layers were {plan.layering.basis} on {said_on(closes)}"
    moved = plan.refrozen_on or plan.ice_out.was_seen
    first = min(opens, plan.ice_out.on) if plan.ice_out else opens
    return Window(opens, max(closes, opens), words, first - COUNTS_BEFORE if moved else None)


def joined_windows(windows: Iterable[tuple[Window, ...]]) -> tuple[Window, ...]:
    """The windows of a system that feeds several ponds: what suits all of them.

    windows: those of each pond, in order.
    Returns windows that open with the last pond and close with the first.
    Source: our own rule.
    """
    every = list(windows)
    if len({len(one) for one in every}) != 1:
        return max(every, key=len, default=())
    found = []
    for together in zip(*every, strict=True):
        last = max(together)
        closes = max(last.opens_on, min(window.closes_on for window in together))
        found.append(replace(last, closes_on=closes))
    return tuple(found)


def is_reversed(seen: Iterable[Seen], new: Seen, latitude: float) -> bool:
    """Whether a sighting says that ice came back after it had left in the same winter.

    seen: what was seen at the pond before.
    new: what is seen now.
    latitude: degrees, negative in the south.
    Returns True for ice after an ice-out.
    Source: our own rule.
    """
    if new.kind != ObservationKind.ICE_ON:
        return False
    winter = winter_of(new.on, latitude)
    begins = winter_begins(winter, latitude)
    ice = sorted(s for s in seen if _is_ice(s) and s.here and begins <= s.on <= new.on)
    return bool(ice) and ice[-1].kind == ObservationKind.ICE_OUT


def is_far_off(climate: Climate, new: Seen) -> bool:
    """Whether an ice-out lies so far from the usual day that a manager has to look at it.

    climate: the usual days.
    new: what is seen now.
    Returns True for an ice-out more than 45 days from the usual one, where that is known.
    Source: our own rule; the 45 days are a judgement.
    """
    if new.kind != ObservationKind.ICE_OUT:
        return False
    usual = usual_days(climate, winter_of(new.on, climate.latitude)).ice_out
    return usual is not None and abs(new.on - usual) > FAR_OFF


def winter_of(day: date, latitude: float) -> int:
    """The winter that a day belongs to, by the year in which it begins.

    day: any date.
    latitude: degrees, negative in the south.
    Returns a year; 2 April 2026 in the north belongs to the winter of 2025.
    Source: our own rule.
    """
    return day.year if day >= winter_begins(day.year, latitude) else day.year - 1


def _is_ice(seen):
    return seen.kind in {ObservationKind.ICE_ON, ObservationKind.ICE_OUT}


def _ice_was_seen(plan):
    return any(day and day.was_seen for day in (plan.ice_on, plan.ice_out))


def _nearest(seen):
    """What was seen here, where anything was; else what was seen nearby; by day."""
    here = [s for s in seen if s.here]
    return sorted(here or seen)


def _said(seen):
    return PondDay(seen.on, "seen here" if seen.here else "seen nearby")


def _first(seen, kind):
    return next((_said(s) for s in seen if s.kind == kind), None)


def _last_change(ice):
    """The day on which ice left for good; or the day on which it came back, and none."""
    left, back = None, None
    for sight in ice:
        if sight.kind == ObservationKind.ICE_OUT:
            left, back = left or _said(sight), None
        elif left:
            left, back = None, sight.on
    return left, back


def _first_after(seen, kind, after):
    soon = [s for s in seen if s.kind == kind and after <= s.on < after + WARM_SEASON]
    return _first(_nearest(soon), kind)


def _region(day):
    return PondDay(day, "usual in the region") if day else None


def _usual(climate, seen, winter, kind, of_region):
    """What is usual at this pond, by at least three of its last five winters; else regionally."""
    offsets = _offsets(climate, seen, winter, kind)
    if len(offsets) >= WINTERS_THAT_TELL:
        begins = winter_begins(winter, climate.latitude)
        return PondDay(begins + timedelta(days=median_low(offsets)), "usual here")
    return _region(of_region)


def _earliest(climate, seen, winter):
    offsets = _offsets(climate, seen, winter, ObservationKind.ICE_ON)
    begins = winter_begins(winter, climate.latitude)
    return begins + timedelta(days=min(offsets)) if offsets else None


def _offsets(climate, seen, winter, kind):
    """How many days into each of the last winters it was seen here."""
    found = {}
    for sight in sorted(s for s in seen if s.here and s.kind == kind):
        of = winter_of(sight.on, climate.latitude)
        if winter - WINTERS_LOOKED_BACK <= of < winter:
            days = (sight.on - winter_begins(of, climate.latitude)).days
            found[of] = days if kind == ObservationKind.ICE_OUT else found.get(of, days)
    return list(found.values())
