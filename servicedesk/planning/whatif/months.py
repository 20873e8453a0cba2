"""What a simulated year came to, month by month."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, fields
from datetime import date

from servicedesk.planning.routing.cost import CENTS_PER_HM
from servicedesk.planning.routing.sorting import CENTS_PER_MIN


@dataclass(frozen=True)
class Rates:
    """What driving and paid time cost, in the firm's money; common practice, no source."""

    per_km: float = CENTS_PER_HM / 10
    per_hour: float = round(CENTS_PER_MIN * 60 / 100)


@dataclass
class Month:
    """Sums of one calendar month. `paid_min` is all paid time, filled or not."""

    name: str = ""  # "2026-12"
    hm: int = 0
    drive_min: int = 0
    work_min: int = 0
    paid_min: int = 0
    days: int = 0  # technician days on the road
    visits: int = 0
    tasks: int = 0
    late: int = 0
    days_late: int = 0
    by_hand: int = 0  # work for two people or from a boat that the planner left to people
    parts: Counter[str] = field(default_factory=Counter)

    @property
    def km(self) -> float:
        return self.hm / 10


@dataclass
class Months:
    """A simulated year, or as much of it as was played."""

    begins_on: date
    weeks: int  # asked for
    weeks_done: int = 0
    iterations: int = 0
    seed: int = 0
    sites: int = 0
    duties: int = 0
    still_late: int = 0  # undone at the end, after their tolerance
    still_days_late: int = 0
    inherited: int = 0  # late already when the year began; counted nowhere else
    cancelled: bool = False
    rows: dict[str, Month] = field(default_factory=dict)

    def month(self, day: date) -> Month:
        name = f"{day:%Y-%m}"
        return self.rows.setdefault(name, Month(name))

    @property
    def late(self) -> int:
        """Tasks done after their tolerance, and those still undone after it."""
        return self.total.late + self.still_late

    @property
    def total(self) -> Month:
        """The sum of all months."""
        return summed(self.rows.values())

    def as_data(self) -> dict:
        rows = {name: vars(row) | {"parts": dict(row.parts)} for name, row in self.rows.items()}
        return vars(self) | {"begins_on": self.begins_on.isoformat(), "rows": rows}

    @classmethod
    def from_data(cls, data: dict) -> "Months":
        """What an older release kept is read as well: what it did not know is at its beginning."""
        rows = {
            name: Month(**_known(Month, row) | {"parts": Counter(row["parts"])})
            for name, row in data["rows"].items()
        }
        begins_on = date.fromisoformat(data["begins_on"])
        return cls(**_known(cls, data) | {"begins_on": begins_on, "rows": rows})


def summed(months: Iterable[Month]) -> Month:
    """The sum of some months.

    months: any number of them.
    Returns a Month without a name.
    Source: our own rule.
    """
    found = Month()
    for row in months:
        for name in SUMMED:
            setattr(found, name, getattr(found, name) + getattr(row, name))
        found.parts.update(row.parts)
    return found


def _known(of: type, data: dict) -> dict:
    names = {f.name for f in fields(of)}
    return {name: value for name, value in data.items() if name in names}


SUMMED = [f.name for f in fields(Month) if f.name not in {"name", "parts"}]
