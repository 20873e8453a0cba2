"""Calculators for water and for the pond as a whole."""

from django.utils.translation import gettext_lazy as _

from servicedesk.forms.calculators.asks import (
    AIR_PRESSURE,
    AREA,
    DENSITY,
    LENGTH,
    OXYGEN,
    PRESSURE,
    TEMPERATURE,
    VOLUME,
    Ask,
    Calculator,
    Column,
    Give,
    Group,
    Kind,
    Table,
)

WATER_C = Ask("temperature_c", _("Water temperature"), ("68", "20"), TEMPERATURE, "C")
ALTITUDE = Ask(
    "altitude_m", _("Altitude of the pond"), ("1000", "300"), LENGTH, "m", required=False
)
BAROMETER = _("Barometer at the pond, never reduced to sea level")
DEPTHS = Column("depth_m", _("depth"), LENGTH, "m")
AREAS = Column("area_m2", _("area inside"), AREA, "m2")
WARMTHS = Column("temperature_c", _("temperature"), TEMPERATURE, "C")
OXYGENS = Column("do_mg_l", _("oxygen"), OXYGEN, "mg/L")
CONTOURS = Table(
    "contours",
    _("Depth and area inside the contour, a line for each depth, the surface first"),
    (DEPTHS, AREAS),
    ("0 1.0\n4 0.7\n8 0.4\n12 0.05", "0 4000\n1 3200\n2 2250\n3 1100\n4 100"),
)
PROFILE = Table(
    "profile",
    _("Depth and temperature, a line for each depth, from the surface down"),
    (DEPTHS, WARMTHS),
    ("0 80\n3 79\n6 74\n9 63\n12 60", "0 26.8\n1 26.4\n2 23.1\n3 17.2\n4 15.6"),
)
WARM_POND = Table(
    "profile",
    _("Depth, area and temperature, a line for each depth, the surface first"),
    (DEPTHS, AREAS, WARMTHS),
    (
        "0 1.0 80\n3 0.8 79\n6 0.55 74\n9 0.3 63\n12 0.05 60",
        "0 4000 26.8\n1 3200 26.4\n2 2250 23.1\n3 1100 17.2\n4 100 15.6",
    ),
)
OXYGEN_POND = Table(
    "profile",
    _("Depth, area and oxygen, a line for each depth, the surface first"),
    (DEPTHS, AREAS, OXYGENS),
    (
        "0 1.0 8.1\n3 0.8 7.6\n6 0.55 3.1\n9 0.3 0.3\n12 0.05 0.1",
        "0 4000 8.1\n1 3200 7.6\n2 2250 3.1\n3 1100 0.3\n4 100 0.1",
    ),
)
MIXED = _("None: the pond is mixed, or density grows nowhere so fast.")

