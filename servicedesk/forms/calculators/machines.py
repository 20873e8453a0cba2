"""Calculators for compressors, their manifolds, power and energy."""

from django.utils.translation import gettext_lazy as _

from servicedesk.forms.calculators.asks import (
    AIR_PRESSURE,
    BORE,
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
    Shape,
    Table,
)

KINDS = (
    ("piston", _("rocking piston")),
    ("vane", _("rotary vane")),
    ("linear", _("linear diaphragm")),
    ("other", _("another kind")),
)
BURNS = _("Heads and pipes of a compressor burn the skin: let them cool before you touch them.")

CURVE = Table(
    "compressor_curve_kpa_m3h",
    _("Compressor: gauge pressure and free air, a line for each point of its curve"),
    (
        Column("kpa", _("pressure"), PRESSURE, "kPa"),
        Column("m3h", _("free air"), FLOW, "m3/h"),
    ),
    ("0 5.3\n3 5.0\n6 4.6\n9 4.1\n12 3.4\n15 2.6", "0 150\n20 142\n40 130\n60 115\n80 97\n100 73"),
    Shape.PAIRS,
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
    Shape.RECORDS,
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
                Give(_("Free air"), FLOW, "m3/h", "line_flow_m3_h.*"),
            ),
            {"law": "churchill"},
            each=_("Line"),
            note=_("A line too deep for this pressure gets no air: 0 is an answer."),
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
                Give(_("Free air"), FLOW, "m3/h", "lines.*.flow_m3_h"),
                Give(
                    _("Throttled by"),
                    PRESSURE,
                    "kPa",
                    "lines.*.valve_kPa",
                    nothing=_("shut"),
                ),
                Give(_("Left over"), FLOW, "m3/h", "surplus_m3_h"),
            ),
            each=_("Line"),
            note=_("The line that needs most pressure stands open."),
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
                Give(_("Pressure"), PRESSURE, "Pa", "points.*.0"),
                Give(_("Free air"), FLOW, "L/min", "points.*.1"),
            ),
            each=_("Point"),
            note=_("To begin with only: the machine's own curve is better."),
        ),
        Calculator(
            "compressor-at-a-site",
            "compressor_at_pressure",
            _("What a compressor delivers and draws at a site"),
            (
                CURVE,
                Ask("gauge_pressure_kpa", _("Gauge pressure"), ("6.5", "45"), PRESSURE, "kPa"),
                Ask("altitude_m", _("Altitude"), ("1000", "300"), LENGTH, "m", required=False),
                Ask(
                    "inlet_c",
                    _("Air in the cabinet"),
                    ("86", "30"),
                    TEMPERATURE,
                    "C",
                    required=False,
                ),
                Ask("efficiency", _("Efficiency"), "0.4", required=False),
            ),
            (
                Give(_("Free air"), FLOW, "m3/h", "free_air_m3_h"),
                Give(_("Mass of air against sea level"), path="mass_ratio"),
                Give(_("Power"), POWER, "W", "power_W"),
                Give(_("Air leaves at"), TEMPERATURE, "C", "discharge_C"),
            ),
            caution=BURNS,
            note=_("A machine that gives off heat delivers cooler air."),
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
            note=_(
                "Efficiency 1 gives the ideal power. Small oil-less machines often have 0.3 to "
                "0.5 (from memory, unverified)."
            ),
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
            note=_(
                "Efficiency 1 is the ideal machine. A machine that gives off heat delivers cooler"
                " air."
            ),
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
            note=_("Fixed charges are not in it."),
        ),
    ),
)
