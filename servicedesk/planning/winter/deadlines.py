"""By when the plan of a winter is decided, and until when a notice about its ice counts."""

from datetime import date

from servicedesk.planning.seasons import (
    Climate,
    Season,
    freezes,
    season_windows,
    winter_begins,
)

ASK_FROM = (9, 1)
DECIDE_BY = (9, 15)  # common practice, no source


def ask_from(climate: Climate, year: int) -> date | None:
    """The day from which an owner is asked about a winter; None where ponds do not freeze.

    climate: of the place.
    year: the year in which the winter begins.
    Returns 1 September, half a year later in the south; two weeks before the deadline where that
        is earlier.
    Source: common practice, no source.
    """
    by = decide_by(climate, year)
    if by is None:
        return None
    usual = _flipped(climate, year, ASK_FROM)
    return min(usual, date.fromordinal(by.toordinal() - 14))


def decide_by(climate: Climate, year: int) -> date | None:
    """The day by which the winter of a year is decided; None where ponds do not freeze.

    climate: of the place.
    year: the year in which the winter begins.
    Returns 15 September, in the south 15 March; earlier where the winter window opens earlier.
    Source: common practice, no source.
    """
    if not freezes(climate):
        return None
    usual = _flipped(climate, year, DECIDE_BY)
    years = range(usual.year, usual.year + 1)
    opens = [window.opens_on for window in season_windows(Season.WINTER, climate, years)]
    return min([usual, *opens])


def notice_ends(climate: Climate, year: int) -> date:
    """The day on which a notice about thin ice lapses; the next winter needs a new one.

    climate: of the place; only its latitude counts.
    year: the year in which the winter begins.
    Returns the day on which the next winter begins to be spoken of.
    Source: our own rule.
    """
    return winter_begins(year + 1, climate.latitude)


def _flipped(climate, year, month_day):
    month, day = month_day
    return date(year, month if climate.latitude >= 0 else month - 6, day)
