"""The winter that a day belongs to, and the day by which its plan is decided."""

from datetime import date

from servicedesk.planning.seasons import Climate, Season, season_windows

ASK_FROM = (9, 1)
DECIDE_BY = (9, 15)  # common practice, no source
WINTER_ENDS = (6, 1)  # summer is near: the notice has lapsed everywhere


def winter_year(climate: Climate, on: date) -> int:
    """The calendar year in which the winter of a day begins.

    climate: of the place; only its latitude counts.
    on: the day.
    Returns in the north the year of the last 1 June, in the south that of the last 1 December
        and one more: winter there begins and ends in one calendar year.
    Source: our own rule.
    """
    if climate.latitude >= 0:
        return on.year if (on.month, on.day) >= WINTER_ENDS else on.year - 1
    return on.year + 1 if on.month == 12 else on.year


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
    if not _freezes(climate):
        return None
    usual = _flipped(climate, year, DECIDE_BY)
    years = range(usual.year, usual.year + 1)
    opens = [window.opens_on for window in season_windows(Season.WINTER, climate, years)]
    return min([usual, *opens])


def notice_ends(climate: Climate, year: int) -> date:
    """The day on which a notice about thin ice lapses; the next winter needs a new one.

    climate: of the place; only its latitude counts.
    year: the year in which the winter begins.
    Returns 1 June after it, in the south 1 December.
    Source: our own rule.
    """
    return date(year + 1, *WINTER_ENDS) if climate.latitude >= 0 else date(year, 12, 1)


def _flipped(climate, year, month_day):
    month, day = month_day
    return date(year, month if climate.latitude >= 0 else month - 6, day)


def _freezes(climate):
    known = Climate(climate.latitude, climate.has_winter, climate.ice_on or "12-05")
    if not climate.ice_on and abs(climate.latitude) < 23.44:
        return False
    return bool(season_windows(Season.WINTER, known, range(2024, 2026)))
