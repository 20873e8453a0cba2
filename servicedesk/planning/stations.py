"""The weather files that come with the program: real measurements, to try calculations on.

They are excerpts of files that public packages ship; each names its source in its first line.
"""

import csv
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parents[2] / "fixtures" / "weather"
TYPICAL_YEAR = 2001  # stands for a year stitched from months of several; it has 365 days


@dataclass(frozen=True)
class Station:
    """Daily temperatures in the unit of the file; `hours` are its stamps, where it has hours."""

    fahrenheit: bool
    typical: bool
    means: dict[date, float]
    lowest: dict[date, float]
    rows: int
    stamps: tuple[datetime, ...] = ()

    @property
    def means_c(self) -> dict[date, float]:
        if not self.fahrenheit:
            return self.means
        return {day: (mean - 32) / 1.8 for day, mean in self.means.items()}


def station_names() -> list[str]:
    """The names of the weather files.

    Returns names such as seattle_weather, in order.
    Source: fixtures/weather.
    """
    return sorted(path.stem for path in FOLDER.glob("*.csv"))


@cache
def station(name: str) -> Station:
    """The days of one weather file.

    name: such as seattle_weather.
    Returns its days.
    Raises ValueError for a name that there is no file of.
    Source: the first line of each file in fixtures/weather.
    """
    if name not in station_names():
        raise ValueError(f"there are no weather files {name!r}: choose {_joined(station_names())}")
    lines = (FOLDER / f"{name}.csv").read_text().splitlines()
    notes = [line for line in lines if line.startswith("#")]
    head, *rows = csv.reader(lines[len(notes) :])
    if head[1:] == ["min_c", "max_c"]:
        return _of_days(rows)
    return _of_hours(head[1:], rows, fahrenheit="# unit: degF" in notes)


def _of_days(rows):
    lowest = {date.fromisoformat(day): float(low) for day, low, _ in rows}
    means = {date.fromisoformat(day): (float(low) + float(high)) / 2 for day, low, high in rows}
    return Station(False, False, means, lowest, len(rows))


def _of_hours(hours, rows, *, fahrenheit):
    typical = len(rows[0][0]) == 5
    means, lowest, stamps = {}, {}, []
    for text, *cells in rows:
        day = date.fromisoformat(f"{TYPICAL_YEAR}-{text}" if typical else text)
        found = {hour: float(cell) for hour, cell in zip(hours, cells, strict=True) if cell}
        means[day] = sum(found.values()) / len(found)
        lowest[day] = min(found.values())
        midnight = datetime.combine(day, datetime.min.time())
        stamps += [midnight + timedelta(hours=int(hour[:2])) for hour in found]
    return Station(fahrenheit, typical, means, lowest, len(stamps), tuple(stamps))


def missing_and_doubled(stamps: tuple[datetime, ...]) -> tuple[list[datetime], int]:
    """The hours that a file of hours has left out, and how many stand in it twice.

    stamps: the hours of a file.
    Returns the hours left out between its first and its last, and the number of doubled ones.
    Source: definition.
    """
    if not stamps:
        return [], 0
    counted, hour, missing = Counter(stamps), min(stamps), []
    while hour <= max(stamps):
        if hour not in counted:
            missing.append(hour)
        hour += timedelta(hours=1)
    return missing, sum(times - 1 for times in counted.values())


def _joined(names):
    return ", ".join(names[:-1]) + f" or {names[-1]}"
