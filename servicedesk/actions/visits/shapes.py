"""A visit as it was sent and read: plain data, before anything is written."""

import uuid
from dataclasses import dataclass, field
from datetime import date, datetime

from customers.kinds import HazardKind
from customers.models import Site, User
from equipment.models import System
from servicedesk.actions.visits.payload import Node
from servicedesk.kinds import DefectSign, Outcome
from servicedesk.models import Stop, Task, Ticket


@dataclass
class SentCheck:
    """Whether a system ran; `found` stays out where nobody looked at it."""

    system: System
    node: Node
    looked: bool
    found_running: bool | None
    left_running: bool | None
    left_off_reason: str
    left_off_note: str
    off_since_on: object
    approved_by: User | None
    caution_read: bool
    readings: dict = field(default_factory=dict)  # moment: [Typed]
    seen: dict = field(default_factory=dict)  # Sign: whether it was there


@dataclass
class SentWork:
    node: Node
    uuid: uuid.UUID
    ticket: Ticket | None
    task: Task
    place: dict
    occasion: str
    outcome: Outcome
    not_done_reason: str
    found: dict
    note: str
    parts: dict = field(default_factory=dict)  # Part: quantity
    planned: bool = True

    @property
    def done(self):
        return self.outcome == Outcome.DONE


@dataclass
class SentDefect:
    uuid: uuid.UUID
    system: System | None
    sign: DefectSign
    text: str
    urgent: bool


@dataclass
class SentHazard:
    kind: HazardKind
    note: str
    until_on: date | None


@dataclass
class SentVisit:
    uuid: uuid.UUID
    site: Site
    stop: Stop | None
    arrived_at: datetime
    left_at: datetime | None
    clock_off_s: float | None
    note: str
    away: bool = False
    helpers: list = field(default_factory=list)
    works: list = field(default_factory=list)
    checks: list = field(default_factory=list)
    pond_readings: list = field(default_factory=list)  # (Pond, [Typed])
    defects: list = field(default_factory=list)
    hazards: list = field(default_factory=list)

    @property
    def done_at(self):
        return self.left_at or self.arrived_at
