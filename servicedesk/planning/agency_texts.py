"""What public agencies print about ice: stored and cited, never computed from."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

NOT_NEAR_AN_AERATOR = (
    "An agency's own text, as it prints it. It does not apply near an aerator: bubbles keep holes "
    "and thin ice under any thickness. Ask the local authority."
)


@dataclass(frozen=True)
class AgencyText:
    """A text with its agency and the years it was seen; figures stand in it as they are printed."""

    agency: str
    seen: str
    about: str
    words: str
    as_printed: dict

    @property
    def cited(self) -> str:
        return f"{self.agency}, {self.seen}"


@cache
def agency_texts() -> tuple[AgencyText, ...]:
    """Every stored text.

    Returns the texts in the order of the file.
    Source: agency_texts.toml; each text names its own.
    """
    path = Path(__file__).with_suffix(".toml")
    return tuple(AgencyText(**row) for row in tomllib.loads(path.read_text())["text"])
