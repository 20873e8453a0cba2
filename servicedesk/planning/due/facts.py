"""What the due engine is told, and what it answers. Days are dates at the site."""

from dataclasses import dataclass, field
from datetime import date, datetime

from equipment.kinds import SystemState
from servicedesk.kinds import Anchor, Clock, DecisionKind, DoneBy, Join
from servicedesk.planning.due.timeline import Timeline
from servicedesk.planning.seasons import Window


@dataclass(frozen=True, slots=True)
class RhythmRule:
    """One clock of a task. `unit` is h, d or month; an event counts its days from the event."""

    clock: Clock
    every: float | None = None
    unit: str = ""
    previous_every: float | None = None  # before the firm changed it
    changed_on: date | None = None


@dataclass(frozen=True, slots=True)
class TaskRule:
    slug: str
    name: str
    rhythms: tuple[RhythmRule, ...]
    early_days: int = 0
    late_days: int = 0
    anchor: Anchor = Anchor.FLOAT
    join: Join = Join.FIRST


@dataclass(frozen=True, slots=True)
class Done:
    """An accepted work: the only thing that resets a clock.

    `routine` is what an owner did by himself in his own rhythm, with no ticket of ours.
    """

    at: datetime
    on: date
    key: str
    name: str
    by: DoneBy = DoneBy.TECHNICIAN
    verified: bool = True
    occasion: str = ""
    routine: bool = False


@dataclass(frozen=True, slots=True)
class Verdict:
    """A standing decision of a person about the day `about_on`."""

    kind: DecisionKind
    at: datetime
    about_on: date
    until_on: date | None
    by: str
    reason: str
    occasion: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened and calls for a task.

    `also`: other names by which decisions and work may know it, such as an earlier date of it.
    """

    occasion: str
    on: date
    what: str  # such as "the stop of 3 June 2026"
    also: tuple[str, ...] = ()


@dataclass(slots=True)
class Place:
    """All that bears on one task at one place.

    `since` is the day its clocks began: commissioning, else installation, or the day its unit
    was fitted. `hours_before` ran before that day, on a unit that came with hours on it.
    `records_from` is the day from which on our records are complete, where that came later.
    `windows` are its season windows in order, `findings` the readings that call for the task.
    """

    timeline: Timeline
    since: date | None
    since_what: str = "commissioning"
    done: tuple[Done, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    events: tuple[Event, ...] = ()
    windows: tuple[Window, ...] = ()
    findings: tuple[Event, ...] = ()
    hours_before: float = 0.0
    records_from: date | None = None


@dataclass(slots=True)
class Due:
    """The next undone occasion of a task. `on` is empty while its clocks stand still."""

    on: date | None
    opens_on: date | None
    closes_on: date | None
    because: str
    basis: dict = field(default_factory=dict)
    occasion: str = ""
    estimated: bool = False
    paused: bool = False
    verify: bool = False


STATE_WORDS = {
    SystemState.PLANNED: "not yet installed",
    SystemState.INSTALLED: "not yet commissioned",
    SystemState.SHUT_WINTER: "shut for winter",
    SystemState.SHUT_OTHER: "switched off",
    SystemState.FAILED: "out of order",
    SystemState.REMOVED: "removed",
    SystemState.TRANSFERRED: "moved elsewhere",
}
