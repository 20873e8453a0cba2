"""Field calculators: any staff may work out a figure at the pond, by an address to send on."""

import html
import re
from urllib.parse import urlencode

import pytest
from django.urls import reverse

from customers.kinds import Role, Units
from equipment.physics import units
from servicedesk.forms.calculators import BY_KEY, GROUPS
from servicedesk.forms.calculators.results import figure
from servicedesk.planning.calculations import CALCULATIONS, ice_rows, weather_rows, winter_rows
from tests import make

pytestmark = pytest.mark.django_db
# Answers that nobody needs at a pond or in the office: by the command line only.
BY_COMMAND_ONLY = {
    # mails and calendar files
    *("series_day", "week_date", "long_years", "occurrences", "recurrence", "alarm_trigger"),
    *("alarm_repeat", "folded_octets", "escaped_text", "sequence_after", "minimal_invitation"),
    *("properties_of_new_sequence", "calendar_part_type", "method_agrees", "alternative_type"),
    *("encodings_beyond_ascii", "unsubscribe_headers", "unsubscribe_body", "is_one_click"),
    *("unsubscribe_addresses", "instant", "local_time", "utc_of_local", "offset_h"),
    *("local_time_exists", "hours_between"),
    # constants, published examples, and other forms of what is offered
    *("published_line_m", "quarter_meridian_m", "degree_of_latitude_km", "mean_radius_km"),
    *("geodesic_km", "distance_km", "densest_water_c", "foot_of_water_psi", "acre_feet"),
    *("usual_pressure_psi", "lake_density_kg_m3", "oxygen_pressure_factor", "membrane_units"),
    *("oxygen_solubility_umol_kg", "air_pressure_psia", "air_pressure_pa", "cfm_m3_h"),
    *("line_volume_cfm", "airline_loss_pa", "empirical_airline_loss_pa", "age_replacement"),
    # textbook parts and municipal studies
    *("air_density_kg_m3", "air_viscosity_pa_s", "mass_flow_kg_s", "friction_factor"),
    *("colebrook_factor", "polytropic_power_kw", "compressed_temperature_k", "adiabatic_hp"),
    *("blower_power_kw", "typical_efficiency", "linear_operating_point", "fouling_rise_mbar"),
    *("ageing_change_mbar", "transfer_loss_percent", "new_membrane_mbar"),
    *("washing_recovers_mbar", "weibull_location", "weibull_advice", "weibull_log_likelihood"),
    *("weibull_aic", "weibull_bic", "mean_life", "erlang_renewals", "constant_failure_rate"),
    *("poisson_cumulative", "theil_sen", "mann_kendall_z", "mann_kendall"),
    "mann_kendall_one_sided",
    # what a restart's own page asks and shows
    *("restart_path", "restart_path_code", "ramp_days", "ramp_stop_signs"),
    # ice is no calculator beside a pond: its growth tells nothing about strength
    *(calculation.name for calculation in ice_rows.CALCULATIONS),
    # weather files that come with the program, to try calculations on
    *(calculation.name for calculation in weather_rows.CALCULATIONS),
    # the page of a winter asks these
    *(calculation.name for calculation in winter_rows.CALCULATIONS),
    # the page of a system says what its readings say
    *("causes", "diagnosis"),
}


@pytest.fixture(params=[Units.US, Units.METRIC])
def reader(client, request):
    make.firm()
    client.force_login(make.user(Role.TECHNICIAN, units=request.param))
    return client, request.param


def opened(client, key, **typed):
    response = client.get(reverse("calculation", args=[key]), typed)
    assert response.status_code == 200
    return response


def results(response):
    """Every figure of the result, single ones first, then row by row."""
    lines, many = response.context["lines"] or [], response.context["many"]
    rows = [line.text for _, row in many.rows for line in row] if many else []
    return [line.text for line in lines] + rows


def test_every_calculation_stands_on_the_page_or_is_left_to_the_command_line():
    offered = {calculator.name for calculator in BY_KEY.values()}

    assert offered | BY_COMMAND_ONLY == {calculation.name for calculation in CALCULATIONS}
    assert offered & BY_COMMAND_ONLY == set()
    assert len(BY_KEY) == sum(len(group.calculators) for group in GROUPS)


def test_growth_of_ice_is_no_field_calculator():
    offered = {calculator.name for calculator in BY_KEY.values()}

    assert offered.isdisjoint(calculation.name for calculation in ice_rows.CALCULATIONS)


def test_list_names_every_calculator(reader):
    client, _ = reader
    page = client.get(reverse("calculations")).content.decode()

    for key in BY_KEY:
        assert reverse("calculation", args=[key]) in page


def test_example_of_each_calculator_gives_its_result_with_source_and_mark(reader):
    client, system = reader
    for key, calculator in BY_KEY.items():
        response = opened(client, key, **calculator.example(system))
        page = html.unescape(response.content.decode())

        assert results(response), (key, response.context["form"].errors)
        assert response.context["source"][1:] in page, key
        assert not re.search(r"\bsafe\b", page, re.IGNORECASE), key


def test_empty_form_asks_and_shows_no_result(reader):
    client, _ = reader
    for key, calculator in BY_KEY.items():
        response = opened(client, key)

        assert bool(results(response)) is not bool(calculator.asks), key
        assert not response.context["form"].errors, key


