"""Daily temperatures of the weather files that come with the program, or typed, by name."""

import re
from datetime import date, timedelta

from equipment.physics import ice, units
from equipment.physics.weather import first_crossing
from servicedesk.planning.calculations.engine import Calculation
from servicedesk.planning.stations import TYPICAL_YEAR, Station, missing_and_doubled, station

SEASON = re.compile(r"(\d{4})\D(\d{4})")


def weather_range(dataset: str) -> dict:
    """How many days a weather file has, and from when to when.

    dataset: the name of the file, such as seattle_weather.
    Returns rows, first and last day.
    Raises ValueError for a file that there is none of.
    Source: the file; it names its own source.
    """
    days = _days(station(dataset))
    return {"rows": station(dataset).rows, "first": days[0], "last": days[-1]}


def weather_shape(dataset: str) -> dict:
    """What an hourly weather file has left out or doubled.

    dataset: the name of the file, such as seattle_temps.
    Returns rows, the hours that are missing, and how many stand there twice.
    Raises ValueError for a file that there is none of.
    Source: the file; it names its own source.
    """
    found = station(dataset)
    missing, doubled = missing_and_doubled(found.stamps)
    return {
        "rows": found.rows,
        "missing_hours": [str(hour) for hour in missing],
        "duplicate_stamps": doubled,
    }


def freezing_days_of_year_c(dataset: str, year: int | None = None, base_c: float = 0.0) -> float:
    """Freezing degree-days of a calendar year; days of thaw count nothing.

    dataset: the name of the weather file.
    year: of the calendar; a typical year has none.
    base_c: below which a day's mean counts [degC], -20 to 20.
    Returns degC days.
    Raises ValueError for a file or a year that there is none of.
    Source: definition; the mean of a day is that of its hours, or of its lowest and highest.
    """
    return _cold(_year(station(dataset), year), base_c, net=False)


def freezing_days_of_winter_c(dataset: str, season: str, base_c: float = 0.0) -> float:
    """Freezing degree-days of a winter season, July to June; days of thaw count nothing.

    dataset: the name of the weather file.
    season: its two years, such as 2014-2015.
    base_c: below which a day's mean counts [degC], -20 to 20.
    Returns degC days.
    Raises ValueError for a file or a season that there is none of.
    Source: definition.
    """
    found = SEASON.fullmatch(season.strip())
    if not found or int(found[2]) != int(found[1]) + 1:
        raise ValueError(f"{season!r} is no winter season: write its two years, such as 2014-2015")
    first, last = date(int(found[1]), 7, 1), date(int(found[2]), 6, 30)
    return _cold(_between(station(dataset), first, last), base_c, net=False)


def most_net_freezing_days_c(dataset: str, year: int | None = None, form: str = "") -> float:
    """The most cold that stood against thaw at any time of a calendar year.

    dataset: the name of the weather file.
    year: of the calendar; a typical year has none.
    form: how it is added up; only the running sum that thaw takes from, down to nothing.
    Returns degC days.
    Raises ValueError for a file or a year that there is none of.
    Source: definition, the form that agencies use.
    """
    if form not in {"", "running max(0, s - T)"}:
        raise ValueError("the only form is the running sum: running max(0, s - T)")
    sums = [0.0]
    for mean in _year(station(dataset), year):
        sums.append(max(0.0, sums[-1] - mean))
    return max(sums)


def mean_of_year(dataset: str, year: int | None = None) -> float:
    """The mean of the daily means of a year.

    dataset: the name of the weather file.
    year: of the calendar; empty for all days that the file has.
    Returns it in the unit of the file, degC or degF.
    Raises ValueError for a file or a year that there is none of.
    Source: definition.
    """
    found = station(dataset)
    return _mean(_year(found, year, found.means) if year else list(found.means.values()))


def frost_days(dataset: str, year: int | None = None) -> int:
    """How many days of a year had a lowest temperature below freezing.

    dataset: the name of the weather file.
    year: of the calendar; a typical year has none.
    Returns days.
    Raises ValueError for a file or a year that there is none of.
    Source: definition.
    """
    found = station(dataset)
    freezing = 32 if found.fahrenheit else 0
    return sum(low < freezing for low in _year(found, year, found.lowest))


def mean_of_month_c(dataset: str, month: int, year: int | None = None) -> float:
    """The mean of the daily means of a month.

    dataset: the name of the weather file.
    month: 1 to 12.
    year: of the calendar; a typical year has none.
    Returns degC.
    Raises ValueError for a file, a year or a month that there is none of.
    Source: definition.
    """
    if not 1 <= month <= 12:
        raise ValueError("a month is a number from 1 to 12")
    found = station(dataset)
    days = {day: mean for day, mean in found.means_c.items() if day.month == month}
    return _mean(_year(found, year, days))


def typical_year(dataset: str) -> dict:
    """How many days a typical year has, and its mean.

    dataset: the name of the weather file.
    Returns days, and the mean [degC].
    Raises ValueError for a file that there is none of.
    Source: definition.
    """
    means = list(station(dataset).means_c.values())
    return {"days": len(means), "mean_C": _mean(means)}


def typical_cold(dataset: str) -> dict:
    """The mean of a typical year, and its freezing degree-days.

    dataset: the name of the weather file.
    Returns the mean [degC], and the freezing degree-days [degC day].
    Raises ValueError for a file that there is none of.
    Source: definition.
    """
    means = list(station(dataset).means_c.values())
    return {"mean_C": _mean(means), "fdd_C": ice.freezing_degree_days(means)}


