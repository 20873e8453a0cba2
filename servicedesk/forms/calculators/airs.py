"""Calculators for air, airlines and diffusers, compressors and manifolds."""

from django.utils.translation import gettext_lazy as _

from servicedesk.forms.calculators.asks import (
    AIR_PRESSURE,
    BORE,
    DENSITY,
    FLOW,
    LENGTH,
    POWER,
    PRESSURE,
    SLOPE,
    TEMPERATURE,
    Ask,
    Calculator,
    Column,
    Give,
    Group,
    Kind,
    Table,
)

ALTITUDE_M = Ask("altitude_m", _("Altitude"), ("1000", "300"), LENGTH, "m")
ALTITUDE_FT = Ask("altitude_ft", _("Altitude"), ("1000", "300"), LENGTH, "ft", required=False)
KINDS = (
    ("piston", _("rocking piston")),
    ("vane", _("rotary vane")),
    ("linear", _("linear diaphragm")),
    ("other", _("another kind")),
)
BURNS = _("Heads and pipes of a compressor burn the skin: let them cool before you touch them.")

AIR = Group(
    _("Air"),
    (
        Calculator(
            "air-at-an-altitude",
            "standard_atmosphere",
            _("Air pressure and density at an altitude"),
            (ALTITUDE_M,),
            (
                Give(_("Mean pressure"), AIR_PRESSURE, "Pa", "pressure_Pa"),
                Give(_("Density"), DENSITY, "kg/m3", "density_kg_m3"),
            ),
        ),
        Calculator(
            "mass-of-air-at-an-altitude",
            "mass_flow_ratio",
            _("Mass of air that a machine moves at an altitude"),
            (
                ALTITUDE_M,
                Ask("inlet_temperature_c", _("Air at the intake"), ("86", "30"), TEMPERATURE, "C"),
            ),
            (Give(_("Share of that at sea level and 20 °C")),),
        ),
        Calculator(
            "free-air-in-normal-cubic-metres",
            "free_air_to_normal",
            _("Free air in normal cubic metres"),
            (
                Ask("fad_m3_h", _("Free air"), ("4", "110"), FLOW, "m3/h"),
                Ask(
                    "inlet_pressure_pa",
                    _("Air pressure at the intake"),
                    ("29", "980"),
                    AIR_PRESSURE,
                    "Pa",
                ),
                Ask("inlet_temperature_c", _("Air at the intake"), ("86", "30"), TEMPERATURE, "C"),
            ),
            (Give(_("At 0 °C and 101 325 Pa"), unit="Nm³/h"),),
        ),
        Calculator(
            "standard-flow",
            "standard_flow_m3_h",
            _("Standard cubic feet in another condition"),
            (
                Ask("scfm", _("Flow as counted"), "4", FLOW, "cfm"),
                Ask("counted_at_f", _("Counted at"), ("60", "15.5556"), TEMPERATURE, "F"),
                Ask("wanted_at_c", _("Wanted at"), ("68", "20"), TEMPERATURE, "C"),
                Ask(
                    "wanted_at_pa",
                    _("Wanted at an air pressure of"),
                    ("29.92", "1013.25"),
                    AIR_PRESSURE,
                    "Pa",
                ),
            ),
            (Give(_("Flow there"), FLOW, "m3/h"),),
        ),
        Calculator(
            "volume-in-a-line",
            "line_volume_m3_h",
            _("Volume of free air in a line under pressure"),
            (
                Ask("free_air_m3_h", _("Free air"), ("4", "110"), FLOW, "m3/h"),
                Ask("gauge_pressure_kpa", _("Gauge pressure"), ("6.5", "45"), PRESSURE, "kPa"),
            ),
            (Give(_("Volume in the line"), FLOW, "m3/h"),),
        ),
        Calculator(
            "float-meter",
            "rotameter_cfm",
            _("Flow behind a float meter under pressure"),
            (
                Ask("shown_cfm", _("What its scale shows"), ("3.5", "100"), FLOW, "cfm"),
                Ask("gauge_psi", _("Gauge pressure in it"), ("6.5", "45"), PRESSURE, "psi"),
                ALTITUDE_FT,
            ),
            (Give(_("Free air"), FLOW, "cfm"),),
        ),
    ),
)

