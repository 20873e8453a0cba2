"""Growth of ice. Check rows: tests/reference/ice.json; each row names its own source."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics import ice
from servicedesk.planning.agency_texts import agency_texts
from servicedesk.planning.calculations import calculated, found, slug
from tests.checks import agrees, rows

# What agencies say of thickness is their text, never a figure of ours; permits are other rules.
STORED = ("public-agency", "multiplier", "older version", "more cautious", "winter op")
ROWS = [row for row in rows("ice") if not row["quantity"].startswith(STORED)]


@pytest.mark.parametrize("named", [str, slug], ids=["quantity", "slug"])
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_row_of_ice_passes_by_its_quantity_and_says_that_it_tells_nothing_of_strength(row, named):
    name = named(row["quantity"])

    assert agrees(row["expected"], calculated(name, row["inputs"]), row["tolerance"])
    assert "nothing about strength" in found(name)[0].says


@pytest.mark.parametrize("named", [str, slug], ids=["quantity", "slug"])
@pytest.mark.parametrize("row", rows("ice", *STORED), ids=lambda row: row["id"])
def test_text_of_an_agency_is_given_as_it_prints_it_and_said_not_to_apply_near_bubbles(row, named):
    name = named(row["quantity"])

    assert calculated(name, row["inputs"]) == row["expected"]
    assert "does not apply near an aerator" in found(name)[0].says


def test_texts_of_agencies_are_read_by_the_list_of_calculations_and_by_a_page_that_cites_them():
    root = Path(__file__).parents[3]
    reading = {
        path.name
        for house in ("customers", "equipment", "servicedesk")
        for path in (root / house).rglob("*.py")
        if "agency_texts" in path.read_text()
    }

    assert reading == {"agency_texts.py", "ice_rows.py", "notices.py"}
    assert all(text.agency and text.seen and text.words for text in agency_texts())


@given(st.floats(0, 40))
def test_ice_of_an_aerated_pond_is_never_anything_but_unsafe(thickness_in):
    assert calculated("ice on an aerated pond", {"measured_thickness_in": thickness_in}) == "unsafe"


@given(st.floats(0, 2000), st.floats(0, 2000), st.floats(0.1, 4))
def test_ice_grown_in_two_cold_spells_is_that_of_one(first, second, alpha_cm):
    begun_m = ice.grown_ice_m(first, alpha_cm)

    grown_m = ice.grown_ice_m(second, alpha_cm, min(begun_m, 3))
    assert grown_m == pytest.approx(ice.grown_ice_m(first + second, alpha_cm), abs=1e-9)


@given(st.lists(st.floats(-70, 50), max_size=40))
def test_thaw_that_takes_away_leaves_no_more_cold_than_thaw_that_counts_nothing(means):
    net = ice.freezing_degree_days(means, net=True)

    assert 0 <= net <= ice.freezing_degree_days(means) + 1e-9


@pytest.mark.parametrize(
    ("refused", "word"),
    [
        (lambda: ice.freezing_degree_days([-80]), "mean"),
        (lambda: ice.grown_ice_m(-1, 2), "degree-days"),
        (lambda: ice.grown_ice_m(10, 0), "coefficient"),
        (lambda: ice.grown_ice_m(10, 2, 4), "thickness"),
        (lambda: ice.stefan_coefficient_cm(9), "conductivity"),
        (lambda: ice.stefan_coefficient_cm(latent_heat_j_kg=1), "freezing"),
        (lambda: ice.zubov_ice_m(-1), "degree-days"),
    ],
)
def test_figures_out_of_range_are_refused_with_a_sentence(refused, word):
    with pytest.raises(ValueError, match=word):
        refused()
