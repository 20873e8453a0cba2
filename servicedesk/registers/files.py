"""Reads a register from a CSV or XLSX file into rows, and writes the empty template."""

import csv
import difflib
import io
import zipfile
from dataclasses import dataclass
from datetime import date, datetime, time

from openpyxl import Workbook, load_workbook
from openpyxl.xml import DEFUSEDXML

from servicedesk.registers import columns

BYTES_MAX = 20 * 1024 * 1024
UNPACKED_MAX = 200 * 1024 * 1024
ROWS_MAX = 20_000
COLUMNS_MAX = 100
XLSX = b"PK\x03\x04"
OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
NOT_A_REGISTER = (
    "This is neither a CSV nor an XLSX file. Save the register as CSV UTF-8 or as XLSX, then load "
    "it again."
)


@dataclass(frozen=True)
class Fault:
    """What is wrong in one cell, and what to do. Row 1 holds the names of the columns."""

    row: int
    column: str
    says: str


@dataclass(frozen=True)
class Row:
    number: int
    cells: dict[str, str]


@dataclass(frozen=True)
class Register:
    rows: list[Row]
    faults: list[Fault]


class NotARegister(Exception):
    """The file cannot be read as a register at all; the message says what to do."""


def read_register(file):
    """The rows of a CSV or XLSX file, and the faults of its shape.

    file: open for reading bytes. What it is shows in its bytes, not in its name.
    Raises NotARegister when there is no table in it, or none with our columns.
    """
    content = file.read(BYTES_MAX + 1)
    if len(content) > BYTES_MAX:
        raise NotARegister(
            f"The file is larger than {BYTES_MAX // 1024**2} MB. A register of 5,000 systems has "
            "about 2 MB: take pictures and other sheets out of it, or load it in parts."
        )
    if not content.strip():
        raise NotARegister("The file is empty. Choose the file with your register.")
    if content.startswith(OLD_WORKBOOK):
        raise NotARegister("This is a workbook of the old kind (XLS). Save it as XLSX.")
    table = _workbook(content) if content.startswith(XLSX) else _text_table(content)
    return _register(table)


def _register(table):
    header, *lines = table or [[]]
    names = [_name(cell) for cell in header]
    if not set(names) & set(columns.NAMES):
        raise NotARegister(
            "The first row names none of the columns of a register. Take the template, or write "
            "the names of the columns into the first row."
        )
    if len(lines) > ROWS_MAX:
        raise NotARegister(f"The file has more than {ROWS_MAX} rows. Load it in parts.")
    faults = _header_faults(names)
    rows = []
    for number, line in enumerate(lines, start=2):
        cells = {name: _plain(cell) for name, cell in zip(names, line, strict=False) if name}
        if any(cells.values()) or any(_plain(cell) for cell in line):
            faults += _line_faults(number, names, line)
            rows.append(Row(number, cells))
    if not rows:
        raise NotARegister("Under the names of the columns stands no row. Fill in your systems.")
    return Register(rows, faults)


def _name(cell):
    return "_".join(str(cell or "").strip().lower().replace("-", " ").split())


def _header_faults(names):
    faults = []
    for name in dict.fromkeys(filter(None, names)):
        if name not in columns.BY_NAME:
            near = difflib.get_close_matches(name, columns.NAMES, n=1, cutoff=0.6)
            hint = (
                f"Did you mean {near[0]}?" if near else "Take it out, or see the list of columns."
            )
            faults.append(Fault(1, name, f"There is no column {name}. {hint}"))
        elif names.count(name) > 1:
            faults.append(Fault(1, name, f"The column {name} stands there twice. Keep one."))
    for name in columns.WANTED:
        if name not in names:
            says = f"The column {name} is missing. {columns.BY_NAME[name].help}"
            faults.append(Fault(1, name, says))
    return faults