FREE_AIR = Ask("free_air_cfm", _("Free air"), ("2", "57"), FLOW, "cfm")
LINES = Group(
    _("Airlines and diffusers"),
    (
        Calculator(
            "loss-along-an-airline",
            "airline_loss_psi",
            _("Pressure lost along an airline"),
            (
                FREE_AIR,
                Ask("inside_diameter_in", _("Inner diameter"), ("0.5", "12.7"), BORE, "in"),
                Ask("length_ft", _("Length"), ("250", "75"), LENGTH, "ft"),
                Ask("inlet_psi", _("Gauge pressure where it begins"), ("7", "48"), PRESSURE, "psi"),
                ALTITUDE_FT,
            ),
            (Give(_("Lost"), PRESSURE, "psi"),),
        ),
        Calculator(
            "loss-along-steel-pipe",
            "steel_pipe_loss_psi",
            _("Pressure lost along steel pipe"),
            (
                Ask("free_air_scfm", _("Free air"), ("4", "110"), FLOW, "cfm"),
                Ask(
                    "nominal_pipe_in",
                    _("Nominal size of schedule 40 pipe, inch"),
                    "1/2",
                    kind=Kind.CHOICE,
                    choices=tuple((n, n) for n in ("1/8", "1/4", "3/8", "1/2", "3/4", "1")),
                    help="",
                ),
                Ask("length_ft", _("Length"), ("10", "3"), LENGTH, "ft"),
                Ask(
                    "inlet_psig", _("Gauge pressure where it begins"), ("7", "48"), PRESSURE, "psi"
                ),
            ),
            (Give(_("Lost"), PRESSURE, "psi"),),
        ),
        Calculator(
            "pressure-of-a-membrane",
            "membrane_pressure_kpa",
            _("Pressure of a wetted membrane"),
            (
                Ask("opening_kpa", _("Opening pressure"), ("0.36", "2.5"), PRESSURE, "kPa"),
                Ask(
                    "slope_kpa_per_m3h",
                    _("Rise with the flow"),
                    ("0.15", "0.6"),
                    SLOPE,
                    "kPa/(m3/h)",
                ),
                Ask("flow_per_diffuser_m3_h", _("Free air through it"), ("2", "57"), FLOW, "m3/h"),
            ),
            (Give(_("Pressure of the membrane"), PRESSURE, "kPa"),),
        ),
        Calculator(
            "membrane-from-the-gauge",
            "membrane_pressure_from_gauge_psi",
            _("Pressure of a membrane from the gauge in the cabinet"),
            (
                Ask("gauge_psi", _("Gauge, valves fully open"), ("6.8", "47"), PRESSURE, "psi"),
                Ask("diffuser_depth_ft", _("Water above it today"), ("12", "3.6"), LENGTH, "ft"),
                Ask("line_loss_psi", _("Lost along the line"), ("0.5", "3.5"), PRESSURE, "psi"),
                Ask(
                    "check_valve_psi",
                    _("Lost in the check valve"),
                    "",
                    PRESSURE,
                    "psi",
                    required=False,
                ),
            ),
            (Give(_("Pressure of the membrane"), PRESSURE, "psi"),),
        ),
        Calculator(
            "filter-interval",
            "filter_interval",
            _("How often an air filter is looked at"),
            (),
            (
                Give(_("Looked at every"), unit=_("days"), path="check_days"),
                Give(_("Replaced after, from"), unit=_("months"), path="replace_months.0"),
                Give(_("To"), unit=_("months"), path="replace_months.1"),
            ),
        ),
        Calculator(
            "starting-by-steps",
            "restart_minutes",
            _("Minutes a day when a system starts anew"),
            (Ask("first_day_min", _("Minutes on the first day"), "30"),),
            (Give(_("Day"), unit="min", path="*"),),
            caution=_(
                "Stop and call the office when fish gasp at the surface, or the water smells "
                "rotten and the smell stays."
            ),
        ),
        Calculator(
            "trench-depth",
            "trench_depth_in",
            _("Depth of a trench for an airline"),
            (),
            (Give(_("At least"), BORE, "in"),),
            caution=_(
                "Have buried utilities located before anybody digs, and follow the local code. "
                "This depth keeps off mowers and spades only, not frost."
            ),
        ),
    ),
)

CURVE = Table(
    "compressor_curve_kpa_m3h",
    _("Compressor: gauge pressure and free air, a line for each point of its curve"),
    (
        Column("kpa", _("pressure"), PRESSURE, "kPa"),
        Column("m3h", _("free air"), FLOW, "m3/h"),
    ),
    ("0 5.3\n3 5.0\n6 4.6\n9 4.1\n12 3.4\n15 2.6", "0 150\n20 142\n40 130\n60 115\n80 97\n100 73"),
    "pairs",
)
MANIFOLD = Table(
    "lines",
    _(
        "Lines: length, inner diameter, depth, diffusers, then opening pressure and rise of "
        "one membrane"
    ),
    (
        Column("length_m", _("length"), LENGTH, "m"),
        Column("id_mm", _("inner diameter"), BORE, "mm"),
        Column("depth_m", _("depth"), LENGTH, "m"),
        Column("n_diffusers", _("diffusers")),
        Column("a_kPa", _("opening pressure"), PRESSURE, "kPa"),
        Column("b_kPa_per_m3h", _("rise with the flow"), SLOPE, "kPa/(m3/h)"),
    ),
    (
        "100 0.5 8 1 0.36 0.15\n250 0.5 12 1 0.36 0.15\n400 0.5 14 1 0.36 0.15",
        "30 12.7 2.4 1 2.5 0.6\n75 12.7 3.6 1 2.5 0.6\n120 12.7 4.2 1 2.5 0.6",
    ),
    "records",
)
SITE_AIR = Ask(
    "atmospheric_pa",
    _("Air pressure at the site"),
    ("29.5", "1000"),
    AIR_PRESSURE,
    "Pa",
    required=False,
)

