"""Calculators for units, distances, days and wear."""

from django.utils.translation import gettext_lazy as _

from servicedesk.forms.calculators.asks import (
    AREA,
    DISTANCE,
    FLOW,
    LENGTH,
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


def in_other_units(key, what, title, measure, unit, example):
    return Calculator(
        key,
        "converted",
        title,
        (Ask("value", _("Figure"), example, measure, unit, help=""),),
        (Give(_("In other units"), measure, unit),),
        {"quantity": what, "unit": unit, "to_unit": unit},
    )


UNITS = Group(
    _("Units"),
    (
        in_other_units(
            "pressure-units", "pressure", _("Pressure in other units"), PRESSURE, "kPa", "6.5"
        ),
        in_other_units("flow-units", "flow", _("Flow in other units"), FLOW, "L/min", ("4", "110")),
        in_other_units(
            "temperature-units",
            "temperature",
            _("Temperature in other units"),
            TEMPERATURE,
            "C",
            ("68", "20"),
        ),
        in_other_units(
            "length-units", "length", _("Length in other units"), LENGTH, "m", ("12", "3.6")
        ),
        in_other_units("area-units", "area", _("Area in other units"), AREA, "m2", ("1", "4000")),
        in_other_units(
            "volume-units", "volume", _("Volume in other units"), VOLUME, "m3", ("6.5", "8000")
        ),
    ),
)

PLACES = (
    Ask("lat1", _("Latitude here"), "44.98", help=_("Decimal degrees, negative in the south.")),
    Ask("lon1", _("Longitude here"), "-93.27", help=_("Decimal degrees, negative in the west.")),
    Ask("lat2", _("Latitude there"), "45.05", help=""),
    Ask("lon2", _("Longitude there"), "-93.4", help=""),
)
DISTANCES = Group(
    _("Distances"),
    (
        Calculator(
            "distance",
            "geodesic_m",
            _("Distance between two places"),
            PLACES,
            (Give(_("As the crow flies"), DISTANCE, "m"),),
            note=_("Along the ground, never by road."),
        ),
        Calculator(
            "direction",
            "azimuths_deg",
            _("Direction from one place to another"),
            PLACES,
            (
                Give(_("There, clockwise from north"), unit="°", path="0"),
                Give(_("Back"), unit="°", path="1"),
            ),
        ),
    ),
)

OFF = (
    Ask("off_from", _("Off from"), kind=Kind.DAY, required=False),
    Ask("off_until", _("Off until"), kind=Kind.DAY, required=False),
)
DAYS = Group(
    _("Calendar"),
    (
        Calculator(
            "months-later",
            "add_months",
            _("A day some months later"),
            (
                Ask("anchor", _("From"), "2026-11-30", kind=Kind.DAY),
                Ask("months", _("Months"), "3", kind=Kind.WHOLE),
            ),
            (Give(_("Day")),),
        ),
        Calculator(
            "week-of-a-day",
            "week_name",
            _("The week of a day"),
            (Ask("day", _("Day"), "2027-01-03", kind=Kind.DAY),),
            (Give(_("Week")),),
        ),
        Calculator(
            "monday-of-a-week",
            "week_monday",
            _("The Monday of a week"),
            (Ask("name", _("Week"), "2026-W53", kind=Kind.TEXT),),
            (Give(_("Monday")),),
        ),
        Calculator(
            "due-by-days",
            "due_by_running_days",
            _("When an interval of running days is over"),
            (
                Ask("done_on", _("Last done on"), "2026-05-01", kind=Kind.DAY),
                Ask("every_days", _("Every"), "90"),
                *OFF,
            ),
            (Give(_("Due on"), nothing=_("Not while it is off.")),),
        ),
        Calculator(
            "due-by-hours",
            "due_by_run_hours",
            _("When an interval of run hours is over"),
            (
                Ask("done_on", _("Last done on"), "2026-05-01", kind=Kind.DAY),
                Ask("every_h", _("Every"), "2900"),
                Ask("hours_per_day", _("Hours a day"), "18", required=False),
                *OFF,
            ),
            (Give(_("Due on"), nothing=_("Not while it is off.")),),
        ),
        Calculator(
            "hours-on-a-meter",
            "meter_hours",
            _("Hours that a meter counted"),
            (
                Ask("first_h", _("It showed"), "9800"),
                Ask("second_h", _("It shows now"), "120"),
                Ask("days", _("Days between"), "30"),
                Ask("turns_at_h", _("Its last figure before zero"), "9999.9", required=False),
            ),
            (Give(_("Hours"), unit="h"),),
        ),
        Calculator(
            "days-ahead",
            "pull_forward_days",
            _("How early a task may join a visit"),
            (Ask("every_days", _("Interval"), "90"),),
            (Give(_("Days before it is due"), unit=_("days")),),
            note=_("When somebody drives to the site anyway."),
        ),
        Calculator(
            "season-windows",
            "season_windows",
            _("Season windows of a site"),
            (
                Ask(
                    "season",
                    _("Season"),
                    "winter",
                    kind=Kind.CHOICE,
                    choices=(
                        ("winter", _("winter")),
                        ("spring", _("spring")),
                        ("summer", _("summer")),
                    ),
                    help="",
                ),
                Ask("latitude", _("Latitude"), "45"),
                Ask("first_year", _("First year"), "2026", kind=Kind.WHOLE, help=""),
                Ask("last_year", _("Last year"), "2027", kind=Kind.WHOLE, help=""),
                Ask(
                    "ice_on",
                    _("Ice usually forms"),
                    "12-05",
                    kind=Kind.TEXT,
                    required=False,
                    help=_("Month and day, such as 12-05."),
                ),
                Ask(
                    "ice_out",
                    _("Ice usually leaves"),
                    "04-10",
                    kind=Kind.TEXT,
                    required=False,
                    help=_("Month and day, such as 04-10."),
                ),
            ),
            (
                Give(_("Opens"), path="*.opens_on"),
                Give(_("Closes"), path="*.closes_on"),
                Give(_("Reason"), path="*.because"),
            ),
            caution=_("Days of ice are averages. They say nothing about whether ice bears."),
            each=_("Window"),
        ),
    ),
)

ETA = Ask("eta", _("Characteristic life"), "900", help=_("Age by which 63 % have failed."))
BETA = Ask("beta", _("Shape"), "2.5", help=_("Above 1 for parts that wear."))
LIVES = Table(
    "lives",
    _("Age, and 1 where it failed or 0 where it still works, a line for each part"),
    (Column("times", _("age")), Column("failed", _("failed"))),
    ("410 1\n560 1\n640 0\n730 1\n820 1\n900 0",) * 2,
)
WEAR = Group(
    _("Wear and stock"),
    (
        Calculator(
            "life-of-parts",
            "weibull_fit",
            _("Life of parts of which some still work"),
            (LIVES,),
            (Give(_("Characteristic life"), path="eta"), Give(_("Shape"), path="beta")),
            note=_("In the unit of the ages."),
        ),
        Calculator(
            "life-with-a-known-shape",
            "weibayes",
            _("Life of parts whose shape is known"),
            (
                Ask("times", _("Ages of all parts"), "410, 560, 640, 730", kind=Kind.NUMBERS),
                Ask("failures", _("How many failed"), "1", kind=Kind.WHOLE),
                BETA,
            ),
            (Give(_("Characteristic life")),),
            note=_("In the unit of the ages."),
        ),
        Calculator(
            "share-still-working",
            "kaplan_meier",
            _("Share of parts still working"),
            (
                LIVES,
                Ask("at", _("At ages"), "500, 750", kind=Kind.NUMBERS),
            ),
            (Give(_("Share"), path="*"),),
            each=_("Age"),
            note=_("In the order of the ages asked for; no shape is assumed."),
        ),
        Calculator(
            "lasts-longer",
            "conditional_reliability",
            _("Whether a part lasts some time more"),
            (
                ETA,
                BETA,
                Ask("age", _("Its age"), "600", help=""),
                Ask("further", _("Shall last"), "120", help=""),
            ),
            (Give(_("Probability")),),
        ),
        Calculator(
            "age-of-a-share",
            "b_life",
            _("Age by which a share has failed"),
            (ETA, BETA, Ask("p", _("Share"), "0.1")),
            (Give(_("Age")),),
            note=_("In the unit of the ages."),
        ),
        Calculator(
            "mean-time-left",
            "mean_residual_life",
            _("How much longer a part lasts on average"),
            (ETA, BETA, Ask("age", _("Its age"), "600", help="")),
            (Give(_("Time left")),),
            note=_("In the unit of the ages."),
        ),
        Calculator(
            "age-to-replace-at",
            "replacement_age",
            _("Age at which replacing costs least"),
            (
                ETA,
                BETA,
                Ask("planned_cost", _("Cost by plan"), "120", help=""),
                Ask("failure_cost", _("Cost after a failure"), "600", help=""),
            ),
            (Give(_("Replace at")),),
            note=_("In the unit of the ages."),
        ),
        Calculator(
            "replacements-to-come",
            "weibull_renewals",
            _("Replacements that one position will need"),
            (ETA, BETA, Ask("horizon", _("Time ahead"), "1825", help="")),
            (Give(_("Replacements")),),
        ),
        Calculator(
            "rate-not-exceeded",
            "failure_rate_bound",
            _("Failure rate that is not exceeded"),
            (
                Ask("total_time", _("Time under watch, all units"), "3650"),
                Ask("failures", _("Failures seen"), "0", kind=Kind.WHOLE),
                Ask("confidence", _("Confidence"), "0.9"),
            ),
            (Give(_("Failures a unit of time")),),
            note=_("With the confidence given, the rate is not above this."),
        ),
        Calculator(
            "stock-to-hold",
            "stock_level",
            _("Stock that lasts"),
            (
                Ask("mean_demand", _("Asked for in the period, on average"), "3"),
                Ask("service", _("Probability that it lasts"), "0.95"),
            ),
            (Give(_("Units")),),
        ),
        Calculator(
            "trend-of-a-gauge",
            "pressure_slope",
            _("Trend of a gauge"),
            (
                Table(
                    "readings",
                    _("Day, counted from any day, and the reading, a line for each"),
                    (Column("days", _("day")), Column("psi", _("pressure"), PRESSURE, "psi")),
                    (
                        "0 6.2\n30 6.3\n61 6.3\n92 6.5\n122 6.6",
                        "0 42.7\n30 43.4\n61 43.5\n92 44.8\n122 45.5",
                    ),
                ),
            ),
            (
                Give(_("A day"), PRESSURE, "psi", "slope_psi_per_day"),
                Give(_("At least"), PRESSURE, "psi", "low"),
                Give(_("At most"), PRESSURE, "psi", "high"),
            ),
            note=_("A trend only where both ends of the interval have one sign."),
        ),
        Calculator(
            "whether-it-rises",
            "mann_kendall_exact",
            _("Whether readings rise or fall by chance"),
            (
                Ask(
                    "values",
                    _("Readings in the order of time"),
                    "6.2, 6.3, 6.3, 6.5, 6.6",
                    kind=Kind.NUMBERS,
                ),
            ),
            (Give(_("Probability of such a row by chance")),),
            note=_("The smaller, the less it looks like chance."),
        ),
    ),
)
