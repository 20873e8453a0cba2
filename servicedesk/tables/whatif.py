"""Two simulated years as people read them: sums, months, pictures, and what was assumed."""

import csv
import io
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from equipment.physics import units
from servicedesk.charts.months import month_bars
from servicedesk.kinds import PlanState
from servicedesk.models import WhatIf
from servicedesk.planning.whatif.comparison import Comparison, compare, cost_of
from servicedesk.planning.whatif.months import Month, Months, Rates
from servicedesk.planning.whatif.settings import Settings

AS_TODAY = Settings()


@dataclass(frozen=True)
class Measure:
    """Something that is counted month by month."""

    name: str
    unit: str
    of: object  # from a Month to a number
    in_months: bool = False  # stands in the table of months
    picture: bool = False
    decimals: int = 0


@dataclass(frozen=True)
class Line:
    """One measure or month: A, B and the difference, as text."""

    name: str
    a: str
    b: str
    more: str


def measures(rates: Rates, unit: str) -> list[Measure]:
    """What is told of a month; ways in `unit`, money in the firm's own."""
    ways_a_km = units.from_stored("distance", 1000, unit)
    return [
        Measure(_("Way"), unit, lambda m: m.km * ways_a_km, True, True),
        Measure(_("Driving"), "h", lambda m: m.drive_min / 60),
        Measure(_("Work at ponds"), "h", lambda m: m.work_min / 60),
        Measure(_("Driving and work"), "h", lambda m: (m.drive_min + m.work_min) / 60, True, True),
        Measure(_("Paid time"), "h", lambda m: m.paid_min / 60),
        Measure(_("Technician days on the road"), "", lambda m: m.days),
        Measure(_("Visits"), "", lambda m: m.visits),
        Measure(_("Tasks done"), "", lambda m: m.tasks),
        Measure(_("Late tasks"), "", lambda m: m.late, True, True),
        Measure(_("Days late, all together"), "", lambda m: m.days_late),
        Measure(_("Cost"), "", lambda m: cost_of(m, rates), True),
    ]


@dataclass(frozen=True)
class Sheet:
    """All that the page and the command show of a comparison."""

    comparison: Comparison
    headline: str
    sums: list[Line]
    heads: list[str]
    months: list[tuple[str, list[Line]]]
    parts: list[Line]
    pictures: list


def sheet_of(asked: WhatIf, *, unit: str, pictures: bool = True) -> Sheet | None:
    """What both sides have in common so far; None before there is any."""
    sides = {side.side: side for side in asked.sides.all()}
    if not all(side.result for side in sides.values()):
        return None
    a, b = (Months.from_data(sides[name].result) for name in "ab")
    found = compare(a, b)
    if not found.rows:
        return None
    rates = Rates(asked.per_km, asked.per_hour)
    told = measures(rates, unit)
    shown = [m for m in told if m.in_months]
    words = [sides[name].words for name in "ab"]
    return Sheet(
        found,
        headline(found, told, words, asked.weeks),
        _sums(found, told),
        [f"{m.name}, {m.unit}" if m.unit else m.name for m in shown],
        [(_month(a.name), [_line(m, a, b) for m in shown]) for a, b in found.rows],
        _parts(found),
        [_picture(m, found) for m in told if m.picture] if pictures else [],
    )


def headline(found: Comparison, told: list[Measure], words, weeks: int) -> str:
    """The comparison in one sentence: what is late, driven and paid under B instead of A."""
    way, cost = told[0], told[-1]
    begin = "; ".join(words[1]) or _("As today")
    over = ngettext("%(count)d late task", "%(count)d late tasks", found.late_b) % {
        "count": found.late_b
    }
    span = _("in %(weeks)d weeks") % {"weeks": weeks} if found.is_whole else _("so far")
    said = _("%(begin)s: %(over)s %(span)s instead of %(before)d") % {
        "begin": begin,
        "over": over,
        "span": span,
        "before": found.late_a,
    }
    km = round(way.of(found.b)) - round(way.of(found.a))
    money = round(cost.of(found.b)) - round(cost.of(found.a))
    return f"{said}; {_more(km, way.unit)}; {_('cost')} {_more(money, '')}."


