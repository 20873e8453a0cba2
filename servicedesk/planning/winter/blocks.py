"""What stands in the way of running or starting a system under ice, and what no name lifts."""

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

OXYGEN_LOW_MG_L = 4.0  # one agency's note advises to start while the mean is still 4 to 5
AFTER_A_STOP = (
    "After any stop with ice on, the place that was open is the most dangerous ice there is. It "
    "skins over within hours, is weak, and looks like the rest. Keep everyone off, and leave the "
    "signs until the ice is gone."
)


class Permit(StrEnum):
    """The milder first."""

    NOT_NEEDED = "not_needed"
    IN_HAND = "in_hand"
    MISSING = "missing"
    UNKNOWN = "unknown"


class Ice(StrEnum):
    NONE = "none"
    FORMING = "forming"
    COVERED = "covered"
    UNKNOWN = "unknown"


class Seen(StrEnum):
    """An answer to which nobody's silence is a no: what nobody knows counts as the worse."""

    NO = "no"
    YES = "yes"
    UNKNOWN = "unknown"


class Plan(StrEnum):
    """What was decided of this winter."""

    RUN = "run"
    UNDECIDED = "undecided"
    SHUT_DOWN = "shut_down"


class BlockName(StrEnum):
    PERMIT = "permit"
    PEOPLE = "people"
    LEAK = "leak"
    AUTHORITY = "authority"
    REFUSED = "refused"
    MARKING = "marking"
    NOTICE = "notice"
    OXYGEN = "oxygen"
    OWNER_TOLD = "owner_told"
    SIGNS_SEEN = "signs_seen"
    PLAN = "plan"


NEVER = frozenset({BlockName.PERMIT, BlockName.PEOPLE, BlockName.LEAK})


@dataclass(frozen=True, slots=True)
class Block:
    """One thing in the way: its name, whether a manager may lift it by name, and what to do."""

    name: BlockName
    overridable: bool
    says: str


@dataclass(frozen=True, slots=True)
class WinterFacts:
    """What is known when somebody wants a system to run under ice. Defaults are the worst.

    `visit_to_come` is on while a visit is planned that itself looks for leaks and people, puts
    signs up and sees them: then only what has to be settled before that visit is in the way.
    """

    permit: Permit = Permit.UNKNOWN
    people_on_ice: Seen = Seen.UNKNOWN
    leak: Seen = Seen.UNKNOWN
    authority_open: tuple[str, ...] = ()
    authority_asks: frozenset[BlockName] = frozenset()
    refused: bool = False
    may_run_after_refusal: bool = False
    ice: Ice = Ice.UNKNOWN
    marking_placed: Seen = Seen.UNKNOWN
    acknowledged: bool = False
    oxygen_mg_l: float | None = None
    stopped_with_ice: Seen = Seen.UNKNOWN
    owner_told: bool = False
    signs_seen: bool = False
    plan: Plan = Plan.UNDECIDED
    visit_to_come: bool = False


def blocks(facts: WinterFacts) -> tuple[Block, ...]:
    """What stands in the way of a winter run or start.

    facts: what is known; what nobody knows counts as the worse.
    Returns the blocks, those that nobody can lift first. A permit that is needed and not in
        hand, people on the ice, and an airline leak have no override; nor has anything that the
        local authority asks for, nor a refusal where the firm's policy is not to run after one.
    Source: Minnesota Rules 6116 (marking before the open water); agency notes on starting under
        ice at 4 to 5 mg/L and on open water that skins over; airline leaks: Minnesota DNR
        warnings; the rest is our own rule.
    """
    found = [*_absolute(facts), *_of_the_plan(facts), *_of_the_ice(facts)]
    made = [Block(name, _may_be_lifted(name, facts), says) for name, says in found]
    return tuple(sorted(made, key=lambda block: block.overridable))


def standing(found: Collection[Block], lifted: Collection[str]) -> tuple[Block, ...]:
    """The blocks that still stand once a manager has lifted some by name and reason.

    found: blocks.
    lifted: names of those that he lifted.
    Returns what is left: those not lifted, and every one that cannot be lifted.
    Source: our own rule.
    """
    return tuple(b for b in found if not (b.overridable and b.name in lifted))


def _may_be_lifted(name, facts):
    if name in NEVER or name == BlockName.AUTHORITY or name in facts.authority_asks:
        return False
    return facts.may_run_after_refusal if name == BlockName.REFUSED else True


def _absolute(facts):
    if facts.permit == Permit.MISSING:
        yield BlockName.PERMIT, "A permit is needed and not in hand. It stays off until it is."
    elif facts.permit == Permit.UNKNOWN:
        yield (
            BlockName.PERMIT,
            "Nobody has asked whether a permit is needed here. Ask the local authority, and "
            "enter the answer.",
        )
    leak = facts.leak == Seen.YES or (facts.leak == Seen.UNKNOWN and not facts.visit_to_come)
    if leak:
        yield (
            BlockName.LEAK,
            "An airline leak is not repaired: it opens holes in ice where nobody expects them. "
            "Repair it first."
            if facts.leak == Seen.YES
            else "Nobody has looked for airline leaks this season. Do the leak look first.",
        )
    if _ice(facts) and facts.people_on_ice != Seen.NO and not facts.visit_to_come:
        yield (
            BlockName.PEOPLE,
            "People are on the ice. Nothing is started while anybody is."
            if facts.people_on_ice == Seen.YES
            else "Nobody has looked today whether people are on the ice. Look from the bank.",
        )


def _of_the_plan(facts):
    for wanted in facts.authority_open:
        yield BlockName.AUTHORITY, f"The local authority asks: {wanted}"
    if facts.refused:
        yield (
            BlockName.REFUSED,
            "The owner refuses signs, or lets the public onto the ice. The firm does not run "
            "it; the refusal is on record.",
        )
    if facts.plan == Plan.UNDECIDED:
        yield BlockName.PLAN, "Nobody has decided this winter. Decide it first."
    elif facts.plan == Plan.SHUT_DOWN:
        yield BlockName.PLAN, "It was decided to shut it down for this winter."
    if not facts.acknowledged:
        yield (
            BlockName.NOTICE,
            "Not everybody with a part in the water has acknowledged the notice about thin ice.",
        )


def _of_the_ice(facts):
    if not _ice(facts) or facts.visit_to_come:
        return
    if facts.marking_placed != Seen.YES:
        yield BlockName.MARKING, "The open water is not marked. Wait until the marking can stand."
    if facts.ice != Ice.FORMING and not _oxygen_enough(facts):
        yield (
            BlockName.OXYGEN,
            "Oxygen under the ice is low: stirring foul bottom water up can finish the fish."
            if facts.oxygen_mg_l is not None
            else "Oxygen under the ice was not measured lately. Measure it where it can be done "
            "from the bank.",
        )
    if facts.stopped_with_ice != Seen.NO:
        if not facts.owner_told:
            yield BlockName.OWNER_TOLD, f"The owner was not told of the stop. {AFTER_A_STOP}"
        if not facts.signs_seen:
            yield (
                BlockName.SIGNS_SEEN,
                f"Nobody has seen the signs standing since the stop. {AFTER_A_STOP}",
            )


def _ice(facts):
    return facts.ice != Ice.NONE


def _oxygen_enough(facts):
    return facts.oxygen_mg_l is not None and facts.oxygen_mg_l >= OXYGEN_LOW_MG_L
