"""Which letters the paper's fonts have: a tagged paper must not hold one that cannot be shown."""

import re
import unicodedata

SHOWN = [  # ranges that the fonts show whole; a test compiles every letter of them
    (0x0020, 0x007E),  # basic Latin
    (0x00A0, 0x00AC),
    (0x00AE, 0x024F),  # Latin
    (0x0370, 0x0377),  # Greek
    (0x037A, 0x037F),
    (0x0384, 0x038A),
    (0x038E, 0x03A1),
    (0x03A3, 0x03FF),
    (0x0400, 0x04FF),  # Cyrillic
    (0x05D0, 0x05EA),  # Hebrew
    (0x0621, 0x063A),  # Arabic
    (0x0641, 0x064A),
    (0x0660, 0x066C),
    (0x1E00, 0x1EFF),  # Latin with two marks
    (0x2010, 0x2027),  # dashes, quotes
    (0x202F, 0x2040),
    (0x2070, 0x2071),  # raised and lowered
    (0x2074, 0x208E),
    (0x20A0, 0x20BF),  # money
    (0x2190, 0x22FF),  # arrows, mathematics
]
BREAK = "\u200b"  # takes no room, and a line may end there
LONG = re.compile(r"\S{24}(?=\S)")  # no line on paper ends inside a word: break longer ones
NEWLINES = {"\n": "\n", "\t": " ", "\r": " ", "\u2028": "\n", "\u2029": "\n"}


def printable(words: str) -> str:
    """Words of which every letter can be shown on paper.

    A picture becomes its name in brackets, such as [grinning face]; what has no name here, and
    letters of scripts that the fonts lack, become [?]. What has no look at all is left out, and a
    word too long for a line may be broken.
    """
    shown = "".join(_shown(letter) for letter in unicodedata.normalize("NFC", words))
    if words and not shown.strip():
        return "?"
    return LONG.sub(lambda found: f"{found[0]}{BREAK}", shown)


def _shown(letter):
    code = ord(letter)
    if letter in NEWLINES:
        return NEWLINES[letter]
    if any(low <= code <= high for low, high in SHOWN):
        return letter
    kind = unicodedata.category(letter)
    if kind[0] in "CMZ":  # controls, halves of letters, marks without a letter, odd spaces
        return " " if kind == "Zs" else ""
    if kind == "So":
        return f"[{unicodedata.name(letter, '?').lower()}]"
    return "[?]"


def all_printable(facts):
    """The same facts with every text in them made printable."""
    if isinstance(facts, str):
        return printable(facts)
    if isinstance(facts, dict):
        return {key: all_printable(value) for key, value in facts.items()}
    if isinstance(facts, list | tuple):
        return [all_printable(value) for value in facts]
    return facts
