"""What a technician sees and hears at a system of the invented fleet, with the errors of eyes."""

from equipment.kinds import Sign
from tests.benchmarks.fleet import Machine, State


def score(ratio: float) -> int:
    """The bubble score that a boil of this share of its normal air looks like."""
    for edge, value in ((0.03, 0), (0.35, 1), (0.70, 2), (1.50, 3)):
        if ratio < edge:
            return value
    return 4


HEARD, MISSED = 0.85, 0.6


def seen(made: Machine, state: State, opened: bool) -> dict[Sign, bool]:
    """What a technician sees, hears and notes; what he does not look at is not in it."""
    dice, found = made.dice, {}
    if opened:
        clogs = made.fault.size if made.fault and made.fault.kind == "filter" else 8000.0
        loaded = state.filter_pa > 0.5 * clogs
        found[Sign.FILTER_LOADED] = loaded if dice.random() > 0.02 else not loaded
    hissing = state.point.leak_l_min_local > 8 and dice.random() < HEARD
    if hissing or dice.random() < MISSED:
        found[Sign.N_HISS] = hissing or dice.random() < 0.002
    if hissing and dice.random() < MISSED:
        found[Sign.RELIEF_OPEN] = False  # who hears air looks at the relief valve first
    beside = state.hole_l_min > 5 and dice.random() < HEARD
    if beside or dice.random() < MISSED:
        found[Sign.B_OFF_PLATE] = beside or dice.random() < 0.002
    return found
