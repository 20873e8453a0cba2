"""What is asked before a winter, in order, and the option that the answers point to."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import product

SHALLOW_UNDER_M = 2.4  # 8 ft
DEEP_OVER_M = 4.6  # 15 ft


class Answer(StrEnum):
    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class Option(StrEnum):
    """What becomes of a system in winter. None of them is without risk."""

    RUN_SHALLOW = "run_shallow"
    SHUT_DOWN = "shut_down"
    RUN_DEEP = "run_deep"

    @property
    def letter(self) -> str:
        return {"run_shallow": "A", "shut_down": "B", "run_deep": "C"}[self.value]

    @property
    def label(self) -> str:
        return {
            "run_shallow": "A: run shallow",
            "shut_down": "B: shut down and drain",
            "run_deep": "C: keep running deep",
        }[self.value]


@dataclass(frozen=True, slots=True)
class Question:
    """One question; `yes` is what a yes means for this winter."""

    key: str
    asks: str
    yes: str


QUESTIONS = (
    Question(
        "people_on_ice",
        "Does anyone skate, fish, drive or walk across the ice, has the public access, or are "
        "there neighbours on the shore?",
        "People come to the ice. Shut down is preferred. If it must run: signs or a barricade "
        "as the local law asks, a notice to everybody on the shore, the insurance on file.",
    ),
    Question(
        "permit_missing",
        "Is a local permit needed that is not in hand?",
        "A permit is needed and not in hand: shut down until it is.",
    ),
    Question(
        "signs_refused",
        "Does the owner refuse signs, or not acknowledge the notice?",
        "The owner refuses signs or the notice: shut down, and write the refusal down.",
    ),
    Question(
        "fish_at_risk",
        "Is the pond shallow (under 8 ft, 2.4 m), weedy or mucky, heavily stocked, has it had a "
        "winterkill, or does snow lie long on it?",
        "Fish are at risk under ice: shallow, weedy or mucky water, many fish, a past winterkill "
        "or long snow.",
    ),
    Question(
        "deep_few_fish",
        "Is the pond deep (over 15 ft, 4.6 m) or large with few fish, or is there ice for less "
        "than two weeks?",
        "Deep or large water with few fish, or little ice, needs least from winter air.",
    ),
    Question(
        "mild_winter",
        "Are winters mild here, and ice rare?",
        "Where ice is rare winter is the season in which air gives least: weigh power and wear "
        "against it, or let a timer run it.",
    ),
    Question(
        "cold_sensitive_fish",
        "Do fish that bear no cold need the refuge of 39 F (4 C) at the bottom?",
        "Never run deep: full mixing in winter lets the whole pond fall below 39 F (4 C).",
    ),
    Question(
        "waterfowl",
        "Are waterfowl to be kept in open water?",
        "Waterfowl want open water: run shallow, with signs.",
    ),
    Question(
        "livestock",
        "Does livestock drink there?",
        "Livestock is no reason to run: water it elsewhere, and fence it off the ice.",
    ),
)
KEYS = tuple(question.key for question in QUESTIONS)


@dataclass(frozen=True, slots=True)
class Pointed:
    """The option that the answers point to, if they do, and why; what is still to be asked."""

    option: Option | None
    because: str
    asks: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def option_pointed_to(answers: Mapping[str, str]) -> Pointed:
    """The option that the answers of one winter point to, with its reason.

    answers: yes, no or unknown by the keys of the questions; what is left out is unknown.
    Returns the option of the first question that is answered yes; none while an unknown answer
        could change it, or where no question points anywhere: then a person decides. The notes
        are what every yes means, whichever option it is.
    Raises ValueError for a question or an answer that does not exist.
    Source: common practice, no source for the order of the questions; the refuge of 4 C and
        winter as the season of least benefit in mild places: University of Arkansas at Pine
        Bluff Extension.
    """
    given = _checked(answers)
    notes = tuple(q.yes for q in QUESTIONS if given[q.key] == Answer.YES)
    unknown = tuple(key for key in KEYS if given[key] == Answer.UNKNOWN)
    ends = {
        _ends({**given, **dict(zip(unknown, filled, strict=True))})[0]
        for filled in product((Answer.YES, Answer.NO), repeat=len(unknown))
    }
    if len(ends) > 1:
        return Pointed(None, "Answers are missing that could change it.", unknown, notes)
    option, key = _ends(given)
    if option is None:
        words = "None of the questions points to one option. A person decides."
        return Pointed(None, words, unknown, notes)
    because = _question(key).yes
    if _keeps_warm(given, key):
        because = f"{because} {_question('cold_sensitive_fish').yes}"
    return Pointed(option, because, unknown, notes)


def _checked(answers):
    for key, answer in answers.items():
        if key not in KEYS:
            raise ValueError(f"{key!r} is no question: choose one of {', '.join(KEYS)}")
        if answer not in tuple(Answer):
            raise ValueError(f"{answer!r} is no answer to {key}: write yes, no or unknown")
    return {key: Answer(answers.get(key, Answer.UNKNOWN)) for key in KEYS}


def _ends(given):
    """(option, key of the question that it rests on) where every answer is yes or no."""
    yes = {key for key, answer in given.items() if answer == Answer.YES}
    for key in ("people_on_ice", "permit_missing", "signs_refused"):
        if key in yes:
            return Option.SHUT_DOWN, key
    if "fish_at_risk" in yes:
        return Option.RUN_SHALLOW, "fish_at_risk"
    warm = "cold_sensitive_fish" in yes
    if "deep_few_fish" in yes:
        deep = "mild_winter" in yes and not warm
        return (Option.RUN_DEEP if deep else Option.SHUT_DOWN), "deep_few_fish"
    if "mild_winter" in yes:
        return (Option.SHUT_DOWN if warm else Option.RUN_DEEP), "mild_winter"
    if "waterfowl" in yes:
        return Option.RUN_SHALLOW, "waterfowl"
    return None, ""


def _keeps_warm(given, key):
    mild = key in ("deep_few_fish", "mild_winter") and given["mild_winter"] == Answer.YES
    return mild and given["cold_sensitive_fish"] == Answer.YES


def _question(key):
    return next(question for question in QUESTIONS if question.key == key)


def answers_of_pond(
    *,
    depth_max_m: float | None,
    past_kill: bool,
    public_access: bool | None,
    has_winter: bool,
    refused: bool,
) -> dict[str, str]:
    """What the register says of the questions before anybody is asked.

    depth_max_m: greatest depth of the pond in metres, or None.
    past_kill: whether a fish kill is on record.
    public_access: whether the public gets to the water; None where nobody asked.
    has_winter: whether ponds of the region freeze over in most years.
    refused: whether a refusal of signs or of the notice stands.
    Returns yes, no or unknown by question. A depth alone never answers no: a pond of middling
        depth may be weedy, mucky or full of fish.
    Source: our own rule; 8 and 15 ft are common practice, no source.
    """
    found = dict.fromkeys(KEYS, Answer.UNKNOWN)
    if public_access:
        found["people_on_ice"] = Answer.YES
    if past_kill or (depth_max_m is not None and depth_max_m < SHALLOW_UNDER_M):
        found["fish_at_risk"] = Answer.YES
    if depth_max_m is not None and depth_max_m <= DEEP_OVER_M and has_winter:
        found["deep_few_fish"] = Answer.NO
    found["mild_winter"] = Answer.NO if has_winter else Answer.YES
    found["signs_refused"] = Answer.YES if refused else Answer.UNKNOWN
    return {key: answer.value for key, answer in found.items()}
