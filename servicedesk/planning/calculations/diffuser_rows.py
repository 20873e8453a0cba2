"""Wet pressure of membranes and what studies saw of it, by name."""

from equipment.physics import diffuser, units
from servicedesk.planning.calculations.air_rows import M3_H_L_MIN
from servicedesk.planning.calculations.engine import Calculation

DAY_MIN = 24 * 60


def membrane_pressure_kpa(
    opening_kpa: float, slope_kpa_per_m3h: float, flow_per_diffuser_m3_h: float
) -> float:
    """The pressure that a wetted membrane takes while air flows (dynamic wet pressure).

    opening_kpa: at which it begins to let air through [kPa], 0 to 200.
    slope_kpa_per_m3h: further pressure for each m3/h through it, 0 to 1600.
    flow_per_diffuser_m3_h: free air through it [m3/h], 0 to 6000.
    Returns kPa.
    Raises ValueError outside those ranges.
    Source: opening pressure and a straight rise.
    """
    slope = slope_kpa_per_m3h * 1000 / M3_H_L_MIN
    flow = flow_per_diffuser_m3_h * M3_H_L_MIN
    return diffuser.wet_pressure_pa(flow, opening_kpa * 1000, slope) / 1000


def membrane_pressure_from_gauge_psi(
    gauge_psi: float,
    diffuser_depth_ft: float,
    line_loss_psi: float = 0.0,
    density_kg_m3: float = diffuser.WATER_KG_M3,
    check_valve_psi: float = 0.0,
) -> float:
    """The membrane's pressure as the gauge in the cabinet tells it.

    gauge_psi: at the manifold, valves fully open [psi], 0 to 290.
    diffuser_depth_ft: water above the membrane on that day [ft], 0 to 328.
    line_loss_psi: lost along the airline at that day's flow [psi], 0 to 145.
    density_kg_m3: of the water, 900 to 1100.
    check_valve_psi: lost in the check valve [psi], 0 to 29.
    Returns psi; below 0 when something cannot be right. A foot more depth is 0.43 psi, as much
        as fouling: compare a system only with itself.
    Raises ValueError outside those ranges.
    Source: hydrostatics, gauge = rho g h + line + check valve + membrane.
    """
    wet_pa = diffuser.wet_pressure_from_gauge_pa(
        units.to_stored("pressure", gauge_psi, "psi"),
        units.to_stored("length", diffuser_depth_ft, "ft"),
        units.to_stored("pressure", line_loss_psi, "psi"),
        check_valve_pa=units.to_stored("pressure", check_valve_psi, "psi"),
        water_kg_m3=density_kg_m3,
    )
    return units.from_stored("pressure", wet_pa, "psi")


def membrane_units(
    mbar: float | None = None,
    kpa: float | None = None,
    psi: float | None = None,
    inh2o: float | None = None,
) -> dict:
    """A membrane's pressure in the other units that catalogues and studies use.

    mbar, kpa, psi, inh2o: the figure; give one of the four.
    Returns the other three.
    Raises ValueError for none, or for more than one.
    Source: NIST SP 811 (2008), appendix B; conventional inch of water.
    """
    given = {"mbar": mbar, "kPa": kpa, "psi": psi, "inH2O": inh2o}
    known = {unit: value for unit, value in given.items() if value is not None}
    if len(known) != 1:
        raise ValueError("Give the figure once, as mbar, kPa, psi or inH2O.")
    (unit, value), *_ = known.items()
    pascals = units.to_stored("pressure", value, unit)
    return {name: units.from_stored("pressure", pascals, name) for name in given if name != unit}


def fouling_rise_mbar(setting: str = diffuser.MUNICIPAL) -> float:
    """The largest rise of a membrane's pressure by fouling in a published study.

    setting: municipal; nobody has published ponds, which foul far more slowly.
    Returns mbar, an upper end.
    Raises ValueError for another setting.
    Source: Samuelsson & Bengtsson, Water Research (2024), abstract.
    """
    return _figure(diffuser.FOULING_RISE, setting)


def ageing_change_mbar(setting: str = diffuser.MUNICIPAL) -> tuple[float, float]:
    """How ageing alone changes a membrane's pressure, after thorough cleaning.

    setting: municipal; nobody has published ponds.
    Returns mbar from and to. It lowers the pressure: low is no proof of health.
    Raises ValueError for another setting.
    Source: Samuelsson & Bengtsson, Water Research (2024), abstract.
    """
    return _figure(diffuser.AGEING_CHANGE, setting)