COMPRESSOR = Group(
    _("Compressor and manifold"),
    (
        Calculator(
            "operating-point",
            "operating_point",
            _("Where a compressor and its lines meet, valves open"),
            (CURVE, MANIFOLD, SITE_AIR),
            (
                Give(_("Gauge at the manifold"), PRESSURE, "kPa", "manifold_gauge_kPa"),
                Give(_("Compressor delivers"), FLOW, "m3/h", "compressor_fad_m3_h"),
                Give(_("Line"), FLOW, "m3/h", "line_flow_m3_h.*"),
            ),
            {"law": "churchill"},
        ),
        Calculator(
            "valve-settings",
            "valve_settings",
            _("Valves that share the air as wanted"),
            (
                CURVE,
                MANIFOLD,
                Ask(
                    "wanted_m3_h",
                    _("Free air wanted for each line; only shares count"),
                    "1, 1, 1",
                    kind=Kind.NUMBERS,
                    help="",
                ),
                SITE_AIR,
            ),
            (
                Give(_("Gauge at the manifold"), PRESSURE, "kPa", "manifold_gauge_kPa"),
                Give(_("Flow of line"), FLOW, "m3/h", "lines.*.flow_m3_h"),
                Give(
                    _("Throttled by, line"),
                    PRESSURE,
                    "kPa",
                    "lines.*.valve_kPa",
                    nothing=_("shut"),
                ),
                Give(_("Left over"), FLOW, "m3/h", "surplus_m3_h"),
            ),
        ),
        Calculator(
            "typical-curve",
            "typical_curve",
            _("Curve of a compressor to begin with"),
            (
                Ask("kind", _("Kind"), "piston", kind=Kind.CHOICE, choices=KINDS, help=""),
                Ask("free_air_l_min", _("Free air at no pressure"), ("5.3", "150"), FLOW, "L/min"),
                Ask("pressure_max_pa", _("Highest pressure"), ("15", "100"), PRESSURE, "Pa"),
            ),
            (
                Give(_("Pressure at point"), PRESSURE, "Pa", "points.*.0"),
                Give(_("Free air at point"), FLOW, "L/min", "points.*.1"),
            ),
        ),
        Calculator(
            "compression-power",
            "compression_power_w",
            _("Power that compressing takes"),
            (
                Ask("fad_m3_h", _("Free air"), ("4", "110"), FLOW, "m3/h"),
                Ask("gauge_pressure_pa", _("Gauge pressure"), ("6.5", "45"), PRESSURE, "Pa"),
                Ask("efficiency", _("Efficiency"), "0.4", required=False),
            ),
            (Give(_("Power"), POWER, "W"),),
        ),
        Calculator(
            "discharge-temperature",
            "discharge_temperature_c",
            _("Temperature of the air that leaves a compressor"),
            (
                Ask("inlet_c", _("Air at the intake"), ("86", "30"), TEMPERATURE, "C"),
                Ask("gauge_pressure_pa", _("Gauge pressure"), ("6.5", "45"), PRESSURE, "Pa"),
                Ask("efficiency", _("Efficiency of the compression"), "0.6", required=False),
            ),
            (Give(_("Temperature"), TEMPERATURE, "C"),),
            caution=BURNS,
        ),
        Calculator(
            "energy",
            "energy_kwh",
            _("Energy that a machine takes"),
            (
                Ask("power_w", _("Power"), "400", POWER, "W"),
                Ask("hours", _("Hours"), "720"),
            ),
            (Give(_("Energy"), unit="kWh"),),
        ),
        Calculator(
            "cost-of-energy",
            "energy_cost",
            _("What the energy of a machine costs"),
            (
                Ask("power_w", _("Power"), "400", POWER, "W"),
                Ask("hours", _("Hours"), "720"),
                Ask("price_per_kwh", _("Price of a kilowatt hour"), "0.16"),
            ),
            (Give(_("Cost, in the money of the price")),),
        ),
    ),
)
