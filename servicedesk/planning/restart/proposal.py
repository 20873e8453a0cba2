"""The way to start that the readings point to, with its reasons, steps and cautions."""

from dataclasses import dataclass

from equipment.physics import pond
from servicedesk.planning.restart.readings import (
    COOL_C,
    GOOD_MG_L,
    HOT_C,
    LAYERED,
    LOW_MG_L,
    MARKED,
    STRONG,
    Readings,
)
from servicedesk.planning.restart.table import Row, row_of

FOLLOW_UPS = {"R1": (2,), "R3": (2, 4, 7), "R5": (2, 4, 7), "R6": (2,), "R8": (2, 4, 7)}
FOLLOW_UPS["R7"] = FOLLOW_UPS["R2"] = (2, 4)
WATER = (
    "Starting air stirs up bottom water without oxygen, and fish can die of it within hours. Look "
    "at fish, smell and colour for the whole of the first half hour, and stop at the first sign."
)
CURRENT = (
    "Dry hands, dry ground, nobody in the water. An outlet that trips stays off: call a licensed "
    "electrician. Local rules stand before this sheet."
)
PROFILE = "A profile of temperature and oxygen can change this; take one before the start."
ICE = (
    "Open water and thin ice where the air rises. After any stop the place that was open is the "
    "most dangerous ice there is. Nobody goes on the ice, not even to measure or to set signs."
)
SPELL = "A hot, still, overcast spell is forecast: no start in the 48 hours before it or during it."
TOO_SLOW = (
    "Too slow helps nobody for ever: short runs that stir day after day without giving air can use "
    "up oxygen (common practice, disputed in the trade)."
)
CALL_FIRST = "There are signs of distress already: call the manager before anything is switched on."
SPREAD = 0.5  # of the water taken to lie below, where nobody knows; judgement


@dataclass(frozen=True)
class Proposal:
    """What is proposed. `waits`: why it cannot begin today, whoever approves."""

    path: str
    name: str
    mark: str
    minutes: tuple[int, ...]
    reasons: tuple[str, ...]
    steps: tuple[str, ...]
    waits: tuple[str, ...]
    cautions: tuple[str, ...]
    follow_up_days: tuple[int, ...]
    difference_kg_m3: float | None
    turned_over_mg_l: float | None

    @property
    def days(self) -> int:
        return len(self.minutes)


def proposal(
    readings: Readings, *, bottom_c: float | None = None, treated: bool = False
) -> Proposal:
    """What to do, read off the table, with all that a person has to know to approve it.

    readings: what is known before the start.
    bottom_c: temperature of the deepest water [degC], for the oxygen if it turned over.
    treated: whether a treatment of the water is under way, which stirring would spoil.
    Returns the proposal.
    Source: judgement and common practice, no source; marked row by row.
    """
    row = row_of(readings)
    mixed = oxygen_if_turned_over(readings, bottom_c)
    return Proposal(
        path=row.code,
        name=row.name,
        mark=row.mark,
        minutes=row.minutes,
        reasons=tuple(_reasons(row, readings, mixed)),
        steps=tuple(_steps(row)),
        waits=tuple(_waits(row, readings, treated)),
        cautions=tuple(_cautions(row, readings)),
        follow_up_days=FOLLOW_UPS.get(row.code, ()),
        difference_kg_m3=readings.difference,
        turned_over_mg_l=mixed,
    )


def oxygen_if_turned_over(readings: Readings, bottom_c: float | None) -> float | None:
    """The oxygen of the whole pond if it mixed at once, at best.

    readings: with oxygen near the surface and at the bottom.
    bottom_c: temperature of the deepest water [degC]; the surface's where nobody knows.
    Returns mg/L, an upper bound; None where one of the two is not known.
    Source: balance of mass, half of the water taken to lie below (judgement).
    """
    above, below = readings.surface_mg_l, readings.bottom_mg_l
    if above is None or below is None or readings.surface_c is None:
        return None
    lower_c = readings.surface_c if bottom_c is None else bottom_c
    mixed = pond.turned_over(1 - SPREAD, readings.surface_c, above, SPREAD, lower_c, below)
    return mixed.oxygen_mg_l


def _reasons(row: Row, r: Readings, mixed: float | None):
    yield _layers(r)
    yield from _why(row, r)
    if r.bottom_mg_l is None:
        counts = f"less than {LOW_MG_L}" if r.in_season else f"{LOW_MG_L} to {GOOD_MG_L}"
        yield f"Nobody measured oxygen at the bottom: it counts as {counts} mg/L."
    if r.off_hours is None:
        yield "Nobody knows how long it stood still: it counts as long."
    if mixed is not None:
        low = mixed < r.stop_limits.stop_mg_l
        yield (
            f"If the pond turned over at once, it would hold {mixed:.1f} mg/L at best"
            + (f", below the {r.stop_limits.stop_mg_l:g} at which a ramp stops." if low else ".")
        )