def transfer_loss_percent(setting: str = diffuser.MUNICIPAL) -> float:
    """The largest loss of oxygen transfer by fouling and ageing together in a published study.

    setting: municipal; nobody has published ponds.
    Returns percent, an upper end.
    Raises ValueError for another setting.
    Source: Samuelsson & Bengtsson, Water Research (2024), abstract.
    """
    return _figure(diffuser.TRANSFER_LOSS, setting)


def new_membrane_mbar(
    setting: str = diffuser.MUNICIPAL, rule: str = "fouling rise up to twice new"
) -> float:
    """About what a new membrane takes, as a published study implies.

    setting: municipal; nobody has published ponds.
    rule: how it is read off the study; only "fouling rise up to twice new" is known.
    Returns mbar, give or take 10: the words can be read in two ways.
    Raises ValueError for another setting.
    Source: Samuelsson & Bengtsson, Water Research (2024), abstract.
    """
    if rule != "fouling rise up to twice new":
        raise ValueError('Only the rule "fouling rise up to twice new" is known.')
    return _figure(diffuser.NEW_MEMBRANE, setting)


def washing_recovers_mbar(setting: str = "municipal, polyurethane") -> float:
    """About what pressure-washing of 11 to 12 year old membranes won back in a published study.

    setting: municipal, polyurethane; nobody has published ponds.
    Returns mbar, about.
    Raises ValueError for another setting.
    Source: conference abstract on an off-gas study at a municipal plant, Bremerton, 2012-2013.
    """
    return _figure(diffuser.WASHING_RECOVERS, setting)


def filter_interval() -> dict:
    """How often an air filter is looked at and replaced.

    Returns check_days, and replace_months from and to.
    Source: common practice, no source.
    """
    return {"check_days": 30, "replace_months": [3, 6]}


def restart_minutes(first_day_min: float = 30) -> list:
    """How long a new or restarted system runs each day, so that the water is not turned over.

    first_day_min: on the first day [min], 1 to 1440.
    Returns minutes for each day, doubled until it runs around the clock.
    Raises ValueError outside that range.
    Source: common practice, no source.
    """
    if not 1 <= first_day_min <= DAY_MIN:
        raise ValueError("Give the minutes of the first day, 1 to 1440.")
    minutes = [first_day_min]
    while minutes[-1] < DAY_MIN:
        minutes.append(min(DAY_MIN, 2 * minutes[-1]))
    return minutes


def _figure(figure, setting):
    if not setting.lower().startswith(diffuser.MUNICIPAL):
        raise ValueError("Only municipal basins are published; leave the setting out.")
    return figure.value


CALCULATIONS = (
    Calculation(
        "membrane_pressure_kpa",
        membrane_pressure_kpa,
        (r"dwp model value.*",),
        {"opening_kPa": "opening_kpa", "slope_kPa_per_m3h": "slope_kpa_per_m3h"},
    ),
    Calculation(
        "membrane_pressure_from_gauge_psi",
        membrane_pressure_from_gauge_psi,
        (r"dwp inferred from cabinet gauge.*",),
    ),
    Calculation(
        "membrane_units",
        membrane_units,
        (r"unit conversion of a dwp figure.*",),
        {"kPa": "kpa", "inH2O": "inh2o"},
    ),
    Calculation("fouling_rise_mbar", fouling_rise_mbar, (r"largest rise of dwp due to fouling.*",)),
    Calculation(
        "ageing_change_mbar", ageing_change_mbar, (r"change of dwp due to ageing alone.*",)
    ),
    Calculation(
        "transfer_loss_percent",
        transfer_loss_percent,
        (r"loss of standard oxygen transfer efficiency.*",),
    ),
    Calculation("new_membrane_mbar", new_membrane_mbar, (r"new.membrane dwp implied.*",)),
    Calculation(
        "washing_recovers_mbar",
        washing_recovers_mbar,
        (r"header pressure recovered by pressure.washing.*",),
    ),
    Calculation("filter_interval", filter_interval, (r"rule of thumb:? air filter check.*",)),
    Calculation(
        "restart_minutes",
        restart_minutes,
        (r"rule of thumb:? introducing a new or restarted system.*",),
    ),
)
