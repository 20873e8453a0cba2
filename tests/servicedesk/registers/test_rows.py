"""What may stand in a cell, and the sentence where it may not."""

from datetime import date

import pytest

from servicedesk.registers.rows import RowForm
from tests.servicedesk.registers.sheets import row

TODAY = date(2026, 6, 1)


def said(**cells):
    form = RowForm(row(**cells), today=TODAY)
    assert form.errors == {}
    return form.cleaned_data


def wrong(**cells):
    form = RowForm(row(**cells), today=TODAY)
    return {name: " ".join(says) for name, says in form.errors.items()}


# NIST SP 811 (2008), appendix B: 1 ft = 0.3048 m, 1 acre = 4046.873 m2, 1 psi = 6894.757 Pa;
# an acre of the survey foot there, of the international foot here: 4046.856 m2.
@pytest.mark.parametrize(
    ("cells", "name", "stored"),
    [
        ({"pond_depth": "14", "depth_unit": "ft"}, "pond_depth", 4.2672),
        ({"pond_area": "1.5", "area_unit": "ac"}, "pond_area", 6070.28),
        ({"pond_area": "0,5", "area_unit": "ha"}, "pond_area", 5000),
        ({"pressure_max": "30", "pressure_unit": "psi"}, "pressure_max", 206_842.7),
        ({"elevation": "985", "elevation_unit": "ft"}, "elevation", 300.228),
    ],
)
def test_measure_is_stored_in_si_whatever_its_unit(cells, name, stored):
    assert said(**cells)[name] == pytest.approx(stored, rel=1e-5)


@pytest.mark.parametrize("text", ["2024-05-16", "16 May 2024", "May 16, 2024", "16.05.2024"])
def test_day_is_read_where_it_can_be_read_in_one_way(text):
    assert said(installed_on=text)["installed_on"] == date(2024, 5, 16)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2024-02-30", "There is no day 2024-02-30"),
        ("31/06/2024", "There is no day"),
        ("03/04/2024", "two ways: 4 March or 3 April"),
        ("last spring", "is not a day"),
        ("May 2024", "There is no day"),
        ("2031-01-01", "future"),
        ("1066-10-14", "too long ago"),
    ],
)
def test_impossible_day_is_refused_with_what_to_write(text, says):
    assert says in wrong(installed_on=text)["installed_on"]


@pytest.mark.parametrize(
    ("cells", "name"),
    [
        ({"pond_depth": "900"}, "pond_depth"),
        ({"pond_area": "1"}, "area_unit"),
        ({"latitude": "91"}, "latitude"),
        ({"latitude": ""}, "latitude"),
        ({"customer": ""}, "customer"),
        ({"contact_email": "ines at example"}, "contact_email"),
        ({"diffuser_depths": "12; 30"}, "diffuser_depths"),
        ({"diffuser_depths": "deep"}, "diffuser_depths"),
        ({"hours_per_day": "25"}, "hours_per_day"),
        ({"state": "sleeping"}, "state"),
        ({"hazards": "dragon"}, "hazards"),
        ({"open_from": "17:00", "open_until": "08:00"}, "open_until"),
        ({"open_days": "Mon-Fri"}, "open_from"),
        ({"time_zone": "Mars/Base"}, "time_zone"),
        ({"filter_changed_on": "2024-01-01"}, "filter_changed_on"),
        ({"compressor_kind": ""}, "compressor_kind"),
        ({"contact": ""}, "contact"),
    ],
)
def test_faulty_cell_is_named_by_its_column(cells, name):
    assert list(wrong(**cells)) == [name]


def test_hazards_and_opening_days_are_read():
    data = said(
        hazards="Dog: tied at the barn; soft ground",
        open_days="Mon-Wed, Fri",
        open_from="8:00",
        open_until="17:00",
    )

    assert data["hazards"] == [("dog", "tied at the barn"), ("soft_ground", "")]
    assert data["open_days"] == [1, 2, 3, 5]
