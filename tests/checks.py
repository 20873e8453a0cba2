"""Check rows from outside (tests/reference/): which ones bind us, and when a value agrees."""

import json
from pathlib import Path

BINDING = {"published", "library"}  # what is from memory or mere habit binds nobody


def rows(area, *quantities):
    """The binding rows of an area; all of them, or those whose quantity starts with such words."""
    text = (Path(__file__).parent / "reference" / f"{area}.json").read_text()
    return [
        row
        for row in json.loads(text)["rows"]
        if row["kind"] in BINDING and row["quantity"].startswith(quantities or "")
    ]


def agrees(expected, got, allowed):
    """Whether a value agrees, part by part; a printed figure is good to half its ninth place."""
    if isinstance(expected, dict):
        parts = [agrees(expected[key], got[key], allowed) for key in expected]
        return expected.keys() == got.keys() and all(parts)
    if isinstance(expected, list):
        pairs = zip(expected, got, strict=True)
        return all(agrees(one, other, allowed) for one, other in pairs)
    if allowed == "exact" or isinstance(expected, str | bool | None):
        return expected == got
    printed = 5e-9 * abs(expected)
    rest = max(allowed.get("abs", 0), allowed.get("rel", 0) * abs(expected))
    return abs(expected - got) <= max(rest, printed)
