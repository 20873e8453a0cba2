"""A technician's day as a lane drawn to time, with the same in words."""

from collections import defaultdict

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from servicedesk.charts.lanes import LaneStop, Span, lane
from servicedesk.models import StopTicket
from servicedesk.planning.standing import standing


def worst(stop, day):
    """Where the most pressing ticket of a stop stands on its day."""
    found = [
        standing(day, opens_on=row.opens_on, due_on=row.due_on, closes_on=row.closes_on)
        for row in stop.stop_tickets.all()
    ]
    return max(found, key=lambda one: one.lateness, default=None)


def out_of(week, row):
    """From leaving to being back."""
    if not row.route or row.route.starts_at is None:
        return None
    number = week.number(row.day)
    return Span(week.minute(row.route.starts_at, number), week.minute(row.route.ends_at, number))


def who_meets(rows):
    """Names of those who are at the same work, by the primary key of each stop; no queries."""
    there = defaultdict(list)
    for row in rows:
        for stop in row.stops:
            for one in stop.stop_tickets.all():
                there[row.day, one.ticket_id].append((row.technician, stop.pk))
    meets = defaultdict(list)
    for people in there.values():
        for technician, pk in people:
            meets[pk] += [str(one) for one, _ in people if one.pk != technician.pk]
    return {pk: sorted(set(names)) for pk, names in meets.items() if names}


def who_is_met(row):
    """The same for one day whose others are not at hand. One query, where work is for several."""
    tickets = {
        one.ticket_id: stop.pk
        for stop in row.stops
        for one in stop.stop_tickets.all()
        if one.ticket.task.crew > 1 or one.ticket.task.needs_boat
    }
    if not tickets:
        return {}
    found = StopTicket.objects.filter(ticket__in=tickets, stop__route__day=row.day)
    meets = defaultdict(set)
    for one in found.select_related("stop__route__technician__user"):
        if one.stop.route.technician_id != row.technician.pk:
            meets[tickets[one.ticket_id]].add(str(one.stop.route.technician))
    return {pk: sorted(names) for pk, names in meets.items()}


def _meeting_words(week, stop, meets):
    names = meets.get(stop.pk)
    if not names:
        return ""
    at = stop.arrive_at.astimezone(week.zone).strftime("%H:%M")
    return _("Meets %(names)s at %(at)s") % {"names": ", ".join(names), "at": at}


def picture(week, axis, row, meets=None):
    """The lane of a day, with the same in words; `meets` names others by the number of a stop."""
    meets = meets or {}
    number = week.number(row.day)
    stops = []
    for stop in row.stops:
        there = worst(stop, row.day)
        stops.append(
            LaneStop(
                stop.number,
                week.minute(stop.arrive_at, number),
                week.minute(stop.leave_at, number),
                bool(there and there.shape == "late"),
                stop.locked,
                _meeting_words(week, stop, meets),
            )
        )
    return lane(
        axis,
        words=_words(row, week, meets),
        shift=row.shift,
        away=out_of(week, row),
        stops=stops,
        lunch=row.lunch,
    )


def _words(row, week, meets):
    day = date_format(row.day, "l j F")
    if row.away:
        return f"{day}: {row.away}"
    if not row.stops:
        return _("%(day)s: nothing planned") % {"day": day}
    zone = week.zone
    said = _("%(day)s: %(count)d stops, leaves %(leaves)s, back %(back)s") % {
        "day": day,
        "count": len(row.stops),
        "leaves": row.route.starts_at.astimezone(zone).strftime("%H:%M"),
        "back": row.route.ends_at.astimezone(zone).strftime("%H:%M"),
    }
    late = [str(s.number) for s in row.stops if (w := worst(s, row.day)) and w.shape == "late"]
    for stop in row.stops:
        if stop.pk in meets:
            meeting = _meeting_words(week, stop, meets)
            said += _(", stop %(number)d: %(meeting)s") % {
                "number": stop.number,
                "meeting": meeting[0].lower() + meeting[1:],
            }
    if late:
        said += _(", overdue: stop %(numbers)s") % {"numbers": ", ".join(late)}
    if row.shift:
        ends = row.shift.until_min
        said += _(", working day ends %(end)s") % {"end": f"{ends // 60:02d}:{ends % 60:02d}"}
    return said
