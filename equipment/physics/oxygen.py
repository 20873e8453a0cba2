"""Oxygen limits that others have published, each with its source; figures to judge by, no more."""

from dataclasses import dataclass

_EPA = (
    "US EPA, Ambient Water Quality Criteria for Dissolved Oxygen, EPA 440/5-86-003 (1986), "
    "table 1, as repeated in EPA fact sheet 841F21007B (2021)"
)
_AGRILIFE = "Texas A&M AgriLife Extension, page on low dissolved oxygen"


@dataclass(frozen=True)
class Limit:
    """A published limit of dissolved oxygen."""

    mg_l: float
    words: str
    source: str


WARMWATER_STRESS = Limit(3.0, "most warm-water species are stressed below", _AGRILIFE)
SOME_DIE = Limit(2.0, "some species die below", _AGRILIFE)
ANOXIC = Limit(0.2, "water is called anoxic below", _EPA)
CRITERIA = {  # (water, over what time, stage of life)
    ("coldwater", "30-day mean", "other"): 6.5,
    ("coldwater", "7-day mean", "early"): 9.5,
    ("coldwater", "7-day mean minimum", "other"): 5.0,
    ("coldwater", "1-day minimum", "early"): 8.0,
    ("coldwater", "1-day minimum", "other"): 4.0,
    ("warmwater", "30-day mean", "other"): 5.5,
    ("warmwater", "7-day mean", "early"): 6.0,
    ("warmwater", "7-day mean minimum", "other"): 4.0,
    ("warmwater", "1-day minimum", "early"): 5.0,
    ("warmwater", "1-day minimum", "other"): 3.0,
}


def criterion(water: str, period: str, life: str) -> Limit:
    """What the US agency asks of dissolved oxygen for a kind of water and of fish.

    water: coldwater or warmwater.
    period: 30-day mean, 7-day mean, 7-day mean minimum or 1-day minimum.
    life: `early` for eggs, larvae and young, in the water column; `other` for older fish.
    Returns the limit, in mg/L.
    Raises ValueError where the table has no figure.
    Source: US EPA 440/5-86-003 (1986), table 1, read in a copy of fact sheet 841F21007B; of its
    ten figures coldwater 1-day early, and warmwater 30-day, 7-day mean and 7-day mean minimum,
    are from memory.
    """
    mg_l = CRITERIA.get((water, period, life))
    if mg_l is None:
        known = "; ".join(", ".join(key) for key in CRITERIA if key[0] == water)
        raise ValueError(
            f"the table has no figure for {water}, {period}, {life} life stages. "
            f"It has: {known or 'coldwater and warmwater'}."
        )
    return Limit(mg_l, f"{water} {period}, {life} life stages", _EPA)