WATER = Group(
    _("Water"),
    (
        Calculator(
            "pressure-at-a-depth",
            "depth_pressure",
            _("Pressure of the water at a depth"),
            (
                Ask("depth", _("Depth of the diffuser"), ("12", "3.6"), LENGTH, "m", help=""),
                Ask(
                    "temperature_c",
                    _("Water temperature"),
                    ("68", "20"),
                    TEMPERATURE,
                    "C",
                    required=False,
                ),
            ),
            (Give(_("Pressure of the water alone"), PRESSURE, "kPa"),),
            {"depth_unit": "m"},
            note=_("A gauge in the cabinet reads more: line, check valve and membrane add to it."),
        ),
        Calculator(
            "usual-pressure",
            "usual_pressure_band_psi",
            _("Pressure at which a system usually runs"),
            (Ask("depth_ft", _("Depth of the diffuser"), ("12", "3.6"), LENGTH, "ft"),),
            (
                Give(_("From"), PRESSURE, "psi", "0"),
                Give(_("To"), PRESSURE, "psi", "1"),
            ),
            note=_(
                "Said of 12 ft (6 to 8 psi); carried to other depths by judgement. The water "
                "alone asks for less."
            ),
        ),
        Calculator(
            "oxygen-at-saturation",
            "oxygen_saturation_mg_l",
            _("Oxygen that water can hold"),
            (
                WATER_C,
                ALTITUDE,
                Ask("pressure_kpa", BAROMETER, "", AIR_PRESSURE, "kPa", required=False),
            ),
            (Give(_("Oxygen at saturation"), OXYGEN, "mg/L"),),
            note=_(
                "At one atmosphere where neither is given; with the altitude alone, weather moves"
                " it by some 3 %."
            ),
        ),
        Calculator(
            "percent-of-saturation",
            "percent_saturation",
            _("Measured oxygen in percent of saturation"),
            (
                Ask("do_mg_l", _("Measured oxygen"), "6.5", OXYGEN, "mg/L"),
                WATER_C,
                ALTITUDE,
                Ask("station_pressure_mmhg", BAROMETER, "", AIR_PRESSURE, "mmHg", required=False),
            ),
            (Give(_("Of saturation"), unit="%"),),
            note=_(
                "At one atmosphere where neither is given; with the altitude alone, weather moves"
                " it by some 3 %."
            ),
        ),
        Calculator(
            "water-density",
            "water_density_kg_m3",
            _("Density of water"),
            (WATER_C,),
            (Give(_("Density"), DENSITY, "kg/m3"),),
        ),
        Calculator(
            "oxygen-criterion",
            "oxygen_criterion_mg_l",
            _("Oxygen that the US agency asks for"),
            (
                Ask(
                    "water",
                    _("Water"),
                    "warmwater",
                    kind=Kind.CHOICE,
                    choices=(("warmwater", _("warm water")), ("coldwater", _("cold water, trout"))),
                    help="",
                ),
                Ask(
                    "period",
                    _("Over"),
                    "1-day minimum",
                    kind=Kind.CHOICE,
                    choices=(
                        ("1-day minimum", _("minimum of a day")),
                        ("7-day mean minimum", _("mean of the minima of 7 days")),
                        ("7-day mean", _("mean of 7 days")),
                        ("30-day mean", _("mean of 30 days")),
                    ),
                    help="",
                ),
                Ask(
                    "life",
                    _("Fish"),
                    "other",
                    kind=Kind.CHOICE,
                    choices=(("other", _("older fish")), ("early", _("eggs, larvae and young"))),
                    help="",
                ),
            ),
            (Give(_("Not below"), OXYGEN, "mg/L"),),
            note=_("Minima are to be met at all times. States may ask for more."),
        ),
        Calculator(
            "oxygen-that-stresses",
            "warmwater_stress_mg_l",
            _("Oxygen that stresses warm-water fish"),
            (),
            (Give(_("Stress below"), OXYGEN, "mg/L"),),
        ),
        Calculator(
            "oxygen-that-kills",
            "some_species_die_mg_l",
            _("Oxygen at which some species die"),
            (),
            (Give(_("Some species die below"), OXYGEN, "mg/L"),),
        ),
        Calculator(
            "anoxic-water",
            "anoxic_mg_l",
            _("Oxygen below which water is called anoxic"),
            (),
            (Give(_("Anoxic below"), OXYGEN, "mg/L"),),
        ),
    ),
)

