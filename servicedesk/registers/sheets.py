"""Lists as CSV for a spreadsheet, in which no cell is taken for a formula."""

import csv
import io
from collections.abc import Iterable

FORMULA_BEGINS = ("=", "+", "-", "@", "\t", "\r", "\n")  # what spreadsheets may compute


def as_csv(rows: Iterable[Iterable]) -> bytes:
    """Rows of cells as UTF-8 with a mark that spreadsheets know; text stays text."""
    out = io.StringIO(newline="")
    csv.writer(out).writerows([[plain(cell) for cell in row] for row in rows])
    return out.getvalue().encode("utf-8-sig")


def plain(cell) -> str:
    """A cell as text; what would begin a formula gets an apostrophe before it."""
    text = "" if cell is None else str(cell)
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA_BEGINS) else text