def mean_crossing(
    limit: float,
    unit: str,
    way: str,
    search_from: str,
    search_to: str,
    dataset: str = "",
    year: int | None = None,
    window_days: int = 30,
    window: str = "",
    first_on: date | None = None,
    daily_mean_c: list[float] | None = None,
) -> str | None:
    """The first day on which a trailing mean of the air reaches a limit, or falls below it.

    limit: in the unit that is named.
    unit: degC or degF, of the limit.
    way: at or above, or below.
    search_from, search_to: the first and the last day looked at, such as 2012-02-01; month and
        day alone, such as 02-01, in a typical year.
    dataset: the name of a weather file; or give first_on and daily_mean_c.
    year: said beside the days, and no more.
    window_days: of the mean, 1 to 366.
    window: the mean is always the trailing one, which ends on the day.
    first_on: the first of the typed days.
    daily_mean_c: the mean of each typed day [degC], in order; a list.
    Returns the day, or month and day as it was asked; nothing where there is none.
    Raises ValueError for a file that there is none of, or days that are none.
    Source: definition.
    """
    if unit.lower() not in {"degc", "degf"} or way not in {"at or above", "below"}:
        raise ValueError("the unit is degC or degF, and the way is at or above, or below")
    if window and not window.startswith("trailing"):
        raise ValueError("the mean is the trailing one: it ends on its day")
    if bool(dataset) == bool(daily_mean_c):
        raise ValueError("name a dataset, or give first_on and daily_mean_c")
    days = station(dataset).means_c if dataset else _typed(first_on, daily_mean_c)
    limit_c = units.to_stored("temperature", limit, "F") if unit.lower() == "degf" else limit
    begin, end = _asked_day(search_from), _asked_day(search_to)
    if end - begin > timedelta(days=3700):
        raise ValueError("the days looked at are at most ten years")
    found = first_crossing(
        days, limit_c, begin, end, rising=way == "at or above", window_days=window_days
    )
    return found and found.isoformat()[-len(search_from.strip()) :]


def _asked_day(text):
    text = text.strip()
    try:
        return date.fromisoformat(f"{TYPICAL_YEAR}-{text}" if len(text) == 5 else text)
    except ValueError:
        raise ValueError(f"{text!r} is no day: write 2012-02-01, or 02-01") from None


def _typed(first_on, means):
    if first_on is None:
        raise ValueError("say with first_on which day the first mean is of")
    return {first_on + timedelta(days=n): mean for n, mean in enumerate(means)}


def _days(found: Station):
    return sorted(found.means)


def _year(found: Station, year, figures=None):
    """The figures of a year, day by day; of all days where the file is of one year alone."""
    figures = found.means_c if figures is None else figures
    years = {day.year for day in found.means}
    if found.typical or (year is None and len(years) == 1):
        return [figures[day] for day in sorted(figures)]
    if year not in years:
        raise ValueError(f"say a year from {min(years)} to {max(years)}")
    return [figures[day] for day in sorted(figures) if day.year == year]


def _between(found: Station, first, last):
    means = found.means_c
    days = [day for day in sorted(means) if first <= day <= last]
    if found.typical or not days or days[0] != first or days[-1] != last:
        raise ValueError("the file does not have all days from July to June of that season")
    return [means[day] for day in days]


def _cold(means, base_c, *, net):
    if not -20 <= base_c <= 20:
        raise ValueError("the base lies between -20 and 20 degC")
    return ice.freezing_degree_days([mean - base_c for mean in means], net)


def _mean(figures):
    return sum(figures) / len(figures)


_PLACE = r"(?:,.*)?"
_BASE = {"base_C": "base_c"}
CALCULATIONS = (
    Calculation("weather_range", weather_range, (r"rows and date range",)),
    Calculation("weather_shape", weather_shape, (rf"shape of the file{_PLACE}", r"shape of .*")),
    Calculation(
        "freezing_days_of_year_c",
        freezing_days_of_year_c,
        (r"freezing degree.days of the (?:calendar|typical) year.*",),
        _BASE,
    ),
    Calculation(
        "freezing_days_of_winter_c",
        freezing_days_of_winter_c,
        (r"freezing degree.days of the winter season july to june.*",),
        _BASE,
    ),
    Calculation(
        "most_net_freezing_days_c",
        most_net_freezing_days_c,
        (r"largest net accumulated freezing degree.days within the calendar year.*",),
    ),
    Calculation(
        "mean_of_year",
        mean_of_year,
        (r"mean of the daily means over the year.*", r"mean of daily means.*"),
    ),
    Calculation("frost_days", frost_days, (r"days with minimum below 0 degc.*",)),
    Calculation("mean_of_month_c", mean_of_month_c, (r"mean temperature of a month.*",)),
    Calculation("typical_year", typical_year, (r"days and mean of the typical year.*",)),
    Calculation(
        "typical_cold",
        typical_cold,
        (r"mean and freezing degree.days of the typical year.*",),
    ),
    Calculation(
        "mean_crossing",
        mean_crossing,
        (
            r"first date the trailing 30.day mean (?:air temperature )?is "
            r"(?P<way>at or above|below) (?P<limit>-?\d+(?:[. ]\d+)?) (?P<unit>deg[cf])\b.*",
        ),
        {"daily_mean_C": "daily_mean_c"},
    ),
)
