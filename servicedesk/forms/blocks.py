"""The parts of the closing page: fields, readings, works and systems."""

from dataclasses import dataclass, field

from equipment.kinds import Quantity
from equipment.physics import units
from servicedesk.actions.visits.measured import OF_A_SYSTEM
from servicedesk.models import Ticket

DEMANDED = OF_A_SYSTEM | {Quantity.RUN_HOURS}


def payload_of(post) -> dict:
    """The fields of a sent form as the payload that the phone sends too."""
    payload = {}
    for name, values in post.lists():
        if name in {"csrfmiddlewaretoken", "session"}:
            continue
        *path, last = name.split(".")
        node = payload
        for step in path:
            inner = node.setdefault(step, {})
            node = inner if isinstance(inner, dict) else node.setdefault(f"{step}?", {})
        node[last] = values[-1]
    return payload


@dataclass
class Field:
    name: str
    value: str = ""
    fault: object = None
    choices: list = field(default_factory=list)

    @property
    def id(self):
        return "f-" + self.name.replace(".", "-").replace(":", "-").replace("@", "-")


@dataclass
class BandShown:
    """The normal band of a reading, in words and as places on a rail, in percent of its length."""

    words: str
    basis: str
    low: str
    high: str
    rails: str  # for the script: in each unit low, high, and the ends of the rail
    start: float
    width: float
    last: float | None
    below: str  # what to look at first
    above: str

    @property
    def end(self):
        return self.start + self.width


@dataclass
class ReadingLine:
    label: str
    typed: Field
    unit: Field
    answer: Field
    last: str = ""
    last_at: object = None
    lasts: str = "{}"  # the last value in each unit, for the script
    twice: bool = False  # the last two visits read the same
    band: "BandShown | None" = None
    quantity: str = ""
    usual: str = "{}"  # what to compare with in each unit, for the script
    hard: str = "{}"  # (lowest, highest) in each unit, for the script
    warmth: tuple = ()  # how near and how far a warmth in another unit must lie
    asked_by: list = field(default_factory=list)  # tickets that ask for it

    def demanded_by(self, task):
        return self.quantity in task.readings and self.quantity in DEMANDED

    @property
    def unit_name(self):
        return units.unit_name(self.unit.value)

    @property
    def meant(self):
        return getattr(self.typed.fault, "meant_unit", "")

    @property
    def meant_name(self):
        return units.unit_name(self.meant)


@dataclass
class PartLine:
    """A part that may have been fitted."""

    row: object  # PartFor
    ticked: Field
    many: Field
    on_van: int | None  # None: nobody counts the stock of this van


@dataclass
class WorkBlock:
    ticket: Ticket
    standing: object
    main: bool
    outcome: Field
    reason: Field
    condition: Field | None
    trip: Field | None
    claim: Field | None
    unit: object | None  # whose serial number is to be read
    serial: Field
    unreadable: Field
    parts: list  # PartLine
    other_part: Field | None
    other_quantity: Field
    note: Field
    cautions: list
    fault: object

    @property
    def has_many(self):
        return any(line.many.value or line.many.fault for line in self.parts)


@dataclass
class SystemBlock:
    system: object  # None for tickets at a pond or the site
    works: list
    found: Field | None = None
    left: Field | None = None
    reason: Field | None = None
    left_note: Field | None = None
    off_since: Field | None = None
    approver: Field | None = None
    caution: Field | None = None
    skipped: Field | None = None
    bubbles: list = field(default_factory=list)
    seen: list = field(default_factory=list)  # (heading, [(words, Field)])
    asked: list = field(default_factory=list)
    more: list = field(default_factory=list)
    main: bool = False

    @property
    def has_seen(self):
        """Whether something of what was seen is filled in, or must be looked at again."""
        return any(one.value or one.fault for _, rows in self.seen for _, one in rows)

    @property
    def touched(self):
        """Whether this part of the page was filled in, or must be looked at again."""
        fields = [self.found, self.left, *(work.outcome for work in self.works)]
        return self.main or any(f and (f.value or f.fault) for f in fields)
