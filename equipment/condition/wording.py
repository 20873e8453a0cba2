"""How readings are named and written in the sentences of a verdict."""

from datetime import date

from equipment.condition.history import POWER, RISE, History, Key
from equipment.kinds import Quantity
from equipment.physics import units

NO_BREAK = "\N{NO-BREAK SPACE}"
_WORDS = {
    Quantity.PRESSURE: "pressure",
    Quantity.LINE_PRESSURE: "line pressure",
    Quantity.FLOW: "air flow",
    Quantity.CURRENT: "power (volts times amperes)",
    Quantity.CABINET_AIR: "cabinet's rise over outside air",
    Quantity.BUBBLES: "boil",
}


def word(key: Key) -> str:
    """What was read, in words.

    key: quantity and position.
    Returns text such as `line pressure of D2`, without article or capital.
    Source: our own rule.
    """
    quantity, position = key
    name = _WORDS.get(quantity, quantity.replace("_", " "))
    return f"{name} of {position}" if position else name


def amount(history: History, key: Key, value: float) -> str:
    """A value, or a difference, in the units of whoever reads it.

    history: with `us` or `metric` as its units.
    key: what was read.
    value: in the stored unit; VA for power, degC for a cabinet's rise.
    Returns text such as `6.5 psi`.
    Source: our own rule.
    """
    if key == RISE:
        return history.shown(units.Dimension.TEMPERATURE_RISE, value)
    if key == POWER:
        return f"{value:.0f}{NO_BREAK}VA"
    return history.shown(key[0], value)


def day(on: date) -> str:
    """A date as it stands in a sentence.

    on: the day.
    Returns text such as `3 May 2026`.
    Source: our own rule.
    """
    return f"{on.day} {on:%B %Y}"
