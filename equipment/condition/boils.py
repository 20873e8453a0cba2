"""What the boils of a system's plates say: one weaker than it was, or all of them."""

from collections.abc import Iterator, Mapping

from equipment.condition.departures import Departure
from equipment.condition.history import History, Key, SetRead
from equipment.condition.shown import Shown
from equipment.condition.wording import day
from equipment.kinds import Quantity, Sign

WEAKER, FAR_WEAKER = -1.0, -2.0  # steps of the score below the baseline
SOME = 4  # from so many plates on, one of them may look normal while all are weak


def boil_signs(
    history: History, judged: SetRead, found: Mapping[Key, Departure]
) -> Iterator[Shown]:
    """Signs from the bubble scores of a set.

    history: everything known of the system.
    judged: the set that the verdict speaks of.
    found: departures by key.
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
    if _all_weak(scores, weak):
        yield from _all(scores, weak)
        return
    yield Shown(Sign.B_ALL_WEAK, False, False, "Not all boils are weak.")
    yield from _single(weak, scores, history, judged)


def _all_weak(scores, weak):
    allowed = 1 if len(scores) >= SOME else 0
    return bool(weak) and len(weak) >= len(scores) - allowed


def _all(scores, weak) -> Iterator[Shown]:
    alone = len(scores) > 1 or any(map(_certain, weak.values()))
    names = ", ".join(f"{name} {d.read.raw:.0f}" for name, d in sorted(scores.items()))
    says = f"All boils are weaker than normal on {day(_any(scores).read.on)}: {names} of 4."
    yield Shown(Sign.B_ALL_WEAK, True, alone, says)
    if len(scores) == 1:  # the only plate is the one and all of them
        yield Shown(Sign.B_ONE_WEAK, True, alone, says)


def _single(weak, scores, history, judged) -> Iterator[Shown]:
    for name, departure in sorted(weak.items()):
        says = (
            f"The boil of {name} was {departure.read.raw:.0f} of 4 on {day(departure.read.on)}, "
            f"{departure.band.expected:.0f} is its normal."
        )
        yield Shown(Sign.B_ONE_WEAK, True, _certain(departure), says, name)
    if not weak and len(scores) >= _plates(history, judged):
        for sign in (Sign.B_ONE_WEAK, Sign.B_COARSE_ALL, Sign.B_COARSE_ONE):
            yield Shown(sign, False, False, "Every boil is normal.")


def _gone(scores) -> Iterator[Shown]:
    gone = sorted(n for n, d in scores.items() if d.read.raw <= 0 and d.band.expected >= 1)
    every = len(gone) == len(scores)
    if gone and (not every or len(scores) == 1):
        yield Shown(Sign.B_ONE_NONE, True, True, f"There is no boil at {', '.join(gone)}.", gone[0])
    if every:
        yield Shown(Sign.B_ALL_NONE, True, True, "There is no boil at all.")
    if not gone:
        yield Shown(Sign.B_ONE_NONE, False, False, "Every plate has a boil.")
    if not every:
        yield Shown(Sign.B_ALL_NONE, False, False, "There are boils.")


def _certain(departure):
    """Two steps down, or one step seen twice running."""
    twice = departure.before is not None and departure.before <= WEAKER
    return departure.away <= FAR_WEAKER or (departure.away <= WEAKER and twice)


def _any(scores):
    return next(iter(scores.values()))


def _plates(history, judged):
    rig = history.rigs.get(judged.configuration)
    return sum(line.in_use for line in rig.lines) if rig else 0
