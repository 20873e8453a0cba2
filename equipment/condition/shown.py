"""A sign, as readings or a person showed it."""

from dataclasses import dataclass

from equipment.kinds import Sign


@dataclass(frozen=True)
class Shown:
    """A sign that is there, or was looked for and is not, with the sentence that says why.

    alone: it says by itself that something is wrong. seen: by a person, not from figures.
    """

    sign: Sign
    present: bool
    alone: bool
    says: str
    position: str | None = None
    seen: bool = False
