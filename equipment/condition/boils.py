"""What the boils of a system's plates say: one weaker than it was, or all of them."""

from collections.abc import Collection, Iterator, Mapping

from equipment.condition.departures import Departure
from equipment.condition.expected import left_with_less_air
from equipment.condition.history import History, Key, SetRead
from equipment.condition.shown import Shown
from equipment.condition.wording import day
from equipment.kinds import Quantity, Sign

WEAKER, FAR_WEAKER = -1.0, -2.0  # steps of the score below the baseline
NORMAL = 3.0
MOST = 0.5  # more than this share of the plates speaks for all, where none is stronger: judgement
# What says that less air comes to all plates: seen or heard, or by figures.
_SHORT_OF_AIR = frozenset({Sign.N_HISS, Sign.FILTER_LOADED})
_LITTLE_AIR = frozenset({Sign.F_DOWN, Sign.VA_DOWN, Sign.RISE_HIGH, Sign.P_DOWN})
FEW = 3
ALIKE = 0.1  # shares of air that no eye tells apart: judgement


def boil_signs(
    history: History, judged: SetRead, found: Mapping[Key, Departure], there: Collection[Sign]
) -> Iterator[Shown]:
    """Signs from the bubble scores of a set.

    history: everything known of the system.
    judged: the set that the verdict speaks of.
    found: departures by key.
    there: signs that are there; where they say that less air comes, the plates that physics lets
        weaken first speak for all, and any plate where air was heard to escape or the filter seen
        loaded.
    Returns the signs. One step less at one plate stands alone only when it was seen twice
        running; on all of several plates at once it does, and so do two steps.
    Source: tolerance of one score step, judgement.
    """
    scores = {
        key[1]: departure
        for key, departure in found.items()
        if key[0] == Quantity.BUBBLES and departure.read.set.order == judged.order
    }
    scores.pop(None, None)
    if not scores:
        return
    weak = {name: d for name, d in scores.items() if d.away <= WEAKER}
    yield from _gone(scores)
    rig = history.rigs.get(judged.configuration)
    stronger = any(d.read.raw > NORMAL for d in scores.values())
    short = bool(there & _SHORT_OF_AIR) and bool(weak) and not stronger
    neediest = bool(weak) and not stronger and _neediest(rig, scores, weak, there)
    if _all_weak(scores, weak) or short or neediest:
        yield from _all(scores, weak)
    else:
        yield Shown(Sign.B_ALL_WEAK, False, False, "Not all boils are weak.")
    if not _all_weak(scores, weak) and not short:  # it may be those plates, or the air
        yield from _single(weak, scores, history, judged)


def _all_weak(scores, weak):
    """All plates, or most of several: air that one loses, the others would show."""
    stronger = any(d.read.raw > NORMAL for d in scores.values())
    return bool(weak) and (
        len(weak) == len(scores) or (len(weak) > len(scores) * MOST and not stronger)
    )


def _neediest(rig, scores, weak, there):
    """Whether the weak plates are those that lose first when the compressor gives less.

    Without another sign of less air they must clearly be so, among three plates or more: one of
    two is so by chance too often.
    """
    told = bool(there & _LITTLE_AIR)
    if not told and len(scores) < FEW:
        return False
    left = left_with_less_air(rig) if rig else {}
    if not left or not all(name in left for name in scores):
        return False
    others = min((left[name] for name in scores if name not in weak), default=1.0)
    return max(left[name] for name in weak) <= others + (ALIKE if told else -ALIKE / 2)


def _all(scores, weak) -> Iterator[Shown]:
    every = len(scores) == len(weak)
    several = len(weak) > max(len(scores) * MOST, 1)
    alone = several or any(map(_certain, weak.values()))
    names = ", ".join(f"{name} {d.read.raw:.0f}" for name, d in sorted(scores.items()))
    which = "All boils are" if every else "Most boils, or those that need most, are"
    says = f"{which} weaker than normal on {day(_any(scores).read.on)}: {names} of 4."
    yield Shown(Sign.B_ALL_WEAK, True, alone, says)
    if len(scores) == 1:  # the only plate is the one and all of them
        yield Shown(Sign.B_ONE_WEAK, True, alone, says)


def _single(weak, scores, history, judged) -> Iterator[Shown]:
    for name, departure in sorted(weak.items()):
        if departure.read.raw <= 0 and not _was_weak(departure):
            continue  # gone at once: that has its own sign
        says = (
            f"The boil of {name} was {departure.read.raw:.0f} of 4 on {day(departure.read.on)}, "
            f"{departure.band.expected:.0f} is its normal."
        )
        yield Shown(Sign.B_ONE_WEAK, True, _certain(departure), says, name)
    if not weak and len(scores) >= _plates(history, judged):
        for sign in (Sign.B_ONE_WEAK, Sign.B_COARSE_ALL, Sign.B_COARSE_ONE):
            yield Shown(sign, False, False, "Every boil is normal.")


def _gone(scores) -> Iterator[Shown]:
    none = sorted(n for n, d in scores.items() if d.read.raw <= 0 and d.band.expected >= 1)
    every = len(none) == len(scores)
    gone = none if every else [name for name in none if not _was_weak(scores[name])]
    if gone and (not every or len(scores) == 1):
        yield Shown(Sign.B_ONE_NONE, True, True, f"There is no boil at {', '.join(gone)}.", gone[0])
    if every:
        yield Shown(Sign.B_ALL_NONE, True, True, "There is no boil at all.")
    if not none:
        yield Shown(Sign.B_ONE_NONE, False, False, "Every plate has a boil.")
    if not every:
        yield Shown(Sign.B_ALL_NONE, False, False, "There are boils.")


def _certain(departure):
    """Two steps down, or one step seen twice running."""
    twice = departure.away <= WEAKER and _was_weak(departure)
    return departure.away <= FAR_WEAKER or twice


def _was_weak(departure):
    """Weak before already: what has dwindled away is not gone at once."""
    return departure.before is not None and departure.before <= WEAKER


def _any(scores):
    return next(iter(scores.values()))


def _plates(history, judged):
    rig = history.rigs.get(judged.configuration)
    return sum(line.in_use for line in rig.lines) if rig else 0