def _more(value: float, unit: str) -> str:
    number = number_format(round(abs(value)), 0, use_l10n=True, force_grouping=True)
    with_unit = f"{number} {unit}".strip()
    if round(value) == 0:
        return _("the same %(unit)s") % {"unit": unit} if unit else _("the same")
    return (_("%(value)s more") if value > 0 else _("%(value)s less")) % {"value": with_unit}


def _sums(found: Comparison, told: list[Measure]) -> list[Line]:
    lines = []
    for m in told:
        name = f"{m.name}, {m.unit}" if m.unit else m.name
        if m.name == _("Late tasks"):
            late = _numbers(found.late_a, found.late_b, 0)
            said = _("Late tasks, with those still undone") if found.is_whole else name
            lines.append(Line(said, *late))
        else:
            line = _line(m, found.a, found.b)
            lines.append(Line(name, line.a, line.b, line.more))
    return lines


def _line(m: Measure, a: Month, b: Month) -> Line:
    return Line(m.name, *_numbers(m.of(a), m.of(b), m.decimals))


def _numbers(a: float, b: float, decimals: int) -> tuple[str, str, str]:
    """The difference is that of the printed figures, so that a reader can check it."""
    a, b = round(a, decimals), round(b, decimals)
    return _number(a, decimals), _number(b, decimals), signed(b - a, decimals)


def _number(value: float, decimals: int = 0) -> str:
    return number_format(value, decimals, use_l10n=True, force_grouping=True)


def signed(value: float, decimals: int = 0) -> str:
    """A difference with its sign; a true minus, and nothing before nought."""
    sign = "+" if value > 0 else "\u2212" if value < 0 else ""
    return f"{sign}{_number(abs(value), decimals)}"


def _parts(found: Comparison) -> list[Line]:
    kinds = sorted({*found.a.parts, *found.b.parts})
    return [
        Line(kind.replace("_", " "), *_numbers(found.a.parts[kind], found.b.parts[kind], 0))
        for kind in kinds
    ]


def _month(name: str) -> str:
    return date_format(date.fromisoformat(f"{name}-01"), "F Y")


def _picture(m: Measure, found: Comparison):
    rows = [
        (
            date_format(date.fromisoformat(f"{a.name}-01"), "M"),
            _month(a.name),
            m.of(a),
            m.of(b),
        )
        for a, b in found.rows
    ]
    said = "; ".join(
        _("%(month)s: A %(a)s, B %(b)s") % {"month": name, "a": _number(a), "b": _number(b)}
        for _short, name, a, b in rows
    )
    described = _("Pairs of bars, one pair a month. %(said)s.") % {"said": said}
    return month_bars(rows, title=m.name, unit=m.unit, described=described)


def csv_of(asked: WhatIf, *, unit: str) -> bytes:
    """Every measure of every month: A, B and the difference, as plain numbers."""
    sides = {side.side: side for side in asked.sides.all()}
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    told = measures(Rates(asked.per_km, asked.per_hour), unit)
    writer.writerow([_("Month"), _("Measure"), _("Unit"), "A", "B", _("Difference")])
    if all(side.result for side in sides.values()):
        found = compare(*(Months.from_data(sides[name].result) for name in "ab"))
        for a, b in found.rows:
            for m in told:
                values = [round(m.of(a), 1), round(m.of(b), 1)]
                row = [*values, round(values[1] - values[0], 1)]
                writer.writerow([a.name, m.name, m.unit, *(f"{value:g}" for value in row)])
            for kind in sorted({*a.parts, *b.parts}):
                pieces = [a.parts[kind], b.parts[kind]]
                words = _("Part: %(kind)s") % {"kind": kind.replace("_", " ")}
                writer.writerow([a.name, words, "", *pieces, pieces[1] - pieces[0]])
    return out.getvalue().encode("utf-8-sig")


