"""Small registers for the checks: rows as dicts, made into files."""

import csv
import io
from pathlib import Path

from openpyxl import Workbook

from servicedesk.registers.columns import NAMES

SAMPLES = Path(__file__).parents[3] / "fixtures" / "registers"


def row(number=1, **cells):
    """One whole row; what a check cares about, it names."""
    start = {
        "customer_key": f"C{number}",
        "customer": f"Halvorsen {number}",
        "contact": "Ines Halvorsen",
        "contact_email": f"ines{number}@example.com",
        "site_key": f"S{number}",
        "site": f"{number} Mill Lane",
        "latitude": "44.6",
        "longitude": "-94.0",
        "pond_key": f"P{number}",
        "pond": f"Mill Pond {number}",
        "pond_depth": "14",
        "depth_unit": "ft",
        "system_key": f"A{number}",
        "system": f"Cabinet {number}",
        "installed_on": "2024-05-16",
        "diffuser_depths": "12; 10",
        "compressor_maker": "Brookmade",
        "compressor_model": "P-40",
        "compressor_kind": "piston",
        "compressor_serial": f"44{number:02}",
        "filter_part": "FE-40",
        "filter_changed_on": "2026-03-14",
    }
    return start | cells


def csv_file(rows, names=None):
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, names or NAMES, restval="", extrasaction="ignore")
    writer.writeheader()
    writer.writerows(rows)
    return io.BytesIO(out.getvalue().encode())


def xlsx_file(rows, names=None):
    book = Workbook()
    book.active.append(names or NAMES)
    for cells in rows:
        book.active.append([cells.get(name) for name in names or NAMES])
    out = io.BytesIO()
    book.save(out)
    out.seek(0)
    return out