def test_typed_feet_and_typed_metres_give_one_pressure(client):
    client.force_login(make.user(Role.TECHNICIAN, units=Units.US))
    feet = opened(
        client,
        "pressure-at-a-depth",
        depth="12",
        depth_in="ft",
        temperature_c="20",
        temperature_c_in="C",
    )
    metres = opened(
        client,
        "pressure-at-a-depth",
        depth="3,6576",
        depth_in="m",
        temperature_c="68",
        temperature_c_in="F",
    )

    assert results(feet) == results(metres) == ["5.193\u00a0psi"]  # by IAPWS-95
    assert "35.8\u00a0kPa" in feet.content.decode()


def test_wrong_figure_is_answered_beside_its_field_and_what_was_typed_stays(client):
    client.force_login(make.user(Role.TECHNICIAN, units=Units.METRIC))
    response = opened(client, "pressure-at-a-depth", depth="tief", temperature_c="451")
    form = response.context["form"]

    assert "is not a number" in form.errors["depth"][0]
    assert "between \N{MINUS SIGN}1 and 45 °C" in form.errors["temperature_c"][0]
    assert 'value="tief"' in response.content.decode()
    assert results(response) == []


def test_odd_entry_is_answered_beside_its_field_without_the_name_that_programs_use(client):
    client.force_login(make.user(Role.TECHNICIAN))
    response = opened(
        client, "season-windows", season="winter", latitude="45", first_year="3,5", last_year="2027"
    )
    form = response.context["form"]

    assert form.errors["first_year"] == ["3.5 cannot be read; write a whole number such as 3."]
    assert not form.non_field_errors()


def test_help_keeps_the_capitals_of_months_and_weeks(client):
    client.force_login(make.user(Role.TECHNICIAN))

    assert "31 January gives 28 February" in opened(client, "months-later").content.decode()
    assert "2026-W48" in opened(client, "monday-of-a-week").content.decode()


def test_what_the_calculation_refuses_is_said_in_its_sentence(client):
    client.force_login(make.user(Role.TECHNICIAN, units=Units.METRIC))
    response = opened(
        client,
        "oxygen-at-saturation",
        temperature_c="20",
        altitude_m="1500",
        pressure_kpa="1017",
        pressure_kpa_in="hPa",
    )

    assert "sea level" in response.context["form"].non_field_errors()[0]


@pytest.mark.parametrize("between", ["\t", "; ", "   "])
def test_table_is_taken_as_it_is_copied(client, between):
    client.force_login(make.user(Role.TECHNICIAN, units=Units.METRIC))
    rows = "\r\n".join(between.join(row) for row in [("0", "4000"), ("1,5", "3000"), ("3", "1000")])
    response = opened(client, "volume-from-contours", contours=rows + "\r\n\r\n")

    assert results(response) == ["8\u00a0250\u00a0m³"]


def test_line_of_a_table_that_lacks_a_figure_is_named(client):
    client.force_login(make.user(Role.TECHNICIAN, units=Units.METRIC))
    response = opened(client, "volume-from-contours", contours="0 4000\n1")

    assert response.context["form"].errors["contours"] == [
        "Line 2 has 1 figures; it needs 2: depth, area inside."
    ]


def test_deep_line_of_a_manifold_without_valves_gets_no_air(client):
    client.force_login(make.user(Role.TECHNICIAN, units=Units.METRIC))
    manifold = BY_KEY["operating-point"].example("metric")
    response = opened(client, "operating-point", **manifold)

    rows = dict(response.context["many"].rows)
    assert [line.text for line in rows[3]] == ["0\u00a0L/min"]
    assert units.typed_number(rows[1][0].text.split("\u00a0")[0]) > 100


def test_figure_without_a_unit_counts_in_the_readers_own_and_the_page_says_so(client):
    client.force_login(make.user(Role.TECHNICIAN, units=Units.US))
    response = opened(client, "pressure-at-a-depth", depth="12", temperature_c="68")

    assert results(response) == ["5.193\u00a0psi"]
    assert '<option value="ft" selected>' in response.content.decode()


@pytest.mark.parametrize(
    ("number", "printed"),
    [
        (0, "0"),
        (3, "3"),
        (1234, "1\u00a0234"),
        (8.6702, "8.67"),
        (0.000123456, "0.0001235"),
        (-12.3456, "\N{MINUS SIGN}12.35"),
        (325851.43, "325\u00a0851"),
        (999.96, "1\u00a0000"),
    ],
)
def test_figures_are_printed_to_four_places_without_an_exponent(number, printed):
    assert figure(number) == printed


def test_pond_that_is_mixed_has_no_thermocline_in_words(client):
    client.force_login(make.user(Role.TECHNICIAN, units=Units.METRIC))
    response = opened(client, "thermocline", profile="0 20\n1 20\n2 20")

    assert results(response) == ["None: the pond is mixed, or density grows nowhere so fast."]


def test_unknown_calculator_is_not_found(client):
    client.force_login(make.user(Role.TECHNICIAN))

    assert client.get(reverse("calculation", args=["sunshine"])).status_code == 404


def test_calculator_asks_the_database_for_nothing_but_its_reader(
    client, django_assert_max_num_queries
):
    client.force_login(make.user(Role.TECHNICIAN))
    with django_assert_max_num_queries(3):  # session, reader, firm
        client.get(
            reverse("calculation", args=["operating-point"])
            + "?"
            + urlencode(BY_KEY["operating-point"].example("us"))
        )


def test_nothing_can_be_posted(client):
    client.force_login(make.user(Role.TECHNICIAN))

    assert client.post(reverse("calculation", args=["stability"])).status_code == 405
