"""What a winter's answers point to, and what stands in the way of a winter run, by name."""

from dataclasses import asdict, dataclass

from servicedesk.planning.calculations.engine import Calculation
from servicedesk.planning.winter import blocks as winter
from servicedesk.planning.winter.questions import Answer, Option, option_pointed_to

NO_ICE_IS_TO_BE_TRUSTED = (
    "This says what a firm may do with a system. It says nothing about ice: under and beside "
    "bubbles it is thin, and nobody goes onto the ice of an aerated pond."
)


@dataclass(frozen=True)
class PointedTo:
    """The option as a word and letter, why, and the questions that are still open."""

    option: str
    letter: str
    because: str
    asks: list[str]
    notes: list[str]


def winter_option(
    people_on_ice: str = "unknown",
    permit_missing: str = "unknown",
    signs_refused: str = "unknown",
    fish_at_risk: str = "unknown",
    deep_few_fish: str = "unknown",
    mild_winter: str = "unknown",
    cold_sensitive_fish: str = "unknown",
    waterfowl: str = "unknown",
    livestock: str = "unknown",
) -> PointedTo:
    """The winter option that the answers point to: A shallow, B shut down, C deep, or a question.

    people_on_ice: anyone skates, fishes, drives or crosses; public access; neighbours on shore.
    permit_missing: a local permit is needed and not in hand.
    signs_refused: the owner refuses signs or does not acknowledge the notice.
    fish_at_risk: shallow (under 2.4 m), weedy, mucky, many fish, past winterkill, long snow.
    deep_few_fish: deep (over 4.6 m) or large with few fish, or ice for under two weeks.
    mild_winter: mild winters in which ice is rare.
    cold_sensitive_fish: fish that need the refuge of 4 C at the bottom.
    waterfowl: waterfowl are to be kept in open water.
    livestock: livestock drinks there.
    Returns the option (run_shallow, shut_down, run_deep, ask or decide), its letter, why, which
        questions are open, and what each yes means. Every answer is yes, no or unknown.
    Raises ValueError for another answer.
    Source: common practice, no source for the order.
    """
    answers = {key: word.strip().lower() for key, word in locals().items()}
    found = option_pointed_to(answers)
    asks, notes = list(found.asks), list(found.notes)
    if found.option is None:
        differs = Answer.UNKNOWN in answers.values() and "missing" in found.because
        return PointedTo("ask" if differs else "decide", "", found.because, asks, notes)
    option = Option(found.option)
    return PointedTo(option.value, option.letter, found.because, asks, notes)


@dataclass(frozen=True)
class InTheWay:
    """Whether anything stands in the way, and what: each with whether a manager may lift it."""

    blocked: bool
    no_override: list[str]
    by_name_and_reason: list[str]
    says: list[str]


def winter_blocks(
    permit: str = "unknown",
    people_on_ice: str = "unknown",
    airline_leak: str = "unknown",
    ice: str = "unknown",
    marking_placed: str = "unknown",
    notice_acknowledged: bool = False,
    oxygen_mg_l: float | None = None,
    stopped_with_ice: str = "unknown",
    owner_told: bool = False,
    signs_seen: bool = False,
    refused: bool = False,
    decided: str = "undecided",
    authority_asks: list[str] = (),
) -> InTheWay:
    """What stands in the way of running or starting a system under ice, and what can be lifted.

    permit: not_needed, in_hand, missing or unknown.
    people_on_ice: yes, no or unknown, seen from the bank.
    airline_leak: yes, no or unknown.
    ice: none, forming, covered or unknown.
    marking_placed: yes, no or unknown.
    notice_acknowledged: by everybody with a part in the water.
    oxygen_mg_l: mean oxygen under the ice [mg/L], or none where it was not measured.
    stopped_with_ice: yes, no or unknown: it stood still at any time since there was ice.
    owner_told: of that stop.
    signs_seen: standing, from the bank, since that stop.
    refused: the owner refuses signs, or lets the public onto the ice.
    decided: run, undecided or shut_down.
    authority_asks: names of blocks for which the local authority leaves no choice; a list.
    Returns what is in the way: what no name lifts, what a manager may lift by name and reason,
        and the sentences. What nobody knows counts as the worse.
    Raises ValueError for a word that is none of these.
    Source: Minnesota Rules 6116; agency notes on starting under ice; our own rule.
    """
    facts = winter.WinterFacts(
        permit=winter.Permit(permit),
        people_on_ice=winter.Seen(people_on_ice),
        leak=winter.Seen(airline_leak),
        ice=winter.Ice(ice),
        marking_placed=winter.Seen(marking_placed),
        acknowledged=notice_acknowledged,
        oxygen_mg_l=oxygen_mg_l,
        stopped_with_ice=winter.Seen(stopped_with_ice),
        owner_told=owner_told,
        signs_seen=signs_seen,
        refused=refused,
        plan=winter.Plan(decided),
        authority_asks=frozenset(winter.BlockName(name) for name in authority_asks),
    )
    found = [asdict(block) for block in winter.blocks(facts)]
    return InTheWay(
        bool(found),
        [block["name"].value for block in found if not block["overridable"]],
        [block["name"].value for block in found if block["overridable"]],
        [block["says"] for block in found],
    )


CALCULATIONS = (
    Calculation(
        "winter_option",
        winter_option,
        (r"winter (?:mode|option|plan)(?: pointed to)?",),
        says=NO_ICE_IS_TO_BE_TRUSTED,
    ),
    Calculation(
        "winter_blocks",
        winter_blocks,
        (r"(?:blocks?|blocking checks?) (?:of|for|before) (?:a )?winter (?:run|start)",),
        says=NO_ICE_IS_TO_BE_TRUSTED,
    ),
)
