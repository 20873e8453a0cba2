"""Calculators for air, airlines and diffusers."""

from django.utils.translation import gettext_lazy as _

from servicedesk.forms.calculators.asks import (
    AIR_PRESSURE,
    BORE,
    DENSITY,
    FLOW,
    LENGTH,
    PRESSURE,
    SLOPE,
    TEMPERATURE,
    Ask,
    Calculator,
    Give,
    Group,
    Kind,
)

ALTITUDE_M = Ask("altitude_m", _("Altitude"), ("1000", "300"), LENGTH, "m")
ALTITUDE_FT = Ask("altitude_ft", _("Altitude"), ("1000", "300"), LENGTH, "ft", required=False)
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
            note=_("A mean: weather moves the pressure by some 3 %."),
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
            note=_(
                "The volume that it moves hardly changes; the mass of air, and so of oxygen, does."
            ),
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
            note=_(
                "60 and 68 °F are both in use: look up how the figure was counted. The flow is "
                "taken as counted at 14.696 psi."
            ),
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
            note=_("At sea level, with line and free air equally warm."),
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
            note=_(
                "Smooth plastic, air of 20 °C, Churchill's law. Where the flow turns from smooth "
                "to rough (Reynolds 2000 to 2800) published laws differ by up to 37 %."
            ),
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
            note=_(
                "Below 0 some figure cannot be right. A foot more water is 0.43 psi, as much as "
                "fouling: compare a system only with itself."
            ),
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
            (Give(_("Runs"), unit="min", path="*"),),
            caution=_(
                "Stop and call the office when fish gasp at the surface, or the water smells "
                "rotten and the smell stays."
            ),
            each=_("Day"),
            note=_("Doubled each day until it runs around the clock."),
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
