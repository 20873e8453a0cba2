"""The page on which tickets of one site are closed: its fields, what they hold, what is wrong.

The names of the fields are the names in the payload, so a page that comes back shows every
entered value and each sentence at the field that it is about.
"""

import uuid
from collections import defaultdict
from datetime import datetime
from functools import cached_property
from zoneinfo import ZoneInfo

from customers.kinds import choices
from equipment.kinds import FilterCondition, PartRole, PositionKind, PositionUse
from equipment.models import Fitting, Part, PartFor, Position
from servicedesk import access
from servicedesk.actions.assessing import today_bands
from servicedesk.actions.claims import LOOK
from servicedesk.actions.visits.looks import units_to_read
from servicedesk.actions.visits.sent import is_trip_test
from servicedesk.forms.beside import Beside
from servicedesk.forms.blocks import Field, PartLine, SystemBlock, WorkBlock
from servicedesk.forms.gauges import Gauges
from servicedesk.forms.words import (
    CLAIMS,
    LEFT_OFF,
    NOT_DONE,
    RESTART,
    SEEN,
    SIGNS,
    SKIPS,
    THERE,
    TRIPS,
)
from servicedesk.kinds import Outcome
from servicedesk.models import Caution, DueItem, Photo
from servicedesk.planning.standing import standing

# What such a task puts in new each time; the rest is fitted only where it is needed.
WORN = {
    PartRole.FILTER_ELEMENT,
    PartRole.MEMBRANE,
    PartRole.VANE_SET,
    PartRole.REBUILD_KIT,
    PartRole.DIAPHRAGM_KIT,
}


