"""A filter-change ticket at a pond, and what a phone sends for it."""

import uuid
from datetime import timedelta

import pytest

from equipment.kinds import PartRole, SystemState
from equipment.models import ReadingSet, System
from servicedesk.actions.visits.payload import VisitRefused
from servicedesk.actions.visits.receive import receive_visit
from servicedesk.models import (
    Reminder,
    SystemCheck,
    Visit,
    Work,
)
from tests import make

NOW = make.MORNING + timedelta(hours=1)


class Closing:
    """A filter-change ticket on Dario's route of today, and what he sends for it."""

    def __init__(self, *, state=SystemState.RUNNING, task=None, at=None):
        owner = make.contact().customer
        self.site = make.site(owner=owner)
        self.system = make.system(site=self.site, state=state)
        self.position = make.filter_position(of=self.system)
        fitted = self.position.serves.fittings.get().component.type
        self.part = make.part_for(fitted, PartRole.FILTER_ELEMENT).part
        self.task = task or make.task(
            part_roles=[PartRole.FILTER_ELEMENT], readings=["pressure"], slug="filter_change"
        )
        self.ticket = make.ticket(at=at or self.position, task=self.task)
        self.dario = make.user()
        self.stop = self.on_route_of(self.dario)

    def on_route_of(self, user, **fields):
        technician = make.technician(user=user, shifts=False)
        return make.stop(self.ticket, route=make.route(technician=technician, **fields))

    def payload(self, **changes):
        """A full closing; changes are given by the names of the fields."""
        work, system = f"works.{self.ticket.pk}", f"systems.{self.system.pk}"
        flat = {
            "uuid": str(uuid.uuid4()),
            "stop": str(self.stop.uuid),
            "arrived_at": make.MORNING.isoformat(),
            "left_at": (make.MORNING + timedelta(minutes=12)).isoformat(),
            f"{work}.outcome": "done",
            f"{work}.found.condition": "wet",
            f"{work}.parts.{self.part.pk}": "1",
            f"{system}.found_running": "yes",
            f"{system}.left_running": "yes",
            f"{system}.left.pressure.typed": "6.4",
            f"{system}.left.pressure.unit": "psi",
        }
        for name, value in changes.items():
            name = name.replace("__", ".").replace("WORK", work).replace("SYSTEM", system)
            flat[name] = value
        payload = {}
        for name, value in flat.items():
            *path, last = name.split(".")
            node = payload
            for step in path:
                node = node.setdefault(step, {})
            node[last] = value
        return payload

    def send(self, *, user=None, now=NOW, **changes):
        return receive_visit(self.payload(**changes), user=user or self.dario, now=now)

    def refused(self, **changes):
        """The sentences, by field, of a closing that is not taken; nothing is written."""
        with pytest.raises(VisitRefused) as refusal:
            self.send(**changes)
        assert (Visit.objects.count(), Work.objects.count()) == (0, 0)
        assert (ReadingSet.objects.count(), SystemCheck.objects.count()) == (0, 0)
        short = {f"works.{self.ticket.pk}": "WORK", f"systems.{self.system.pk}": "SYSTEM"}
        return {
            next((name.replace(a, b) for a, b in short.items() if a in name), name): fault.says
            for name, fault in refusal.value.faults.items()
        }

    def state(self, at=NOW):
        return System.objects.with_state(at).get(pk=self.system.pk).state_now


def owed():
    """The topics of what owners are told."""
    return sorted(Reminder.objects.values_list("topic", flat=True))
