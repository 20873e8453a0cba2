"""Friction and pressure loss of airlines, by name."""

from equipment.physics import air, airline, units
from equipment.physics.air import SCFM_60_F
from equipment.physics.airline import COLEBROOK
from equipment.physics.atmosphere import SEA_LEVEL_PA, air_pressure_pa
from servicedesk.planning.calculations.air_rows import M3_H_L_MIN, NUMBER
from servicedesk.planning.calculations.engine import Calculation

# Inside diameters of schedule 40 steel pipe [in], ASME B36.10.
SCHEDULE_40_IN = {
    "1/8": 0.269,
    "1/4": 0.364,
    "3/8": 0.493,
    "1/2": 0.622,
    "3/4": 0.824,
    "1": 1.049,
}


def steel_pipe_loss_psi(
    free_air_scfm: float,
    length_ft: float = 100.0,
    inlet_psig: float = 100.0,
    temperature_f: float = 60.0,
    inside_diameter_in: float | None = None,
    nominal_pipe_in: str = "",
    roughness_mm: float = airline.STEEL_PIPE_M * 1000,
    law: str = COLEBROOK,
) -> float:
    """Pressure lost by compressed air in steel pipe, at sea level.

    free_air_scfm: flow counted at 60 degF and 14.696 psia [ft3/min], 0 or more.
    length_ft: of the pipe [ft], 0 to 32 000.
    inlet_psig: gauge pressure at its inlet [psi], 0 to 1400.
    temperature_f: of the air in it [degF].
    inside_diameter_in: [in], 0.04 to 39; or give nominal_pipe_in alone.
    nominal_pipe_in: nominal size of schedule 40 pipe: 1/8, 1/4, 3/8, 1/2, 3/4 or 1.
    roughness_mm: of the wall [mm], from 0; steel if not given.
    law: colebrook (64/Re below 2040) or churchill.
    Returns psi.
    Raises ValueError outside those ranges, and when the pipe cannot carry so much air.
    Source: isothermal compressible flow, Darcy-Weisbach; ASME B36.10 for nominal sizes.
    """
    if inside_diameter_in is None and nominal_pipe_in not in SCHEDULE_40_IN:
        raise ValueError(
            f"Give inside_diameter_in, or nominal_pipe_in as one of {', '.join(SCHEDULE_40_IN)}."
        )
    bore_in = inside_diameter_in or SCHEDULE_40_IN.get(nominal_pipe_in, 0.0)
    flow = air.flow_at(units.to_stored("flow", free_air_scfm, "cfm"), SCFM_60_F, air.FREE_AIR)
    lost_pa = airline.line_loss_pa(
        flow,
        units.to_stored("length", length_ft, "ft"),
        units.to_stored("length", bore_in, "in"),
        inlet_gauge_pa=units.to_stored("pressure", inlet_psig, "psi"),
        temperature_c=units.to_stored("temperature", temperature_f, "F"),
        roughness_m=roughness_mm / 1000,
        law=law,
    )
    return units.from_stored("pressure", lost_pa, "psi")


def airline_loss_pa(
    free_air_m3_h: float,
    inside_diameter_mm: float,
    length_m: float,
    outlet_gauge_pa: float | None = None,
    inlet_gauge_pa: float | None = None,
    atmospheric_pa: float = SEA_LEVEL_PA,
    temperature_c: float = 20.0,
    roughness_mm: float = airline.SMOOTH_PLASTIC_M * 1000,
    law: str = COLEBROOK,
) -> float:
    """Pressure lost along a small airline, smooth plastic unless a roughness is given.

    free_air_m3_h: free air at 20 degC and 101 325 Pa, wherever the site lies [m3/h], 0 or more.
    inside_diameter_mm: [mm], 1 to 1000.
    length_m: [m], 0 to 10 000.
    outlet_gauge_pa, inlet_gauge_pa: gauge pressure at that end [Pa]; give one of the two.
    atmospheric_pa: air pressure at the site [Pa absolute].
    temperature_c: of the air in the line [degC].
    roughness_mm: of the wall [mm], from 0.
    law: colebrook (64/Re below 2040), or churchill, the law this program uses by itself.
    Returns pascals.
    Raises ValueError outside those ranges, and when the line cannot carry so much air.
    Source: isothermal compressible flow, p1^2 - p2^2 = (m/A)^2 R T (f L/D + 2 ln(p1/p2)).
    """
    return airline.line_loss_pa(
        free_air_m3_h * M3_H_L_MIN,
        length_m,
        inside_diameter_mm / 1000,
        outlet_gauge_pa=outlet_gauge_pa,
        inlet_gauge_pa=inlet_gauge_pa,
        air_pa=atmospheric_pa,
        temperature_c=temperature_c,
        roughness_m=roughness_mm / 1000,
        law=law,
    )