def changes_in_words(settings: Settings, people: dict[str, str], tasks: dict[str, str]):
    """What a setting changes, a sentence each; nothing for the firm as it is."""
    said = []
    if settings.absent:
        names = ", ".join(people.get(key, key) for key in settings.absent)
        count = len(settings.absent)
        words = ngettext(
            "One technician fewer (%(names)s)", "%(count)d technicians fewer (%(names)s)", count
        )
        said.append(words % {"names": names, "count": count})
    if settings.added:
        words = ngettext("One technician more", "%(count)d technicians more", settings.added)
        said.append(words % {"count": settings.added})
    if settings.ponds:
        words = ngettext("One pond more", "%(count)d ponds more", settings.ponds)
        said.append(words % {"count": settings.ponds})
    if settings.factor != 1:
        said.append(_("All intervals times %(factor)g") % {"factor": settings.factor})
    said += [
        _("%(task)s every %(every)s") % {"task": tasks.get(slug, slug), "every": _every(interval)}
        for slug, interval in settings.intervals.items()
    ]
    if settings.shop:
        lat, lon = settings.shop
        said.append(_("The shop at %(lat)g, %(lon)g") % {"lat": lat, "lon": lon})
    if settings.full_percent:
        said.append(_("Days filled to %(percent)d %%") % {"percent": settings.full_percent})
    return said


def _every(interval) -> str:
    if not interval.unit:
        return _("interval times %(factor)g") % {"factor": interval.every}
    words = {"d": _("%g days"), "h": _("%g running hours"), "month": _("%g months")}
    return words[interval.unit] % interval.every


def assumptions(asked: WhatIf, *, unit: str) -> list[str]:
    """What a reader has to know before he believes the figures."""
    ways_a_km = units.from_stored("distance", 1000, unit)
    runs = [Months.from_data(side.result) for side in asked.sides.all() if side.result]
    said = [
        _(
            "Every Monday the due days are worked out and the week is planned three weeks ahead, "
            "as in the real week, with %(count)d rounds of the search for each where a real week "
            "has thousands."
        )
        % {"count": asked.iterations},
        _(
            "Both settings have the same sites and the same draw (number %(seed)d). A search is "
            "partly chance: ask again with another number to see how far figures move by chance "
            "alone, before you trust a small difference."
        )
        % {"seed": asked.seed},
        _("All that is planned is done on its day. Nobody is ill but for absences on record."),
        _(
            "Systems go into winter and out of it on the days of the last year once more; without "
            "a winter on record, at the end of its season window. What is out of order stays so."
        ),
        _(
            "No failures, calls or findings beyond those of today. Closed roads, days without "
            "visits and the hours in which sites are open are kept as they are on record. Times "
            "promised to owners are left aside, as is the light of the day for boats."
        ),
        _(
            "What lies in the vans and on the shelf, and what is on order, is left aside: every "
            "part is there when it is wanted."
        ),
        _("What owners look after themselves stays with them. Paperwork is left aside."),
        _(
            "Late is what is done after the end of its tolerance, or still undone after it. A "
            "task that was late when the year began is done, but not counted as late."
        ),
        _(
            "Cost is driving and all paid time, filled or not: %(way).2f a %(unit)s and %(hour)g "
            "an hour, in your money. Parts are counted, not priced."
        )
        % {"way": asked.per_km / ways_a_km, "unit": unit, "hour": asked.per_hour},
        _("Parts are those that the task's list names, once for each time that it is done."),
    ]
    return said + _found_in(runs)


def _found_in(runs):
    """What the simulated years themselves have to add."""
    said = []
    by_hand = max((run.total.by_hand for run in runs), default=0)
    if by_hand:
        said.append(
            _(
                "Work for two people or from a boat that the planner leaves to you (up to "
                "%(count)d times) is done on its due day by two people. Its hours are counted, "
                "its way is not."
            )
            % {"count": by_hand}
        )
    if runs and runs[0].inherited:
        said.append(
            ngettext(
                "%(count)d task was late already on the first day.",
                "%(count)d tasks were late already on the first day.",
                runs[0].inherited,
            )
            % {"count": runs[0].inherited}
        )
    return said


def progress_of(asked: WhatIf):
    """How far a comparison is; None where none is under way."""
    if asked.state not in (PlanState.QUEUED, PlanState.RUNNING):
        return None
    sides = list(asked.sides.defer("result").order_by("side"))
    weeks = sum(side.done_weeks for side in sides)
    read = sum(side.read_percent for side in sides)
    percent = (read / 20 + 90 * weeks / asked.weeks) / len(sides) if sides else 0
    return {
        "percent": min(99, round(percent)),
        "started": any(side.read_percent or side.done_weeks for side in sides),
        "sides": [(side.side.upper(), side.done_weeks) for side in sides],
        "weeks": asked.weeks,
        "stopping": asked.cancel_asked_at is not None,
    }
