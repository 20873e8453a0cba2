"""Growth of ice, by name: for planning on the command line, never beside a pond."""

from equipment.physics import ice, units
from servicedesk.planning.agency_texts import NOT_NEAR_AN_AERATOR, agency_texts
from servicedesk.planning.calculations.engine import Calculation

NO_STRENGTH = (
    "Planning only. This tells nothing about strength: bubbles keep holes and thin ice under any "
    "thickness, and nobody goes onto the ice of an aerated pond."
)
CM_PER_IN = 2.54
LAKE_WITH_SNOW_IN = 0.6  # inches per root of a degF day


def ice_thickness_in(afdd_f: float, alpha_in: float = LAKE_WITH_SNOW_IN) -> float:
    """Thickness that ice reaches after so much cold, in inches. Nothing about strength.

    afdd_f: freezing degree-days [degF day], 0 to 18 000.
    alpha_in: coefficient [in per root of a degF day], above 0 to 1.1; 0.6 for a lake with snow.
    Returns inches.
    Raises ValueError outside those ranges.
    Source: Stefan (1891), as in USACE EM 1110-2-1612, chapter 2; its coefficients from memory.
    """
    return further_ice_in(0, afdd_f, alpha_in)


def ice_thickness_cm(afdd_c: float, alpha_cm: float) -> float:
    """Thickness that ice reaches after so much cold, in centimetres. Nothing about strength.

    afdd_c: freezing degree-days [degC day], 0 to 10 000.
    alpha_cm: coefficient [cm per root of a degC day], above 0 to 4.
    Returns centimetres.
    Raises ValueError outside those ranges.
    Source: Stefan (1891), as in USACE EM 1110-2-1612, chapter 2; its coefficients from memory.
    """
    return 100 * ice.grown_ice_m(afdd_c, alpha_cm)


def further_ice_in(
    start_in: float, additional_afdd_f: float, alpha_in: float = LAKE_WITH_SNOW_IN
) -> float:
    """Thickness that ice reaches from the one it has, in inches. Nothing about strength.

    start_in: thickness at the start [in], 0 to 118.
    additional_afdd_f: freezing degree-days since [degF day], 0 to 18 000.
    alpha_in: coefficient [in per root of a degF day], above 0 to 1.1.
    Returns inches.
    Raises ValueError outside those ranges.
    Source: Stefan (1891), integrated: h^2 = h0^2 + alpha^2 dAFDD.
    """
    alpha_cm = alpha_in * CM_PER_IN * 1.8**0.5
    start_m = units.to_stored("length", start_in, "in")
    grown_m = ice.grown_ice_m(additional_afdd_f / 1.8, alpha_cm, start_m)
    return units.from_stored("length", grown_m, "in")


def stefan_coefficient_cm(
    k_ice_w_mk: float = 2.22, rho_ice: float = 917.0, latent_heat_j_kg: float = 333_550.0
) -> float:
    """The coefficient of bare ice whose surface is as cold as the air.

    k_ice_w_mk: conductivity of ice [W/(m K)], 1 to 4.
    rho_ice: density of ice [kg/m3], 800 to 920.
    latent_heat_j_kg: of freezing [J/kg], 300 000 to 340 000.
    Returns cm per root of a degC day.
    Raises ValueError outside those ranges.
    Source: Stefan (1891), sqrt(2 k / (rho L)).
    """
    return ice.stefan_coefficient_cm(k_ice_w_mk, rho_ice, latent_heat_j_kg)


def bare_ice_in() -> float:
    """Thickness of bare ice after one day at 1 degF below freezing. Nothing about strength.

    Returns inches.
    Source: Stefan (1891) with the coefficient of bare ice; a textbook prints 0.983.
    """
    return further_ice_in(0, 1, ice.stefan_coefficient_cm() / CM_PER_IN / 1.8**0.5)


def zubov_ice_cm(freezing_degree_days_c: float) -> float:
    """Thickness of sea ice by another published curve. Nothing about strength.

    freezing_degree_days_c: [degC day], 0 to 10 000.
    Returns centimetres.
    Raises ValueError outside that range.
    Source: Zubov (1945), H^2 + 50 H = 8 FDD, in cm.
    """
    return 100 * ice.zubov_ice_m(freezing_degree_days_c)


def freezing_degree_days_f(daily_mean_f: list[float]) -> float:
    """Cold added up from day to day; days of thaw count nothing.

    daily_mean_f: mean air temperature of each day [degF], in order; a list.
    Returns degF days.
    Raises ValueError for means that no day has.
    Source: definition.
    """
    return _cold_f(daily_mean_f, net=False)


def net_freezing_degree_days_f(daily_mean_f: list[float]) -> float:
    """Cold added up from day to day; days of thaw take away, down to nothing.

    daily_mean_f: mean air temperature of each day [degF], in order; a list.
    Returns degF days.
    Raises ValueError for means that no day has.
    Source: definition, the form that agencies use.
    """
    return _cold_f(daily_mean_f, net=True)


