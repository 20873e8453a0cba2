"""What the closing page asks beside its tickets: other work, other people, dangers."""

from functools import cached_property

from customers.kinds import HazardKind, choices
from equipment.kinds import FilterCondition, PositionKind, PositionUse
from servicedesk import access
from servicedesk.actions.stock import stock_now
from servicedesk.actions.visits.sent import TRIP_TEST
from servicedesk.forms.words import TRIPS
from servicedesk.kinds import Clock, PlaceKind
from servicedesk.models import Stop, Task, Technician

COMES_BACK = [Clock.RUN, Clock.OP, Clock.CAL]  # what one does along; the rest is called for


class Beside:
    """`form` is the closing form; its `field` makes the fields."""

    def __init__(self, form):
        self.form, self.field = form, form.field

    @cached_property
    def extra(self):
        """A task that nobody planned: what, how the old filter looked, what the outlet did."""
        return {
            "what": self.field("extras.1.what"),
            "options": self._options,
            "condition": self.field("extras.1.found.condition", options=choices(FilterCondition)),
            "trip": self.field("extras.1.found.trip", options=TRIPS),
            "note": self.field("extras.1.note"),
            "fault": self.form.faults.get("extras.1"),
        }

    @cached_property
    def _options(self):
        """(value, words, system, what else it asks), of the systems on the page."""
        planned = {(ticket.task_id, ticket.place_key) for ticket in self.form.tickets}
        tasks = Task.objects.filter(active=True, rhythms__clock__in=COMES_BACK).distinct()
        return [
            (f"{task.slug}@{key}", words, system, _asks(task))
            for task in tasks.order_by("name")
            for key, words, system in self._places(task)
            if (task.pk, key) not in planned
        ]

    def _places(self, task):
        for system in self.form.systems:
            if task.place_kind == PlaceKind.SYSTEM:
                yield f"system:{system.pk}", self._named(task, system), system.pk
            if task.place_kind != PlaceKind.POSITION:
                continue
            for position in self.form.positions_of(system):
                if self._fits(task, position):
                    words = f"{self._named(task, system)}, {position.label}"
                    yield f"position:{position.pk}", words, system.pk

    def _fits(self, task, position):
        if position.kind != task.position_kind or position.use != PositionUse.IN_USE:
            return False
        kind = self.form.compressor_kind_at(position)
        return not task.compressor_kinds or kind in task.compressor_kinds

    def _named(self, task, system):
        return f"{task}, {system}" if len(self.form.systems) > 1 else str(task)

    @cached_property
    def helpers(self):
        """Who may have been there too; whoever is sent to the same ticket is ticked already."""
        crew = self._crew
        return [
            (self.field(f"helpers.{who.pk}", "yes" if who.pk in crew else ""), who)
            for who in access.colleagues(self.form.user)
        ]

    @cached_property
    def has_helpers(self):
        return any(field.value for field, _ in self.helpers)

    @cached_property
    def _crew(self):
        ticket, stop = self.form.ticket, self.form.stop
        if stop is None or (ticket.task.crew < 2 and not ticket.task.needs_boat):
            return set()
        sent = Stop.objects.filter(tickets=ticket, route__day=stop.route.day)
        return set(sent.values_list("route__technician__user", flat=True))

    @cached_property
    def danger(self):
        return {
            "kind": self.field("hazards.1.kind", options=choices(HazardKind)),
            "note": self.field("hazards.1.note"),
            "until": self.field("hazards.1.until_on"),
        }

    @cached_property
    def on_van(self):
        """How many of each part lie in the van of whoever closes; empty where nobody counts."""
        van = Technician.objects.filter(user=self.form.user).values_list("pk", flat=True).first()
        if van is None:
            return None
        pieces, kept = stock_now()
        if van not in kept:
            return None
        return {part: many for (holder, part), many in pieces.items() if holder == van}


def _asks(task):
    if task.position_kind == PositionKind.FILTER:
        return "filter"
    return "trip" if task.slug == TRIP_TEST or task.position_kind == PositionKind.GFCI else ""
