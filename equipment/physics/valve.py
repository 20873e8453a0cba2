"""How far a line's valve stands open, and the throttle that it is to the air.

A valve is taken as an opening whose area goes with the square of its turn, as a ball's does at
first; what it takes then goes with the square of the flow. How a real valve differs from that
is not known here.
"""

import math

AIR_KG_M3 = 1.2041  # dry air of 20 degC and 101 325 Pa
LOSS = 1.5  # velocity heads that an open valve with its fittings takes: judgement
SHUT = 1e12
MARK = "judgement"


def throttle_pa_per_l_min2(open_percent: float, bore_m: float) -> float:
    """The throttle of a valve that stands partly open, beyond what it takes fully open.

    open_percent: share of its turn, 0 (shut) to 100 (open).
    bore_m: inner diameter of the tube [m], 0.001 to 1.
    Returns pressure over the square of the flow of free air [Pa/(L/min)²]; 0 when fully open.
    Raises ValueError outside those ranges.
    Source: loss of a sudden narrowing with the square of the velocity, textbook; the loss of an
    open valve, and how its area goes with its turn, are judgement.
    """
    if not 0 <= open_percent <= 100:
        raise ValueError(f"A valve stands open from 0 to 100 percent, not {open_percent:g}.")
    share = open_percent / 100
    if share == 0:
        return SHUT
    return min(SHUT, _open(bore_m) * (1 / share**4 - 1))


def valve_open_percent(throttle: float, bore_m: float) -> float:
    """How far a valve must stand open to be a throttle.

    throttle: pressure over the square of the flow of free air [Pa/(L/min)²], 0 or more.
    bore_m: inner diameter of the tube [m], 0.001 to 1.
    Returns percent, 100 for no throttle.
    Raises ValueError outside those ranges.
    Source: as for `throttle_pa_per_l_min2`, solved for the share.
    """
    if throttle < 0:
        raise ValueError("A throttle is 0 or more pascals for each (L/min)².")
    start = _open(bore_m)
    return 100 * (start / (start + throttle)) ** 0.25


def _open(bore_m):
    """What a valve takes fully open [Pa/(L/min)²]."""
    if not 0.001 <= bore_m <= 1:
        raise ValueError(f"A bore of {bore_m:g} m cannot be right. Give 0.001 to 1 m.")
    area = math.pi * bore_m**2 / 4
    speed_m_s = 1 / 60_000 / area  # of one litre a minute
    return LOSS * AIR_KG_M3 * speed_m_s**2 / 2