POND = Group(
    _("Pond"),
    (
        Calculator(
            "volume-from-contours",
            "table_volume_m3",
            _("Volume from depth contours"),
            (CONTOURS,),
            (Give(_("Volume"), VOLUME, "m3"),),
        ),
        Calculator(
            "volume-from-contours-as-cones",
            "table_volume_by_cones_m3",
            _("Volume from depth contours, as truncated cones"),
            (CONTOURS,),
            (Give(_("Volume"), VOLUME, "m3"),),
        ),
        Calculator(
            "volume-of-a-bowl",
            "cone_volume_m3",
            _("Volume of a pond like a cone"),
            (
                Ask("radius_m", _("Radius of the surface"), ("65", "20"), LENGTH, "m"),
                Ask("depth_m", _("Depth in the middle"), ("13", "4"), LENGTH, "m"),
            ),
            (Give(_("Volume"), VOLUME, "m3"),),
        ),
        Calculator(
            "volume-of-a-round-pond",
            "frustum_volume_m3",
            _("Volume of a round pond with a flat bottom"),
            (
                Ask("top_radius_m", _("Radius of the surface"), ("80", "25"), LENGTH, "m"),
                Ask("bottom_radius_m", _("Radius of the bottom"), ("30", "10"), LENGTH, "m"),
                Ask("depth_m", _("Depth"), ("12", "3.5"), LENGTH, "m"),
            ),
            (Give(_("Volume"), VOLUME, "m3"),),
        ),
        Calculator(
            "volume-of-a-rectangular-pond",
            "sloped_rectangle_volume_m3",
            _("Volume of a rectangular pond"),
            (
                Ask("top_length_m", _("Length of the surface"), ("200", "60"), LENGTH, "m"),
                Ask("top_width_m", _("Width of the surface"), ("130", "40"), LENGTH, "m"),
                Ask("depth_m", _("Depth"), ("10", "3"), LENGTH, "m"),
                Ask("slope_m_per_m", _("Sides run out for one down"), "3"),
            ),
            (Give(_("Volume"), VOLUME, "m3"),),
        ),
        Calculator(
            "temperature-after-mixing",
            "mixed_temperature_c",
            _("Temperature after full mixing"),
            (WARM_POND,),
            (Give(_("Temperature"), TEMPERATURE, "C"),),
            note=_("The mean by volume, straight between the depths given."),
        ),
        Calculator(
            "oxygen-after-mixing",
            "mixed_oxygen_mg_l",
            _("Oxygen after full mixing, at best"),
            (OXYGEN_POND,),
            (Give(_("Oxygen at best"), OXYGEN, "mg/L"),),
            caution=_(
                "Bottom water without oxygen uses up more as it mixes: the pond will have less. "
                "Turning a layered pond over at once can kill fish."
            ),
        ),
        Calculator(
            "turnover-of-two-layers",
            "turned_over",
            _("Turnover of two layers"),
            (
                Ask("upper_m3", _("Upper layer, volume"), ("5.7", "7000"), VOLUME, "m3"),
                Ask("upper_c", _("Upper layer, temperature"), ("77", "25"), TEMPERATURE, "C"),
                Ask("upper_do", _("Upper layer, oxygen"), "8.2", OXYGEN, "mg/L"),
                Ask("lower_m3", _("Lower layer, volume"), ("2.4", "3000"), VOLUME, "m3"),
                Ask("lower_c", _("Lower layer, temperature"), ("57", "14"), TEMPERATURE, "C"),
                Ask("lower_do", _("Lower layer, oxygen"), "0.4", OXYGEN, "mg/L"),
                ALTITUDE,
            ),
            (
                Give(_("Temperature"), TEMPERATURE, "C", "temperature_C"),
                Give(_("Oxygen at best"), OXYGEN, "mg/L", "do_mg_L"),
                Give(_("Of saturation"), unit="%", path="saturation_pct"),
            ),
            caution=_(
                "Bottom water without oxygen uses up more as it mixes: the pond will have less. "
                "Turning a layered pond over at once can kill fish."
            ),
        ),
        Calculator(
            "thermocline",
            "thermocline_m",
            _("Depth of the thermocline"),
            (PROFILE,),
            (Give(_("Depth"), LENGTH, "m", nothing=MIXED),),
            note=_("The steepest step of density, weighted by its neighbours."),
        ),
        Calculator(
            "layer-of-fast-change",
            "metalimnion_m",
            _("Top and bottom of the layer of fast change"),
            (PROFILE,),
            (
                Give(_("Top"), LENGTH, "m", "0", nothing=MIXED),
                Give(_("Bottom"), LENGTH, "m", "1", nothing=MIXED),
            ),
            note=_("From 0.1 kg/m³ per metre on. Published programs differ: advice only."),
        ),
        Calculator(
            "winter-order",
            "inversely_layered",
            _("Whether the pond lies in its winter order"),
            (
                Table(
                    "profile",
                    PROFILE.label,
                    PROFILE.columns,
                    ("0 33\n4 35\n8 37\n12 39", "0 0.6\n1 1.9\n2 2.8\n3 3.5\n4 3.9"),
                ),
            ),
            (
                Give(
                    _("Winter order"),
                    words=(_("Yes: colder water lies stably on warmer."), _("No.")),
                ),
            ),
        ),
        Calculator(
            "density-steps",
            "density_gradients",
            _("How much heavier water gets with depth"),
            (PROFILE,),
            (Give(_("Step"), unit="kg/m³ per m", path="*"),),
            each=_("Step"),
            note=_("Below 0 where heavier water lies above."),
        ),
        Calculator(
            "stability",
            "schmidt_stability_j_m2",
            _("Stability of the layers"),
            (WARM_POND,),
            (Give(_("Work that mixing takes"), unit="J/m²"),),
            note=_(
                "For each square metre of surface; below 0 where heavier water lies above. "
                "Published programs differ by 12 %."
            ),
        ),
        Calculator(
            "stability-of-two-layers",
            "two_layer_stability_j_m2",
            _("Stability of two layers"),
            (
                Ask("depth_m", _("Depth of the pond"), ("20", "6"), LENGTH, "m"),
                Ask("upper_layer_m", _("Thickness of the upper layer"), ("6", "2"), LENGTH, "m"),
                Ask("upper_c", _("Temperature above"), ("75", "24"), TEMPERATURE, "C"),
                Ask("lower_c", _("Temperature below"), ("54", "12"), TEMPERATURE, "C"),
            ),
            (Give(_("Work that mixing takes"), unit="J/m²"),),
            note=_("For each square metre of surface of a pond with straight sides."),
        ),
    ),
)
