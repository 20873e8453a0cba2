"""Figures that were probably typed wrong: asked about once, never refused for that alone."""

TIMES = 5.0  # our judgement: a digit too few or too many is ten times


def is_far_from(new: float, former: float) -> bool:
    """Whether a new figure is so far from the former one that it may be a slip.

    new, former: in the same unit, whatever it is.
    Returns True below a fifth of the former figure and above five times it; never for a former
    figure of nothing, which says nothing about size.
    Source: our judgement.
    """
    return former > 0 and not former / TIMES <= new <= former * TIMES
