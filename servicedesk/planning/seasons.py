"""The winter, spring and summer windows of a site: intervals with a hard end, or a question."""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from servicedesk.planning.calendar import add_months, month_day

TROPIC_DEG = 23.44
WINTER_OPENS_BEFORE_ICE = timedelta(days=35)
WINTER_CLOSES_BEFORE_ICE = timedelta(days=7)
SUMMER_HALF_WIDTH = timedelta(days=20)
NORTHERN_SUMMER = ("07-01", "08-10")
SHORT_WINDOW = timedelta(days=14)


class Season(StrEnum):
    """The season windows that a task may name."""

    WINTER = "winter"  # before ice: shut down, or prepare to run on
    SPRING = "spring"  # from ice-out until the water layers
    SUMMER = "summer"  # the middle of the layered season


@dataclass(frozen=True, slots=True)
class Climate:
    """The usual days of a region as month-day text, empty where nobody knows."""

    latitude: float
    has_winter: bool = True
    ice_on: str = ""
    ice_on_earliest: str = ""
    ice_out: str = ""
    layering: str = ""
    mixing: str = ""
    ice_seen_on: date | None = None  # ice was seen on it, and no ice-out since


@dataclass(frozen=True, slots=True, order=True)
class Window:
    """Days with a hard end; a window that was moved says from when on work counts for it."""

    opens_on: date
    closes_on: date
    because: str
    counts_from: date | None = None


@dataclass(frozen=True, slots=True)
class UsualDays:
    """The usual days of one winter and of the warm season after it; None where nobody knows."""

    ice_on: date | None
    ice_on_earliest: date | None
    ice_out: date | None
    layering: date | None
    mixing: date | None


def season_windows(season: str, climate: Climate, years: range) -> tuple[Window, ...]:
    """The windows of a season that begin in some calendar years.

    season: winter, spring or summer.
    climate: the region's usual days. South of the equator days that a northern region would
        have are moved by half a year. A site without winter has no winter and spring windows.
    years: calendar years in which a window may open.
    Returns windows in order; none where there is no such season, or where a day is not known.
    Raises ValueError for an unknown season or text that is no month and day.
    Source: common practice, no source; windows of 35 and 7 days before ice are a judgement.
    """
    make = {Season.WINTER: _winter, Season.SPRING: _spring, Season.SUMMER: _summer}
    if season not in make:
        raise ValueError(f"{season!r} is not a season: choose winter, spring or summer")
    if season != Season.SUMMER and not freezes(climate):
        return ()
    found = (make[Season(season)](climate, year) for year in range(years.start - 1, years.stop + 1))
    return tuple(sorted(w for w in found if w and w.opens_on.year in years))


def season_question(season: str, climate: Climate) -> str:
    """What has to be asked before a season's window can be told.

    season: winter, spring or summer.
    climate: the region's usual days.
    Returns a sentence, or nothing when all is known or the season does not exist here.
    Source: our own rule.
    """
    if season == Season.SUMMER or not freezes(climate):
        return ""
    if season == Season.WINTER and not climate.ice_on:
        return "Nobody has entered when ponds of this region usually freeze. Ask, and enter it."
    if season == Season.SPRING and not climate.ice_out:
        return "Nobody has entered when ice usually leaves here. Ask, and enter it."
    return ""


def winter_begins(winter: int, latitude: float) -> date:
    """The day from which on ice belongs to the winter that is named by a year.

    winter: the year.
    latitude: degrees, negative in the south.
    Returns 1 July of it in the north, 1 January in the south.
    Source: our own rule.
    """
    return date(winter, 1 if latitude < 0 else 7, 1)


def usual_days(climate: Climate, winter: int) -> UsualDays:
    """The usual days of one winter and of the warm season after it.

    climate: the usual days as month and day; northern ones are moved by half a year in the south.
    winter: the year in which it begins.
    Returns them as dates, each the first after the one before it.
    Raises ValueError for text that is no month and day.
    Source: our own rule.
    """
    begins = winter_begins(winter, climate.latitude)
    ice_out = _next(climate, climate.ice_out, begins)
    layering = _next(climate, climate.layering, ice_out or begins)
    ice = freezes(climate)
    return UsualDays(
        ice_on=_next(climate, climate.ice_on, begins) if ice else None,
        ice_on_earliest=_next(climate, climate.ice_on_earliest, begins) if ice else None,
        ice_out=ice_out if ice else None,
        layering=layering,
        mixing=_next(climate, climate.mixing, layering or begins),
    )


def _next(climate, text, begins):
    """The first such day from another on."""
    if not text:
        return None
    day = _day(climate, text, begins.year)
    return day if day >= begins else _day(climate, text, begins.year + 1)


def freezes(climate: Climate) -> bool:
    """Whether ponds have a winter there.

    climate: the usual days.
    Returns False where the region has none, and within the tropics without a day of ice.
    Source: our own rule.
    """
    # within the tropics only a region that says so, by its own ice day, has a winter
    return climate.has_winter and (abs(climate.latitude) >= TROPIC_DEG or bool(climate.ice_on))


def _winter(climate, year):
    if not climate.ice_on:
        return None
    ice_on = _day(climate, climate.ice_on, year)
    earliest = _day(climate, climate.ice_on_earliest or climate.ice_on, year)
    if earliest - ice_on > timedelta(days=183):  # written on the other side of New Year
        earliest = _day(climate, climate.ice_on_earliest, year - 1)
    opens = ice_on - WINTER_OPENS_BEFORE_ICE
    closes = max(min(earliest, ice_on) - WINTER_CLOSES_BEFORE_ICE, opens)
    return Window(opens, closes, f"ice usually forms about {_words(ice_on)}")


def _spring(climate, year):
    if not climate.ice_out:
        return None
    ice_out = _day(climate, climate.ice_out, year)
    closes = ice_out + SHORT_WINDOW
    if climate.layering:
        layering = _day(climate, climate.layering, year)
        layering = add_months(layering, 12) if layering < ice_out else layering
        closes = layering
    return Window(
        ice_out, closes, f"ice usually leaves about {_words(ice_out)}, and water layers after that"
    )


def _summer(climate, year):
    if climate.layering and climate.mixing:
        start, end = (_day(climate, text, year) for text in (climate.layering, climate.mixing))
        end = add_months(end, 12) if end < start else end
        middle = start + (end - start) / 2
        opens, closes = middle - SUMMER_HALF_WIDTH, middle + SUMMER_HALF_WIDTH
        return Window(
            max(opens, start), min(closes, end), "the middle of the season in which water layers"
        )
    opens, closes = (_northern(climate, text, year) for text in NORTHERN_SUMMER)
    return Window(opens, closes, "midsummer; the region's own layering days are not entered")


def _northern(climate, text, year):
    day = month_day(text, year)
    return add_months(day, -6) if climate.latitude < 0 else day


def _day(climate, text, year):
    """The day in a year, moved by half a year where a southern region has northern days."""
    day = month_day(text, year)
    if climate.latitude < 0 and _looks_northern(climate):
        moved = add_months(day, 6)
        return month_day(f"{moved:%m-%d}", year)
    return day


def _looks_northern(climate):
    """Ice that comes from September to February, or leaves from February to June."""
    if climate.ice_on:
        return int(climate.ice_on[:2]) in {9, 10, 11, 12, 1, 2}
    if climate.ice_out:
        return int(climate.ice_out[:2]) in {2, 3, 4, 5, 6}
    return bool(climate.layering) and int(climate.layering[:2]) in {3, 4, 5, 6, 7}


def _words(day):
    return f"{day.day} {day:%B}"