def airline_loss_psi(
    free_air_cfm: float,
    inside_diameter_in: float,
    length_ft: float,
    inlet_psi: float,
    altitude_ft: float = 0.0,
    law: str = airline.CHURCHILL,
) -> float:
    """Pressure lost along a plastic airline, in the units of a tape measure and a gauge.

    free_air_cfm: free air at 68 degF and 14.696 psia [cfm], 0 or more.
    inside_diameter_in: [in], 0.04 to 39; 3/8 is 0.375.
    length_ft: [ft], 0 to 32 000.
    inlet_psi: gauge pressure where it begins [psi], 0 to 1400.
    altitude_ft: of the site [ft], -16 000 to 36 000.
    law: churchill, or colebrook (64/Re below 2040).
    Returns psi.
    Raises ValueError outside those ranges, and when the line cannot carry so much air.
    Source: isothermal compressible flow, air of 20 degC in the line, smooth wall.
    """
    lost_pa = airline.line_loss_pa(
        units.to_stored("flow", free_air_cfm, "cfm"),
        units.to_stored("length", length_ft, "ft"),
        units.to_stored("length", inside_diameter_in, "in"),
        inlet_gauge_pa=units.to_stored("pressure", inlet_psi, "psi"),
        air_pa=air_pressure_pa(units.to_stored("length", altitude_ft, "ft")),
        law=law,
    )
    return units.from_stored("pressure", lost_pa, "psi")


def empirical_airline_loss_pa(
    free_air_m3_h: float, inside_diameter_mm: float, length_m: float, inlet_gauge_pa: float
) -> float:
    """Pressure lost by a rough formula for compressed air; the order of size only.

    free_air_m3_h: free air at 20 degC and 101 325 Pa [m3/h], 0 or more.
    inside_diameter_mm: [mm], 1 to 1000.
    length_m: [m], 0 to 10 000.
    inlet_gauge_pa: gauge pressure at the inlet, at sea level [Pa], 0 to 10 000 000.
    Returns pascals.
    Raises ValueError outside those ranges.
    Source: published empirical formula for steel pipe; 35 percent is as near as it comes.
    """
    flow, bore_m = free_air_m3_h * M3_H_L_MIN, inside_diameter_mm / 1000
    return airline.empirical_loss_pa(flow, length_m, bore_m, inlet_gauge_pa)


def colebrook_factor(reynolds: float, relative_roughness: float = 0.0) -> float:
    """Darcy friction factor: 64/Re below Reynolds number 2040, Colebrook above.

    reynolds: Reynolds number, above 0.
    relative_roughness: roughness over bore, 0 to 0.1.
    Returns the factor, four times Fanning's.
    Raises ValueError outside those ranges.
    Source: Hagen-Poiseuille; C. F. Colebrook, J. Inst. Civil Engineers 11 (1939).
    """
    return airline.friction_factor(reynolds, relative_roughness, COLEBROOK)


def trench_depth_in() -> float:
    """How deep an airline's trench is dug at least, against mowers and spades only.

    Returns inches. Below the local frost line where it must not freeze. Have buried utilities
        located before anybody digs.
    Source: common practice, no source.
    """
    return 8.0


GAUGES = {
    "outlet_gauge_Pa": "outlet_gauge_pa",
    "inlet_gauge_Pa": "inlet_gauge_pa",
    "atmospheric_Pa": "atmospheric_pa",
    "temperature_C": "temperature_c",
}
CALCULATIONS = (
    Calculation(
        "steel_pipe_loss_psi",
        steel_pipe_loss_psi,
        (
            rf"pressure drop of air per (?P<length_ft>{NUMBER}) ft of schedule 40 steel pipe at "
            rf"(?P<inlet_psig>{NUMBER}) psig,? (?P<temperature_F>{NUMBER}) deg ?f",
            rf"pressure drop of air in (?P<length_ft>{NUMBER}) ft of "
            r"(?P<nominal_pipe_in>\d+(?:/\d+)?) in schedule 40 (?:steel )?pipe",
            r"pressure drop of air\b.*pipe\b.*",
        ),
        {"temperature_F": "temperature_f"},
    ),
    Calculation(
        "airline_loss_pa", airline_loss_pa, (r"pressure loss along a small airline.*",), GAUGES
    ),
    Calculation("airline_loss_psi", airline_loss_psi),
    Calculation(
        "empirical_airline_loss_pa",
        empirical_airline_loss_pa,
        (r"pressure loss by the empirical compressed.air formula.*",),
        {"inlet_gauge_Pa": "inlet_gauge_pa"},
    ),
    Calculation(
        "friction_factor",
        airline.friction_factor,
        (r"darcy friction factor,? churchill\b.*",),
    ),
    Calculation(
        "colebrook_factor",
        colebrook_factor,
        (r"darcy friction factor,? (?:laminar|turbulent)\b.*",),
    ),
    Calculation("mass_flow_kg_s", airline.mass_flow_kg_s),
    Calculation("trench_depth_in", trench_depth_in, (r"rule of thumb:? airline trench depth.*",)),
)
