"""What was published of a week before, and what differs from it now."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from customers.models import Trail
from servicedesk.actions.routes.week import WeekOfRecords
from servicedesk.models import Stop

REOPENED = "reopened a published day"
REPUBLISHED = "published a day again"
NOTICED = timedelta(minutes=30)  # a shift of the arrival that people notice; our judgement
DayKey = tuple[int, date]  # technician and day


@dataclass(frozen=True)
class Place:
    """Where a stop stands: whose day, which day, when."""

    technician: int
    day: date
    at: datetime


@dataclass(frozen=True)
class StopChange:
    """One stop before and after; without a place before it is new, without one after it is gone."""

    uuid: str
    site: int
    was: Place | None
    will: Place | None

    @property
    def kind(self) -> str:
        """`new`, `gone`, `day`, `person`, `time`, or `same`."""
        if self.was is None or self.will is None:
            return "new" if self.was is None else "gone"
        if self.was.day != self.will.day:
            return "day"
        if self.was.technician != self.will.technician:
            return "person"
        return "time" if abs(self.will.at - self.was.at) >= NOTICED else "same"

    @property
    def minutes(self) -> int:
        """How much later it comes on its day; less than nothing: earlier."""
        return round((self.will.at - self.was.at).total_seconds() / 60)


@dataclass(frozen=True)
class ToldDay:
    """A day as it was last published, and has been opened again since."""

    technician: int
    day: date
    published_at: datetime
    stops: tuple[dict, ...]

    @property
    def sites(self) -> set[int]:
        return {stop["site"] for stop in self.stops}


def told_days(week: WeekOfRecords) -> dict[DayKey, ToldDay]:
    """The days of a week that people were told of and that are no longer published. One query."""
    days = [week.day(number).isoformat() for number in range(7)]
    rows = Trail.objects.filter(did__in=[REOPENED, REPUBLISHED], before__day__in=days)
    told: dict[DayKey, ToldDay] = {}
    for row in rows.order_by("at", "pk"):
        key = int(row.about.partition(":")[2]), date.fromisoformat(row.before["day"])
        if row.did == REPUBLISHED or row.before.get("stops") is None:
            told.pop(key, None)
        else:
            at = datetime.fromisoformat(row.before["published_at"])
            told[key] = ToldDay(*key, at, tuple(row.before["stops"]))
    for key in week.published:
        told.pop(key, None)
    return told


def changes_since(told: Iterable[ToldDay], stops: Iterable[Stop]) -> list[StopChange]:
    """Each stop that was told or is planned now, once: by its name, else by its site."""
    before = {}
    for day in told:
        for stop in day.stops:
            at = datetime.fromisoformat(stop["arrive_at"])
            before[stop["uuid"]] = stop["site"], Place(day.technician, day.day, at)
    after = {
        str(stop.uuid): (
            stop.site_id,
            Place(stop.route.technician_id, stop.route.day, stop.arrive_at),
        )
        for stop in stops
    }
    found = [
        StopChange(uuid, site, before.pop(uuid)[1], after.pop(uuid)[1])
        for uuid, (site, _place) in list(before.items())
        if uuid in after
    ]
    for uuid, (site, place) in after.items():
        same = next((name for name, (where, _was) in before.items() if where == site), None)
        was = before.pop(same)[1] if same else None
        found.append(StopChange(uuid, site, was, place))
    found += [StopChange(uuid, site, was, None) for uuid, (site, was) in before.items()]
    return sorted(found, key=_order)


ORDER = ["gone", "day", "person", "new", "time", "same"]


def _order(change: StopChange) -> tuple:
    place = change.was or change.will
    return ORDER.index(change.kind), place.day, place.at


def news_of(told: ToldDay, stops: Iterable[Stop]) -> dict:
    """What a technician finds changed on his day: sites that came and went, and when."""
    now = {stop.site_id for stop in stops}
    new, gone = sorted(now - told.sites), sorted(told.sites - now)
    if not new and not gone:
        return {}
    return {"since": told.published_at.isoformat(), "new": new, "gone": gone}