def _line_faults(number, names, line):
    faults = [
        Fault(number, name, "This cell holds a formula. Paste its value instead.")
        for name, cell in zip(names, line, strict=False)
        if name and isinstance(cell, Formula)
    ]
    beyond = [cell for cell, name in zip(line, names + [""] * len(line), strict=False) if not name]
    if any(_plain(cell) for cell in beyond):
        says = "There are more cells than columns. Is there a comma in a cell without quotes?"
        faults.append(Fault(number, "", says))
    return faults


class Formula(str):
    """Marks a cell that a workbook would compute: what it shows cannot be checked here."""


def _plain(cell):
    """A cell as the text that a person would have typed."""
    if cell is None or isinstance(cell, Formula):
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.12g}" if cell.is_integer() or abs(cell) >= 1e-4 else str(cell)
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(" ")
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, time):
        return cell.strftime("%H:%M")
    return str(cell).strip()


def _text_table(content):
    if b"\0" in content[:4096] or content.startswith(b"%PDF"):
        raise NotARegister(NOT_A_REGISTER)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if not _looks_like_text(content):
            raise NotARegister(NOT_A_REGISTER) from None
        line = content.count(b"\n", 0, error.start) + 1
        raise NotARegister(
            f"Line {line} holds a character that is not UTF-8, so names would be spoilt. Save the "
            "file again as CSV UTF-8."
        ) from None
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=_mark(text), strict=True))
    except csv.Error as error:
        raise NotARegister(
            f"The file cannot be read as CSV ({error}). Look for a quotation mark that is not "
            "closed, or save it again as CSV UTF-8."
        ) from None


def _looks_like_text(content):
    odd = sum(byte < 32 and byte not in b"\t\r\n\f" for byte in content[:4096])
    return not odd


def _mark(text):
    """The mark between cells: the one most frequent in the first line."""
    first = text.partition("\n")[0]
    return max(",;\t", key=first.count)


def _workbook(content):
    if not DEFUSEDXML:  # openpyxl then reads XML without protection
        raise NotARegister("XLSX files cannot be read here: the part defusedxml is missing.")
    broken = NotARegister(
        "This XLSX file cannot be read. Open it in your spreadsheet program, save it again as "
        "XLSX, or save it as CSV UTF-8."
    )
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            unpacked = sum(part.file_size for part in parts.infolist())
            names = set(parts.namelist())
        if "xl/workbook.xml" not in names or unpacked > UNPACKED_MAX:
            raise broken
        return _sheet_table(content)
    except NotARegister:
        raise
    except Exception:  # a hostile or damaged file may break anywhere inside the reader
        raise broken from None


def _sheet_table(content):
    book = load_workbook(io.BytesIO(content), read_only=True, data_only=False, keep_links=False)
    try:
        sheet = book.worksheets[0]
        sheet.reset_dimensions()  # the size written in the file may be a lie
        table = []
        for line in sheet.iter_rows(max_col=COLUMNS_MAX, max_row=2 * ROWS_MAX):
            table.append([_cell(cell) for cell in line])
            while table[-1] and table[-1][-1] is None:
                table[-1].pop()
    finally:
        book.close()
    while table and not table[-1]:
        table.pop()
    return table


def _cell(cell):
    if getattr(cell, "data_type", None) == "f":
        return Formula(cell.value)
    return cell.value


def template_csv():
    """The template: names of the columns and one example row, as CSV bytes."""
    out = io.StringIO(newline="")
    csv.writer(out).writerows(_template())
    return out.getvalue().encode("utf-8-sig")  # the mark makes spreadsheet programs read UTF-8


def template_xlsx():
    """The template as a workbook; the second sheet describes the columns."""
    book = Workbook()
    sheet = book.active
    sheet.title = "register"
    for line in _template():
        sheet.append(line)
    sheet.freeze_panes = "A2"
    words = book.create_sheet("columns")
    words.append(["column", "wanted", "what to write", "example"])
    for column in columns.COLUMNS:
        words.append([column.name, "yes" if column.wanted else "", column.help, column.example])
    for note in columns.NOTES:
        words.append([note])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _template():
    return [columns.NAMES, [column.example for column in columns.COLUMNS]]
