"""A file becomes rows, or a sentence that says why not and what to do."""

import csv
import io
import zipfile
from datetime import date, datetime

import pytest
from openpyxl import load_workbook

from servicedesk.registers import columns, files
from servicedesk.registers.files import NotARegister, read_register
from tests.servicedesk.registers.sheets import SAMPLES, csv_file, row, xlsx_file


def refusal(content):
    with pytest.raises(NotARegister) as caught:
        read_register(io.BytesIO(content))
    return str(caught.value)


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_cells_may_be_parted_by_commas_semicolons_or_tabs(mark):
    out = io.StringIO()
    csv.writer(out, delimiter=mark).writerows([row().keys(), row().values()])

    register = read_register(io.BytesIO(out.getvalue().encode("utf-8-sig")))

    assert (register.rows[0].number, register.rows[0].cells) == (2, row())


def test_workbook_and_csv_give_the_same_rows():
    typed = row(installed_on=date(2024, 5, 16), latitude=44.6, pond_depth=14, customer_key="7")
    typed |= {"filter_changed_on": datetime(2026, 3, 14), "compressor_serial": 4471}  # noqa: DTZ001
    said = row(customer_key="7", compressor_serial="4471")

    from_book, from_text = (
        [{name: cell for name, cell in r.cells.items() if cell} for r in read_register(f).rows]
        for f in (xlsx_file([typed]), csv_file([said]))
    )

    assert from_book == from_text


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "neither a CSV nor an XLSX"),
        (b"%PDF-1.7\n\x01\x02\x03\xff\xfe", "neither a CSV nor an XLSX"),
        (b"%PDF-1.7\n%\xe2\xe3\n1 0 obj", "neither a CSV nor an XLSX"),
        (b"\xd0\xcf\x11\xe0rest", "old kind"),
        (b'{"systems": []}', "names none of the columns"),
        (b"PK\x03\x04 nothing behind it", "cannot be read"),
        ("customer_key,customer\nC1,M\xfchle".encode("latin-1"), "Line 2"),
        (b'customer_key,customer\nC1,"open', "quotation mark"),
        (b"customer_key,customer\n,\n", "stands no row"),
    ],
)
def test_what_is_no_register_is_refused_with_a_sentence(content, says):
    assert says in refusal(content)


def test_file_beyond_the_limit_is_refused_before_it_is_read(monkeypatch):
    monkeypatch.setattr(files, "BYTES_MAX", 1024**2)

    assert "larger than 1 MB" in refusal(b"x" * (1024**2 + 1))


def workbook_with(sheet):
    """The template with another first sheet inside."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(files.template_xlsx())) as good,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as bad,
    ):
        for part in good.namelist():
            bad.writestr(part, sheet if part == "xl/worksheets/sheet1.xml" else good.read(part))
    return out.getvalue()


def test_workbook_with_entities_of_its_own_is_refused():
    hostile = b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><worksheet>&b;</worksheet>'

    assert "cannot be read" in refusal(workbook_with(hostile))


def test_workbook_that_unpacks_to_too_much_is_refused(monkeypatch):
    monkeypatch.setattr(files, "UNPACKED_MAX", 1024**2)

    assert "cannot be read" in refusal(workbook_with(b" " * (2 * 1024**2)))


def test_formula_is_a_fault_with_its_row_and_column():
    register = read_register(xlsx_file([row(), row(2, pond_area="=1+1")]))

    assert [(f.row, f.column) for f in register.faults] == [(3, "pond_area")]


def test_unknown_column_is_named_with_the_one_that_was_meant():
    names = ["pond_dept" if name == "pond_depth" else name for name in columns.NAMES]

    faults = read_register(csv_file([row()], names)).faults

    assert [(f.row, f.column) for f in faults] == [(1, "pond_dept")]
    assert "Did you mean pond_depth?" in faults[0].says


def test_wanted_column_that_is_missing_is_named_once():
    faults = read_register(csv_file([row()], [n for n in columns.NAMES if n != "latitude"])).faults

    assert [(f.row, f.column) for f in faults] == [(1, "latitude")]


def test_row_with_more_cells_than_columns_is_a_fault():
    out = b"customer_key,customer\nC1,Mill, Pond\n"

    assert (2, "") in [(f.row, f.column) for f in read_register(io.BytesIO(out)).faults]


def test_templates_read_back_without_fault_and_describe_every_column():
    for content in (files.template_csv(), files.template_xlsx()):
        register = read_register(io.BytesIO(content))
        assert register.faults == []
        assert list(register.rows[0].cells) == columns.NAMES
    described = load_workbook(io.BytesIO(files.template_xlsx()))["columns"]
    assert [cell.value for cell in described["A"][1 : len(columns.NAMES) + 1]] == columns.NAMES


@pytest.mark.parametrize("name", ["sample.csv", "sample.xlsx"])
def test_samples_hold_at_least_120_systems_and_no_fault(name):
    with (SAMPLES / name).open("rb") as file:
        register = read_register(file)

    assert register.faults == []
    assert len({r.cells["system_key"] for r in register.rows}) >= 120
