"""One technician's day as the manager reads it: chart, stops, why each is there, the break."""

from django.db.models import OuterRef, Subquery
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from equipment.kinds import Quantity
from equipment.models import Reading, System
from equipment.physics.geodesy import great_circle_km
from servicedesk.charts.lanes import axis_for, hours_of
from servicedesk.charts.rounds import ChartPlace, day_chart, straight_km
from servicedesk.kinds import AnswerKind
from servicedesk.models import OwnerAnswer
from servicedesk.planning.standing import standing
from servicedesk.tables.day_lane import out_of, picture, who_is_met, worst
from servicedesk.tables.week import pond_names

ANSWER_WORDS = {
    AnswerKind.CONFIRM: ("ok", gettext_lazy("Owner confirmed")),
    AnswerKind.ANOTHER_DAY: ("late", gettext_lazy("Owner asks for another day")),
    AnswerKind.DID_IT_MYSELF: ("due", gettext_lazy("Owner did it himself")),
    AnswerKind.PROBLEM: ("late", gettext_lazy("Owner reported a problem")),
    AnswerKind.STOP_REMINDERS: ("rest", gettext_lazy("Owner wants no reminders")),
}


def pictures(read, row, unit):
    """The lane of a day and the chart of its round."""
    axis = axis_for(span for span in (row.shift, out_of(read, row)) if span)
    found = {"hours": hours_of(axis), "lane": picture(read, axis, row, who_is_met(row))}
    if row.stops:
        home, places = _home(read, row.technician), [_place(stop) for stop in row.stops]
        title = _("Chart of the round on %(day)s") % {"day": date_format(row.day, "l j F")}
        found["chart"] = day_chart(home, places, title=title, unit=unit)
        found["straight_km"] = straight_km(home, places)
    return found


def _home(read, technician):
    if technician.start_lat is not None and technician.start_lon is not None:
        return ChartPlace(technician.start_lat, technician.start_lon, _("Start"), is_water=False)
    firm = read.firm
    return ChartPlace(
        firm.shop_lat or 0, firm.shop_lon or 0, firm.shop_name or _("Shop"), is_water=False
    )


def _place(stop):
    names = pond_names(stop)
    name = names[0] if names else stop.site.name
    if len(names) > 1:
        name = f"{name} +{len(names) - 1}"
    area = next((r.ticket.pond.area_m2 for r in stop.stop_tickets.all() if r.ticket.pond), None)
    return ChartPlace(stop.site.lat, stop.site.lon, name, bool(names), area)


def stop_lines(read, row, tickets, load):
    """Each stop with all that bears on it. Two queries, whatever the number of stops."""
    pressures = _last_pressures({t.system_id for t in tickets if t.system_id})
    said = _answers([ticket.pk for ticket in tickets])
    lines = []
    for stop, extra_km in zip(row.stops, _extra_km(read, row), strict=True):
        rows = list(stop.stop_tickets.all())
        lines.append(
            {
                "stop": stop,
                "ponds": pond_names(stop),
                "standing": worst(stop, row.day),
                "jobs": [_job(one, row.day, load, pressures) for one in rows],
                "minutes": round((stop.leave_at - stop.arrive_at).total_seconds() / 60),
                "has_code": stop.has_code,
                "extra_km": extra_km,
                "ends": _ends(rows, row.day),
                "answers": [ANSWER_WORDS[k] for one in rows for k in said.get(one.ticket_id, [])],
            }
        )
    return lines


def _extra_km(read, row):
    """For each stop what it adds to the round, against driving past it; by the road factor."""
    home = _home(read, row.technician)
    spots = [(stop.site.lat, stop.site.lon) for stop in row.stops]
    spots = [(home.latitude, home.longitude), *spots, (home.latitude, home.longitude)]
    factor = read.firm.road_factor
    return [
        round(factor * float(_km(a, b) + _km(b, c) - _km(a, c)), 1)
        for a, b, c in zip(spots, spots[1:], spots[2:], strict=False)
    ]


def _km(here, there):
    return great_circle_km(*here, *there)


def _ends(rows, day):
    """The first day on which a tolerance of some work ends, if it is still to come."""
    return min((r.closes_on for r in rows if r.closes_on and r.closes_on >= day), default=None)


def lunch_shown(read, row):
    """The break in words, and the number of the stop that comes after it; 0: after the last."""
    if row.lunch is None:
        return {}
    begins = read.instant(read.number(row.day), row.lunch.from_min)
    ends = read.instant(read.number(row.day), row.lunch.until_min)
    after = next((stop.number for stop in row.stops if stop.arrive_at >= begins), 0)
    return {"lunch": (begins, ends), "lunch_before": after}


def _job(row, day, load, pressures):
    ticket = row.ticket
    return {
        "ticket": ticket,
        "standing": standing(
            day, opens_on=row.opens_on, due_on=row.due_on, closes_on=row.closes_on
        ),
        "take": load.by_ticket.get(ticket.pk, []),
        "pressure": pressures.get(ticket.system_id),
    }


def _last_pressures(systems):
    readings = (
        Reading.objects.standing()
        .filter(set__system=OuterRef("pk"), quantity=Quantity.PRESSURE, value__isnull=False)
        .order_by("-set__taken_at")
    )
    found = System.objects.filter(pk__in=systems).annotate(
        pressure_pa=Subquery(readings.values("value")[:1]),
        pressure_at=Subquery(readings.values("set__taken_at")[:1]),
    )
    return {system.pk: system for system in found if system.pressure_at}


def _answers(tickets):
    said = {}
    for answer in OwnerAnswer.objects.filter(ticket__in=tickets, undone_at=None):
        said.setdefault(answer.ticket_id, []).append(AnswerKind(answer.kind))
    return said