def ice_of_an_aerated_pond(measured_thickness_in: float = 0.0) -> str:
    """What ice on an aerated pond is, whatever was measured.

    measured_thickness_in: [in]; it changes nothing.
    Returns unsafe, always.
    Source: Minnesota DNR, annual ice warning for aerated lakes (2013 to 2024).
    """
    return "unsafe"


def agency_ice_text(who: str) -> list:
    """What an agency prints for new clear ice, word for word; nothing is computed from it.

    who: as the agency says it, such as snowmobile or small ATV.
    Returns the least and the most inches that it prints; nothing where it prints no most.
    Raises ValueError for words that it does not print.
    Source: Minnesota DNR, news releases of about 2021 to 2024.
    """
    least, most = _printed(0, who)
    return [least, None if most == "more" else most]


def agency_white_ice_text() -> float:
    """How many times as much an agency prints for white or snow-covered ice.

    Returns a number.
    Source: Minnesota DNR, news releases of about 2021 to 2024.
    """
    return _printed(0, "white or snow-covered ice, times")


def older_agency_ice_text() -> dict:
    """What the same agency printed some years before; nothing is computed from it.

    Returns inches by its own words.
    Source: Minnesota DNR, news releases of 2012 to 2019.
    """
    return agency_texts()[1].as_printed


def cautious_agency_ice_text() -> dict:
    """What another agency prints for hard ice; nothing is computed from it.

    Returns inches by its own words.
    Source: US Army CRREL, quoted by New Hampshire Fish and Game, 2018 to 2024.
    """
    return agency_texts()[2].as_printed


def permit_inspection_days(jurisdiction: str) -> float:
    """How often a public permit for aeration in winter asks for an inspection of the signs.

    jurisdiction: only Minnesota is stored; elsewhere ask the local authority.
    Returns days, at most, between inspections.
    Raises ValueError for another place.
    Source: Minnesota DNR, news releases of 2013 to 2024.
    """
    if jurisdiction.strip().lower() != "minnesota":
        raise ValueError("only Minnesota is stored: ask the local authority")
    return agency_texts()[3].as_printed["days between inspections, at most"]


def _printed(text, who):
    wanted = " ".join(who.lower().split())
    printed = agency_texts()[text].as_printed
    found = {key: value for key, value in printed.items() if key.lower() == wanted}
    if not found:
        raise ValueError(f"the agency prints nothing for {who!r}")
    return next(iter(found.values()))


def _cold_f(daily_mean_f, *, net):
    means = [units.to_stored("temperature", mean, "F") for mean in daily_mean_f]
    return 1.8 * ice.freezing_degree_days(means, net)


_F = {"afdd_F": "afdd_f", "additional_afdd_F": "additional_afdd_f", "daily_mean_F": "daily_mean_f"}


def _row(name, function, asked_as, inputs=_F):
    return Calculation(name, function, (asked_as,), inputs, says=NO_STRENGTH)


def _text(name, function, asked_as):
    return Calculation(name, function, (asked_as,), says=NOT_NEAR_AN_AERATOR)


CALCULATIONS = (
    _row(
        "ice_thickness_in",
        ice_thickness_in,
        r"(?:theoretical )?ice thickness (?:published )?from accumulated freezing degree.days"
        r"(?:,? average lake with snow| \(?degf\)?)",
    ),
    _row(
        "ice_thickness_cm",
        ice_thickness_cm,
        r"ice thickness from accumulated freezing degree.days \(?degc\)?",
        {"afdd_C": "afdd_c"},
    ),
    _row("further_ice_in", further_ice_in, r"further growth from an existing thickness"),
    _row(
        "stefan_coefficient_cm",
        stefan_coefficient_cm,
        r"theoretical stefan coefficient.*",
        {"k_ice_W_mK": "k_ice_w_mk", "latent_heat_J_kg": "latent_heat_j_kg"},
    ),
    _row("bare_ice_in", bare_ice_in, r"textbook snow.free growth.*"),
    _row(
        "zubov_ice_cm",
        zubov_ice_cm,
        r"zubov sea.ice formula.*",
        {"freezing_degree_days_C": "freezing_degree_days_c"},
    ),
    _row(
        "freezing_degree_days_f",
        freezing_degree_days_f,
        r"accumulated freezing degree.days \(?degf\)?,? thaw days count zero",
    ),
    _row(
        "net_freezing_degree_days_f",
        net_freezing_degree_days_f,
        r"accumulated freezing degree.days \(?degf\)?,? thaw days subtract.*",
    ),
    _row("ice_of_an_aerated_pond", ice_of_an_aerated_pond, r"ice on an aerated pond"),
    _text(
        "agency_ice_text", agency_ice_text, r"public.agency ice guidance,? (?P<who>[a-z][a-z -]+)"
    ),
    _text(
        "agency_white_ice_text",
        agency_white_ice_text,
        r"multiplier for white or snow.covered ice",
    ),
    _text(
        "older_agency_ice_text",
        older_agency_ice_text,
        r"older version of the same agency guidance.*",
    ),
    _text("cautious_agency_ice_text", cautious_agency_ice_text, r"more cautious guidance\b.*"),
    _text(
        "permit_inspection_days",
        permit_inspection_days,
        r"winter operation duties attached to a public permit:? inspection interval",
    ),
)
