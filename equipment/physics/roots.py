"""Where a function of one number crosses zero, by closing in from both sides."""

from collections.abc import Callable

_TRUSTED_STEPS = 60  # after so many only halving, which surely ends


def crossing(
    function: Callable[[float], float],
    low: float,
    high: float,
    at_low: float,
    at_high: float,
    *,
    x_close: float,
    y_close: float = 0.0,
) -> float:
    """A place between two bounds where a function changes its sign.

    function: of one number; may jump, may be flat.
    low, high: the bounds, low not above high.
    at_low, at_high: its values there, of opposite sign or zero.
    x_close: how near the place must be known.
    y_close: a value so near to zero that the search may stop.
    Returns the place. Every step keeps the crossing between its bounds, and late steps halve
        them, so that the search always ends.
    Raises ValueError when both values lie on the same side of zero.
    Source: T. R. Chandrupatla, Advances in Engineering Software 28 (1997), 145-149.
    """
    if at_low * at_high > 0:
        raise ValueError("The function does not change its sign between the bounds.")
    a, b, at_a, at_b = high, low, at_high, at_low
    step, taken = 0.5, 0
    while True:
        best, at_best = (a, at_a) if abs(at_a) < abs(at_b) else (b, at_b)
        width = abs(b - a)
        margin = max(x_close, 4e-16 * abs(best))
        if abs(at_best) <= y_close or width <= margin:
            return best
        x = a + min(max(step, 0.5 * margin / width), 1 - 0.5 * margin / width) * (b - a)
        at_x = function(x)
        if (at_x > 0) == (at_a > 0):
            c, at_c = a, at_a
        else:
            c, b, at_c, at_b = b, a, at_b, at_a
        a, at_a = x, at_x
        taken += 1
        step = _step(a, b, c, at_a, at_b, at_c) if taken < _TRUSTED_STEPS else 0.5


def _step(a, b, c, at_a, at_b, at_c):
    """The share of the way from a to b: inverse quadratic where it is sure, else one half."""
    if b == c or len({at_a, at_b, at_c}) < 3:
        return 0.5
    xi, phi = (a - b) / (c - b), (at_a - at_b) / (at_c - at_b)
    if not (phi * phi < xi and (1 - phi) * (1 - phi) < 1 - xi):
        return 0.5
    inverse = at_a / (at_b - at_a) * at_c / (at_b - at_c)
    return inverse + (c - a) / (b - a) * at_a / (at_c - at_a) * at_b / (at_c - at_b)