class ClosingForm:
    """Everything the page asks; `typed` is a sent form, `faults` what is wrong with it."""

    def __init__(
        self, ticket, tickets, *, user, now, today, stop=None, late=False, typed=None, faults=None
    ):
        self.late = late or (typed is not None and typed.get("late") == "yes")
        self.ticket, self.tickets, self.stop = ticket, tickets, stop
        self.user, self.opened_at, self.day = user, now, today
        self.typed, self.faults = typed, faults or {}

    def field(self, name, initial="", options=()):
        value = self.typed.get(name, "") if self.typed is not None else initial
        return Field(name, value, self.faults.get(name), list(options))

    @cached_property
    def hidden(self):
        start = {
            "uuid": str(uuid.uuid4()),
            "stop": str(self.stop.uuid) if self.stop else "",
            "site": str(self.ticket.site_id),
            "opened_at": self.opened_at.isoformat(),
            "pass": access.day_pass(self.user, self.ticket.site),
            "late": "yes" if self.late else "",
            "phone_at": "",  # the script sets it as the page is sent
        }
        return [self.field(name, value) for name, value in start.items()]

    @cached_property
    def arrived(self):
        return self._wall("arrived_at")

    @cached_property
    def left(self):
        return self._wall("left_at")

    def _wall(self, name):
        """A time as it stands on the wall at the site; a phone sends instants."""
        field = self.field(name)
        try:
            at = datetime.fromisoformat(field.value)
            wall = at.astimezone(ZoneInfo(self.ticket.site.time_zone)) if at.tzinfo else at
        except (ValueError, OverflowError):
            return field
        if at.tzinfo:
            field.value = f"{wall:%Y-%m-%dT%H:%M}"
        return field

    @cached_property
    def photos(self):
        """How many came with a form that was refused; they are kept, and wait for their visit."""
        return Photo.objects.filter(visit_key=self.typed["uuid"]).count()

    @cached_property
    def note(self):
        return self.field("note")

    @cached_property
    def sign(self):
        return self.field("defects.1.sign", options=SIGNS)

    @cached_property
    def sign_text(self):
        return self.field("defects.1.text")

    @cached_property
    def sign_urgent(self):
        return self.field("defects.1.urgent")

    @cached_property
    def other_faults(self):
        """Sentences that belong to no field shown."""
        shown = ("systems.", "works.", "extras.", "defects.", "hazards.")
        shown += ("arrived_at", "left_at", "note")
        return [f for name, f in self.faults.items() if not name.startswith(shown)] + [
            fault for name, fault in self.faults.items() if name == "works"
        ]

    @cached_property
    def cautions(self):
        return self._cautions_of(self.ticket)

    @cached_property
    def restart_caution(self):
        return self._cautions["restart"].text if "restart" in self._cautions else RESTART

    @cached_property
    def _cautions(self):
        slugs = {slug for ticket in self.tickets for slug in ticket.task.cautions}
        return {c.slug: c for c in Caution.objects.filter(slug__in=slugs | {"restart"})}

    def _cautions_of(self, ticket):
        return [self._cautions[slug] for slug in ticket.task.cautions if slug in self._cautions]

    @cached_property
    def ponds(self):
        """The waters that the ticket is about."""
        if self.ticket.pond:
            return [self.ticket.pond]
        positions = self._by_system[self.ticket.system_id]
        return list(dict.fromkeys(p.pond for p in positions if p.lies))

    @cached_property
    def approvers(self):
        return [(str(user.pk), str(user)) for user in access.approvers()]

    @cached_property
    def blocks(self):
        by_system = defaultdict(list)
        for ticket in self.tickets:
            by_system[ticket.system].append(ticket)
        order = sorted(
            by_system,
            key=lambda s: (s != self.ticket.system, s.name if s else "", s.pk if s else 0),
        )
        return [self._block(system, by_system[system]) for system in order]

    def _block(self, system, tickets):
        tickets = sorted(tickets, key=lambda t: (t != self.ticket, t.pk))
        works = [self._work(ticket) for ticket in tickets]
        main = system == self.ticket.system
        if system is None:
            return SystemBlock(None, works, main=main)
        name = f"systems.{system.pk}"
        asking = [ticket.task for ticket in tickets if ticket == self.ticket or not main]
        asked, more = self.gauges.of_system(system, asking)
        for line in [*asked, *more]:
            line.asked_by = [t.pk for t in tickets if line.demanded_by(t.task)]
        return SystemBlock(
            system,
            works,
            found=self.field(f"{name}.found_running"),
            left=self.field(f"{name}.left_running"),
            reason=self.field(f"{name}.left_off_reason", options=LEFT_OFF),
            left_note=self.field(f"{name}.left_off_note"),
            off_since=self.field(f"{name}.off_since_on"),
            approver=self.field(f"{name}.approved_by", options=self.approvers),
            caution=self.field(f"{name}.caution_read"),
            skipped=self.field(f"{name}.skipped_because", options=SKIPS),
            bubbles=self.gauges.bubbles(system),
            seen=[
                (
                    head,
                    [
                        (words, self.field(f"{name}.seen.{sign}", options=THERE))
                        for sign, words in rows
                    ],
                )
                for head, rows in SEEN
            ],
            asked=asked,
            more=more,
            main=main,
        )

    def _work(self, ticket):
        name, main = f"works.{ticket.pk}", ticket == self.ticket
        fitted = self._parts_for(ticket) if main or ticket.task.part_roles else []
        is_filter = ticket.task.position_kind == PositionKind.FILTER
        return WorkBlock(
            ticket=ticket,
            standing=self._standing(ticket),
            main=main,
            outcome=self.field(f"{name}.outcome", Outcome.DONE if main else "", choices(Outcome)),
            reason=self.field(f"{name}.not_done_reason", options=NOT_DONE),
            condition=self.field(f"{name}.found.condition", options=choices(FilterCondition))
            if is_filter
            else None,
            trip=self.field(f"{name}.found.trip", options=TRIPS)
            if is_trip_test(ticket.task)
            else None,
            claim=self.field(f"{name}.found.claim", options=CLAIMS)
            if ticket.task.slug == LOOK
            else None,
            unit=self._to_read.get(ticket.pk),
            serial=self.field(f"{name}.found.serial"),
            unreadable=self.field(f"{name}.found.unreadable"),
            parts=[self._part(name, row, first) for row, first in fitted],
            other_part=self.field(f"{name}.other_part", options=self.all_parts)
            if ticket.task.part_roles
            else None,
            other_quantity=self.field(f"{name}.other_quantity"),
            note=self.field(f"{name}.note"),
            cautions=self._cautions_of(ticket),
            fault=self.faults.get(name),
        )

    def _part(self, name, row, first):
        on_van = self.beside.on_van
        return PartLine(
            row,
            self.field(f"{name}.parts.{row.part_id}", str(row.quantity) if first else ""),
            self.field(f"{name}.many.{row.part_id}"),
            None if on_van is None else on_van.get(row.part_id, 0),
        )

    @cached_property
    def _to_read(self):
        return units_to_read(self.tickets)

    @cached_property
    def all_parts(self):
        return [(str(part.pk), str(part)) for part in Part.objects.order_by("number")[:300]]

    def _standing(self, ticket):
        due = self._due.get((ticket.place_key, ticket.task_id, ticket.occasion))
        return standing(
            self.day,
            opens_on=due.opens_on if due else None,
            due_on=due.due_on if due else ticket.due_when_opened_on,
            closes_on=due.closes_on if due else None,
            paused=due.paused if due else False,
        )

    @cached_property
    def _due(self):
        keys = {ticket.place_key for ticket in self.tickets}
        items = DueItem.objects.filter(place_key__in=keys)
        return {(item.place_key, item.task_id, item.occasion): item for item in items}

    @cached_property
    def systems(self):
        """Those of the tickets, the ticket's own first."""
        return [block.system for block in self.blocks if block.system]

    def positions_of(self, system):
        return self._by_system[system.pk]

    @cached_property
    def beside(self):
        return Beside(self)

    @cached_property
    def _by_system(self):
        ids = {ticket.system_id for ticket in self.tickets if ticket.system_id}
        found = defaultdict(list)
        rows = Position.objects.filter(system__in=ids).select_related("pond").order_by("label")
        for position in rows:
            found[position.system_id].append(position)
        return found

    @cached_property
    def gauges(self):
        in_use = {
            pk: [p for p in group if p.use == PositionUse.IN_USE]
            for pk, group in self._by_system.items()
        }
        positions = defaultdict(list, in_use)
        reader = self.user.units
        return Gauges(
            self.field,
            positions=positions,
            ponds=self.ponds,
            reader_units=reader,
            bands=today_bands([*self._by_system], now=self.opened_at),
        )

    @cached_property
    def pond_readings(self):
        """What the main ticket asks for at the water itself."""
        lines = [(pond, self.gauges.of_pond(pond, [self.ticket.task])) for pond in self.ponds]
        return [(pond, found) for pond, found in lines if found]

    @cached_property
    def _fitted(self):
        """The model that sits at each position today."""
        positions = [p.pk for group in self._by_system.values() for p in group]
        fittings = Fitting.objects.on_day(self.day).filter(position__in=positions)
        return {
            fitting.position_id: fitting.component.type
            for fitting in fittings.select_related("component__type")
        }

    def compressor_kind_at(self, position):
        """Of the unit that sits at a position; None where there is none."""
        model = self._fitted.get(position.pk)
        return model.compressor_kind if model else None

    @cached_property
    def _part_rows(self):
        rows = defaultdict(list)
        models = {model.pk for model in self._fitted.values()}
        for row in PartFor.objects.filter(component_type__in=models).select_related("part"):
            rows[row.component_type_id].append(row)
        return rows

    def _parts_for(self, ticket):
        """(part of the fitted model, whether it is preselected), in the order of the task."""
        places = [p.pk for p in self._by_system[ticket.system_id] if p.kind == "compressor"]
        if ticket.position:
            places = [ticket.position_id, ticket.position.serves_id]
        models = dict.fromkeys(self._fitted.get(place) for place in places)
        rows = [row for model in models if model for row in self._part_rows[model.pk]]
        roles = ticket.task.part_roles
        rows = sorted((r for r in rows if r.role in roles), key=lambda r: roles.index(r.role))
        at_place = ticket.position is not None
        return [(row, at_place and row.role == roles[0] and row.role in WORN) for row in rows]
