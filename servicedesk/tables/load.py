"""What a day's van must carry: parts by model and the kit of its tasks, and where they lie."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from equipment.models import Part
from servicedesk.actions.needs import needs_of
from servicedesk.actions.stock import arrivals, is_kept, stock_now
from servicedesk.models import DueItem, Stop, StopTicket
from servicedesk.planning.stock import Given, Wanted, share_out


@dataclass(frozen=True)
class Load:
    """`parts` are (quantity, words), `by_ticket` says which of them belong to which ticket."""

    parts: list[tuple[int, str]]
    kit: list[str]
    by_ticket: dict[int, list[str]]


def load_of(tickets, day, along=()) -> Load:
    """Parts and kit of some tickets, and of work due soon that is done along. Two queries."""
    needs = needs_of([*tickets, *along], day)
    counts, by_ticket = Counter(), defaultdict(list)
    for one, wanted in needs.items():
        for need in wanted:
            counts[need.words] += need.quantity
            if not isinstance(one, DueItem):
                by_ticket[one.pk].append(f"{need.quantity} {need.words}")
    kit = dict.fromkeys(item for one in needs for item in one.task.kit)
    return Load([(count, words) for words, count in sorted(counts.items())], [*kit], by_ticket)


@dataclass
class LoadLine:
    """One part on a list: what is needed, and where it is."""

    words: str
    needed: int
    part: Part | None = None
    in_van: int = 0
    along: int = 0
    coming: int = 0
    comes_on: date | None = None
    short: int = 0


@dataclass
class DayLoad:
    """What one technician takes along on one day, or in one week."""

    lines: list[LoadLine] = field(default_factory=list)
    kit: list[str] = field(default_factory=list)
    known: bool = True  # somebody keeps the stock of this van

    @property
    def along(self) -> dict[Part, int]:
        """What the press "loaded" moves from the shelf into the van."""
        pieces = Counter()
        for line in self.lines:
            if line.part and line.along:
                pieces[line.part] += line.along
        return dict(pieces)

    @property
    def short(self) -> int:
        return sum(line.short for line in self.lines)


Day = tuple[int, date]  # technician and day


class Loads:
    """The lists of all technicians from today to a day, so that no part is promised twice.

    Ten queries, whatever the size. A day before today has its list without what lies where.
    """

    def __init__(self, first: date, last: date, *, today: date):
        self.known_from = today
        self.work = _work(min(first, today), last)
        everything = [one for those in self.work.values() for one in those]
        self.needs = needs_of(everything, today)
        self.stock, self.kept = stock_now()
        self.given: dict[tuple[int, date, int], Given] = {}
        if self.kept:
            given = share_out(self._wanted(), self.stock, arrivals(today=today))
            self.given = {(g.wanted.holder, g.wanted.day, g.wanted.part): g for g in given}

    def _wanted(self) -> Iterable[Wanted]:
        for (holder, day), those in self.work.items():
            pieces = Counter()
            for one in those:
                for need in self.needs[one]:
                    if need.part:
                        pieces[need.part.pk] += need.quantity
            if day >= self.known_from:
                yield from (Wanted(holder, day, pk, n) for pk, n in pieces.items())

    def day(self, holder: int, day: date) -> DayLoad:
        """The list of one technician's day."""
        those = self.work.get((holder, day), [])
        found: dict[str, LoadLine] = {}
        for one in those:
            for need in self.needs[one]:
                line = found.setdefault(need.words, LoadLine(need.words, 0, need.part))
                line.needed += need.quantity
        known = holder in self.kept and day >= self.known_from
        lines = [line for _, line in sorted(found.items())]
        if known:
            for pk in {line.part.pk for line in lines if line.part}:
                same = [line for line in lines if line.part and line.part.pk == pk]
                _spread(self.given[holder, day, pk], same)
        kit = dict.fromkeys(item for one in those for item in one.task.kit)
        return DayLoad(lines, [*kit], known)

    def week(self, holder: int, days: Iterable[date]) -> DayLoad:
        """The lists of some days as one, for loading once."""
        loads = [self.day(holder, day) for day in days if (holder, day) in self.work]
        sums: dict[str, LoadLine] = {}
        for line in (line for load in loads for line in load.lines):
            total = sums.setdefault(line.words, LoadLine(line.words, 0, line.part))
            for name in ("needed", "in_van", "along", "coming", "short"):
                setattr(total, name, getattr(total, name) + getattr(line, name))
            total.comes_on = line.comes_on or total.comes_on
        kit = dict.fromkeys(item for load in loads for item in load.kit)
        return DayLoad(
            [line for _, line in sorted(sums.items())],
            [*kit],
            holder in self.kept and all(load.known for load in loads),
        )

    def short_days(self, holder: int, days: Iterable[date]) -> list[tuple[date, int]]:
        """(day, parts short) of the days on which something is nowhere to be had."""
        found = ((day, self.day(holder, day).short) for day in days)
        return [(day, short) for day, short in found if short]


def _spread(given: Given, lines: list[LoadLine]) -> None:
    """Share one part among the lines of a day that ask for it: one gasket for two models."""
    left = {"in_van": given.in_van, "along": given.along, "coming": given.coming}
    for line in lines:
        wanted = line.needed
        for name, pieces in left.items():
            taken = min(wanted, pieces)
            setattr(line, name, taken)
            left[name], wanted = pieces - taken, wanted - taken
        line.short = wanted
        line.comes_on = given.comes_on if line.coming else None


def _work(first: date, last: date) -> dict[Day, list]:
    """Open tickets and work done along, by technician and day; what two people do, once."""
    rows = (
        StopTicket.objects.filter(stop__route__day__range=(first, last), ticket__closed_at=None)
        .select_related("ticket__task", "ticket__position", "stop__route")
        .order_by("stop__route__day", "stop__number", "pk")
    )
    work, seen = defaultdict(list), set()
    sizes = Counter()
    rows = list(rows)
    for row in rows:
        sizes[row.stop_id] += 1
    for row in sorted(rows, key=lambda row: (-sizes[row.stop_id], row.stop.route.technician_id)):
        if row.ticket_id not in seen:
            seen.add(row.ticket_id)
            work[row.stop.route.technician_id, row.stop.route.day].append(row.ticket)
    along = Stop.due_items.through.objects.filter(
        stop__route__day__range=(first, last), stop__route__published_at=None
    ).select_related("dueitem__task", "dueitem__position", "stop__route")
    for row in along.order_by("pk"):
        work[row.stop.route.technician_id, row.stop.route.day].append(row.dueitem)
    return work


def short_in_week(week, *, today: date) -> list[dict]:
    """Who lacks parts on which days that are still to come; nothing where no stock is kept."""
    if week.sunday < today or not is_kept():
        return []
    loads = Loads(week.monday, week.sunday, today=today)
    days = [week.day(number) for number in range(7)]
    rows = []
    for technician in week.technicians.values():
        if found := loads.short_days(technician.pk, days):
            short = sum(pieces for _day, pieces in found)
            rows.append({"technician": technician, "days": found, "short": short})
    return rows
