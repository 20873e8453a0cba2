"""Reads daily temperatures of regions from a CSV text in an open layout; names every bad line."""

import csv
import io
import re
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from equipment.physics import units

BYTES_MAX = 4 * 1024 * 1024
ROWS_MAX = 60_000
FAULTS_MAX = 200
LAYOUT = (
    ("date", "The day, such as 2026-11-25.", "2026-11-25"),
    ("region", "The region's name; not needed where the page is told one.", "Lake country"),
    ("mean_c", "Mean of the day in degC, or mean_f in degF.", "-3.5"),
    ("min_c, max_c", "Instead of the mean: lowest and highest, or min_f and max_f.", "-8, 1"),
)
KNOWN = {"date", "region", *(f"{what}_{unit}" for what in ("mean", "min", "max") for unit in "cf")}


@dataclass(frozen=True)
class Fault:
    line: int
    says: str


@dataclass(frozen=True)
class DayRow:
    """One day of a region; its mean is that of lowest and highest where none is given."""

    region: str
    on: date
    mean_c: float
    low_c: float | None = None
    high_c: float | None = None


class NotWeather(Exception):
    """The text is no table of weather at all; the message says what to do."""


def read_weather(
    text: str, region_names: Collection[str], region: str = ""
) -> tuple[list[DayRow], list[Fault]]:
    """The days of a CSV text, and a sentence for each line that cannot be read.

    region_names: those that there are. region: whose weather it is where no column says so.
    Lines that begin with # are remarks. Raises NotWeather when there is no table in it.
    """
    lines = text.lstrip("\ufeff").splitlines()
    numbered = [(n, line) for n, line in enumerate(lines, 1) if _says_something(line)]
    if not numbered:
        raise NotWeather("There is no line in it. Paste or choose the days with their first row.")
    if len(numbered) > ROWS_MAX:
        raise NotWeather(f"These are more than {ROWS_MAX} lines. Load them in parts.")
    names, comma = _header(numbered[0][1])
    _refuse_header(names, region)
    rows, faults, seen = [], [], {}
    known = {name.casefold(): name for name in region_names}
    for number, line in numbered[1:]:
        try:
            row = _row(_cells(line, names, comma), region, known)
            where = (row.region, row.on)
            if where in seen:
                raise ValueError(f"{row.on} stands in line {seen[where]} already. Keep one.")
            seen[where] = number
            rows.append(row)
        except ValueError as error:
            faults.append(Fault(number, str(error)))
    if not rows and not faults:
        raise NotWeather("Under the names of the columns stands no day.")
    return rows, faults


def _says_something(line):
    return line.strip(" ,;\t") and not line.lstrip().startswith("#")


def _header(line):
    comma = ";" if ";" in line else ("\t" if "\t" in line else ",")
    return [cell.strip().lower() for cell in next(csv.reader([line], delimiter=comma))], comma


def _refuse_header(names, region):
    if "date" not in names:
        raise NotWeather(
            "The first row does not name the columns. Write date and mean_c into it, or date, "
            "min_c and max_c."
        )
    mean = {"mean_c", "mean_f"} & set(names)
    spans = any({f"min_{unit}", f"max_{unit}"} <= set(names) for unit in "cf")
    if not mean and not spans:
        raise NotWeather("There is no column mean_c or mean_f, nor min_c and max_c together.")
    if not region and "region" not in names:
        raise NotWeather("Choose the region, or give a column region with its name.")
    doubled = {name for name in names if name in KNOWN and names.count(name) > 1}
    if doubled:
        raise NotWeather(f"The column {sorted(doubled)[0]} stands there twice. Keep one.")


def _cells(line, names, comma):
    cells = next(csv.reader(io.StringIO(line), delimiter=comma))
    if len(cells) > len(names) and any(cell.strip() for cell in cells[len(names) :]):
        raise ValueError(
            f"There are {len(cells)} cells under {len(names)} names. A figure with a decimal "
            "comma needs semicolons between the columns."
        )
    return dict(zip(names, (cell.strip() for cell in cells), strict=False))


def _row(cells, region, known):
    name = cells.get("region") or region
    if not name:
        raise ValueError("The region is missing. Write its name.")
    if name.casefold() not in known:
        raise ValueError(f"There is no region {name!r}. Write one that the firm has.")
    low, high = _figure(cells, "min"), _figure(cells, "max")
    mean = _figure(cells, "mean")
    if mean is None:
        if low is None or high is None:
            raise ValueError("The temperature is missing. Write the mean, or lowest and highest.")
        mean = (low + high) / 2
    if low is not None and high is not None and low > high:
        raise ValueError("The lowest is above the highest. Are they in the right columns?")
    return DayRow(known[name.casefold()], _day(cells.get("date", "")), mean, low, high)


def _day(text):
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        raise ValueError(f"{text!r} is no day. Write it such as 2026-11-25.")
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"There is no day {text}. Look at month and day.") from None


def _figure(cells, what):
    """A temperature in degC, from whichever of the two columns holds it."""
    found = None
    for unit in "cf":
        text = cells.get(f"{what}_{unit}", "")
        if text:
            try:
                number = units.typed_number(text)
            except ValueError:
                raise ValueError(f"{text!r} is no temperature. Write a number.") from None
            found = units.to_stored("temperature", number, unit.upper())
            if not -70 <= found <= 50:
                raise ValueError(
                    f"{text} in {what}_{unit} is no temperature of the air: it lies between -70 "
                    "and 50 degC, -94 and 122 degF."
                )
    return found