def _layers(r):
    if r.difference is None:
        return "There is no profile that reaches the bottom, so the layers are not known."
    words = "mixed"
    for edge, said in (
        (LAYERED, "weakly layered"),
        (MARKED, "layered"),
        (STRONG, "in strong layers"),
    ):
        if r.difference > edge or (r.difference == edge and edge != STRONG):
            words = said
    return f"Water below is {r.difference:.2f} kg/m3 heavier than the surface: {words}."


def _why(row, r):
    yield from (words(r) for code, holds, words in WHY if code == row.code and holds(r))
    if r.ramp and not r.ramp_goes_on:
        yield "An earlier ramp was broken off: it is closed, and the table is read anew."


def _always(r):
    return True


WHY = (  # row, when it is said, and how
    (
        "R0",
        _always,
        lambda r: "Cold-water fish, or fish that nobody knows, in layered water, warm season.",
    ),
    ("R1", _always, lambda r: "There is ice, or nobody knows that there is none."),
    (
        "R2",
        _always,
        lambda r: f"A ramp is open, its last step {r.ramp_days:g} days ago, and no sign to stop.",
    ),
    (
        "R3",
        lambda r: r.smell,
        lambda r: "Foul smell or black water within the first minutes.",
    ),
    (
        "R3",
        lambda r: r.past_kill is not False,
        lambda r: "Fish have died here before, or nobody knows.",
    ),
    (
        "R3",
        lambda r: r.surface_c is not None and r.surface_c > HOT_C,
        lambda r: f"The surface is warmer than {HOT_C} °C: warm water holds little oxygen.",
    ),
    (
        "R4",
        _always,
        lambda r: "It stood still for less than a day, and ran full time before.",
    ),
    (
        "R5",
        lambda r: r.bottom_mg_l is not None and r.bottom_mg_l < LOW_MG_L,
        lambda r: f"There are {r.bottom_mg_l:.1f} mg/L of oxygen at the bottom, under {LOW_MG_L}.",
    ),
    (
        "R5",
        lambda r: r.difference is None,
        lambda r: f"Warmer than {COOL_C} °C, or nobody knows, and no profile was taken.",
    ),
    (
        "R6",
        _always,
        lambda r: f"Oxygen reaches the bottom ({r.bottom_mg_l:.1f} mg/L), as in spring mixing.",
    ),
    ("R7", _always, lambda r: "It stood still for three days at most."),
    ("R8", _always, lambda r: "Nothing speaks for a quicker start."),
)


def _steps(row):
    if row.adviser:
        return ["Ask a fish adviser; keep the name and the word here.", "Until then leave it off."]
    if row.goes_on:
        return ["Go on with the open ramp: a missed day is not made up for."]
    if row.code == "R1":
        return [
            "Go through the checks for ice, and tell the owner.",
            "See the signs stand, from the bank.",
            "Then run it without a break.",
        ]
    told = ["Tell the owner before the start.", "Start in the morning."]
    if row.code == "R4":
        return ["Start it, look for every boil, write it down."]
    if row.code == "R6":
        return [*told, "Run without a break; somebody looks from the bank on day 2."]
    told.append("Somebody stays for the first half hour.")
    lengths = ", ".join(run_words(m) for m in row.minutes)
    told.append(f"Run each day, in turn: {lengths}.")
    if row.code == "R3":
        told.append(
            "Or wait for the mixing of autumn, or run with the plates in the upper half first."
        )
    return told


def run_words(minutes: int) -> str:
    """How long a run is, as people say it.

    minutes: of running.
    Returns such as 30 min, 4 h or 24 h.
    Source: our own rule.
    """
    if minutes < 60:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def _waits(row, r, treated):
    if row.adviser:
        yield "No start without the word of a fish adviser, given by name."
    if row.code == "R1":
        yield "No start before the owner was told and the signs were seen standing, from the bank."
    if r.bad_weather_coming and row.code != "R2":
        yield SPELL
    if treated:
        yield (
            "A treatment of the water is under way: stirring spreads or wastes it, and can use up "
            "oxygen. No start before it is over."
        )


def _cautions(row, r):
    yield WATER
    yield CURRENT
    if row.code == "R1":
        yield ICE
    if r.stops:
        yield CALL_FIRST
    if r.difference is None:
        yield PROFILE
    if len(row.minutes) > 1:
        yield TOO_SLOW
