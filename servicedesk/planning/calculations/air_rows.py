"""Air, its conditions, and compressors, by name."""

from equipment.physics import air, atmosphere, compressor, units
from equipment.physics.air import SCFM_60_F, Condition
from servicedesk.planning.calculations.engine import Calculation

HP_W = 550 * 0.3048 * 0.45359237 * 9.80665  # foot pounds a second
M3_H_L_MIN = 1000 / 60
NUMBER = r"\d+(?:[. ]\d+)?"  # a name in small letters has lost its point


def standard_atmosphere(altitude_m: float) -> dict:
    """Mean pressure and density of the air at an altitude.

    altitude_m: geometric metres above mean sea level, -5000 to 11 000.
    Returns pressure_Pa and density_kg_m3, at the standard temperature of that altitude.
    Raises ValueError outside that range.
    Source: U.S. Standard Atmosphere, 1976, lowest layer.
    """
    pressure = atmosphere.air_pressure_pa(altitude_m)
    density = atmosphere.air_density_kg_m3(pressure, atmosphere.air_temperature_c(altitude_m))
    return {"pressure_Pa": pressure, "density_kg_m3": density}


def air_pressure_psia(altitude_ft: float) -> float:
    """Mean air pressure at an altitude in feet.

    altitude_ft: above mean sea level [ft], -16 000 to 36 000.
    Returns absolute psi.
    Raises ValueError outside that range.
    Source: U.S. Standard Atmosphere, 1976, lowest layer.
    """
    altitude_m = units.to_stored("length", altitude_ft, "ft")
    return units.from_stored("pressure", atmosphere.air_pressure_pa(altitude_m), "psi")


def free_air_to_normal(
    fad_m3_h: float, inlet_pressure_pa: float, inlet_temperature_c: float
) -> float:
    """Free air as it is drawn in, in normal cubic metres (0 degC, 101 325 Pa).

    fad_m3_h: volume drawn in, 0 or more [m3/h].
    inlet_pressure_pa: of the air drawn in [Pa absolute], 1000 to 10 000 000.
    inlet_temperature_c: of the air drawn in [degC], -90 to 400.
    Returns Nm3/h.
    Raises ValueError outside those ranges.
    Source: DIN 1343 for the condition; ideal gas law.
    """
    return air.flow_at(fad_m3_h, Condition(inlet_pressure_pa, inlet_temperature_c), air.NORMAL)


def standard_flow_m3_h(
    scfm: float = 1.0,
    counted_at_f: float = 60.0,
    counted_at_psia: float = 14.696,
    wanted_at_c: float = 20.0,
    wanted_at_pa: float = atmosphere.SEA_LEVEL_PA,
) -> float:
    """Standard cubic feet a minute in cubic metres an hour of another condition.

    scfm: flow counted at the first condition, 0 or more [ft3/min].
    counted_at_f: its temperature [degF]; 60 and 68 are both in use.
    counted_at_psia: its absolute pressure [psi]; 14.696 is 1 atm, 14.504 is 1 bar.
    wanted_at_c: temperature of the condition wanted [degC].
    wanted_at_pa: absolute pressure of the condition wanted [Pa].
    Returns m3/h.
    Raises ValueError outside those ranges.
    Source: ideal gas law; international foot.
    """
    counted = Condition(_absolute_pa(counted_at_psia, "psi"), _celsius(counted_at_f))
    litres = units.to_stored("flow", scfm, "cfm")
    flow = air.flow_at(litres, counted, Condition(wanted_at_pa, wanted_at_c))
    return units.from_stored("flow", flow, "m3/h")


def cfm_m3_h(cfm: float = 1.0) -> float:
    """Cubic feet a minute in cubic metres an hour, the condition of the air staying the same.

    cfm: 0 or more [ft3/min].
    Returns m3/h.
    Source: international foot.
    """
    return units.from_stored("flow", units.to_stored("flow", cfm, "cfm"), "m3/h")


def line_volume_m3_h(
    free_air_m3_h: float,
    gauge_pressure_kpa: float,
    atmospheric_kpa: float = atmosphere.SEA_LEVEL_PA / 1000,
    same_temperature: bool = True,
    free_air_temperature_c: float = 20.0,
    line_temperature_c: float = 20.0,
) -> float:
    """The volume that free air takes up in a line under pressure.

    free_air_m3_h: free air at the air's own pressure, 0 or more [m3/h].
    gauge_pressure_kpa: in the line [kPa], 0 to 10 000.
    atmospheric_kpa: air pressure at the site [kPa absolute], 20 to 120.
    same_temperature: yes where line and free air are equally warm; the next two are then not used.
    free_air_temperature_c: at which the free air is counted [degC].
    line_temperature_c: of the air in the line [degC].
    Returns actual m3/h.
    Raises ValueError outside those ranges.
    Source: Boyle's law, Gay-Lussac's law.
    """
    counted_c = line_temperature_c if same_temperature else free_air_temperature_c
    return air.line_volume_flow(
        free_air_m3_h,
        gauge_pressure_kpa * 1000,
        counted_at=Condition(atmospheric_kpa * 1000, counted_c),
        air_pa=atmospheric_kpa * 1000,
        line_temperature_c=line_temperature_c,
    )


def line_volume_cfm(
    free_air_scfm: float, gauge_psi: float, line_temperature_f: float = 60.0
) -> float:
    """The volume that standard cubic feet (60 degF, 14.696 psia) take up in a line under pressure.

    free_air_scfm: 0 or more [ft3/min].
    gauge_psi: in the line, at sea level [psi], 0 to 1450.
    line_temperature_f: of the air in the line [degF].
    Returns actual cfm.
    Raises ValueError outside those ranges.
    Source: Boyle's law, Gay-Lussac's law; Crane TP-410, table of air in schedule 40 pipe.
    """
    return air.line_volume_flow(
        free_air_scfm,
        units.to_stored("pressure", gauge_psi, "psi"),
        counted_at=SCFM_60_F,
        line_temperature_c=_celsius(line_temperature_f),
    )


def rotameter_cfm(shown_cfm: float, gauge_psi: float, altitude_ft: float = 0.0) -> float:
    """The free air that a float meter passes, which it shows too low under pressure.

    shown_cfm: what its scale shows, 0 or more [cfm].
    gauge_psi: gauge pressure of the air in it [psi], 0 to 1450.
    altitude_ft: of the site [ft], -16 000 to 36 000.
    Returns cfm of free air at the site.
    Raises ValueError outside those ranges.
    Source: mass through a float meter goes with the root of the density.
    """
    air_pa = atmosphere.air_pressure_pa(units.to_stored("length", altitude_ft, "ft"))
    gauge_pa = units.to_stored("pressure", gauge_psi, "psi")
    return air.rotameter_free_air(shown_cfm, gauge_pa, air_pa)


def polytropic_power_kw(
    inlet_flow_m3_min: float,
    inlet_pressure_bar: float,
    delivery_pressure_bar: float,
    inlet_temperature_k: float = 288.15,
    n: float = 1.35,
) -> float:
    """Indicated power of single-stage polytropic compression.

    inlet_flow_m3_min: volume drawn in [m3/min], 0 to 10 000.
    inlet_pressure_bar: absolute [bar], 0.2 to 1.2.
    delivery_pressure_bar: absolute [bar], inlet pressure to 100.
    inlet_temperature_k: [K]; the power does not hang on it, the volume does.
    n: exponent of the compression, above 1 to 2.
    Returns kW.
    Raises ValueError outside those ranges.
    Source: n/(n-1) p1 V [(p2/p1)^((n-1)/n) - 1]; Eastop & McConkey, Applied Thermodynamics.
    """
    air.compressed_temperature_k(inlet_temperature_k, 1)  # refuses a temperature that cannot be
    gauge_pa = (delivery_pressure_bar - inlet_pressure_bar) * 1e5
    inlet_pa = inlet_pressure_bar * 1e5
    flow = inlet_flow_m3_min * 1000
    return air.compression_power_w(flow, gauge_pa, air_pa=inlet_pa, exponent=n) / 1000


def adiabatic_hp(
    scfm: float, inlet_temperature_r: float, inlet_psia: float, outlet_psia: float
) -> float:
    """Theoretical adiabatic power of compressing standard cubic feet (60 degF, 14.696 psia).

    scfm: 0 or more [ft3/min].
    inlet_temperature_r: at the intake [degrees Rankine, degF + 459.67], 330 to 1200.
    inlet_psia: absolute [psi], 2.9 to 17.4.
    outlet_psia: absolute [psi], inlet pressure to 1450.
    Returns horsepower. A formula often printed, F T1/(8130 a) [(p2/p1)^a - 1], reads 0.3 % less.
    Raises ValueError outside those ranges.
    Source: ideal adiabatic compression, exponent 1.4; ideal gas law.
    """
    inlet_pa = _absolute_pa(inlet_psia, "psi")
    inlet = Condition(inlet_pa, inlet_temperature_r / 1.8 - atmosphere.ZERO_C_K)
    flow = air.flow_at(units.to_stored("flow", scfm, "cfm"), SCFM_60_F, inlet)
    gauge_pa = units.to_stored("pressure", outlet_psia - inlet_psia, "psi")
    return air.compression_power_w(flow, gauge_pa, air_pa=inlet_pa) / HP_W


def blower_power_kw(
    mass_flow_kg_s: float, inlet_k: float, p1: float, p2: float, efficiency: float
) -> float:
    """Power of a blower that moves a mass of air, from first principles.

    mass_flow_kg_s: 0 to 100 [kg/s].
    inlet_k: at the intake [K], 183 to 673.
    p1, p2: absolute pressures at intake and delivery, both in one unit.
    efficiency: ideal power over the power asked for, 0.01 to 1.
    Returns kW. A textbook formula with 29.7 for the molar mass reads 2.6 % less.
    Raises ValueError outside those ranges.
    Source: ideal adiabatic compression, exponent 1.4; gas constant of dry air.
    """
    if p1 <= 0:
        raise ValueError("Give absolute pressures above 0, both in one unit.")
    density = atmosphere.air_density_kg_m3(atmosphere.SEA_LEVEL_PA, inlet_k - atmosphere.ZERO_C_K)
    flow = mass_flow_kg_s / density * 60_000
    gauge_pa = (p2 / p1 - 1) * atmosphere.SEA_LEVEL_PA
    return air.compression_power_w(flow, gauge_pa, efficiency=efficiency) / 1000


def compression_power_w(
    fad_m3_h: float,
    gauge_pressure_pa: float,
    inlet_pressure_pa: float = atmosphere.SEA_LEVEL_PA,
    inlet_c: float = 20.0,
    efficiency: float = 1.0,
) -> float:
    """Power of compressing free air without exchange of heat.

    fad_m3_h: volume drawn in [m3/h], 0 to 600 000.
    gauge_pressure_pa: at delivery [Pa], 0 to 10 000 000.
    inlet_pressure_pa: of the air drawn in [Pa absolute], 20 000 to 120 000.
    inlet_c: of the air drawn in [degC]; the power does not hang on it, the volume does.
    efficiency: ideal power over the power asked for, 0.01 to 1; 1 gives the ideal power. Small
        oil-less machines are often 0.3 to 0.5 (from memory, unverified).
    Returns watts.
    Raises ValueError outside those ranges.
    Source: k/(k-1) p1 Q [(p2/p1)^((k-1)/k) - 1], k = 1.4.
    """
    atmosphere.kelvin(inlet_c)  # refuses a temperature that cannot be
    return air.compression_power_w(
        fad_m3_h * M3_H_L_MIN, gauge_pressure_pa, air_pa=inlet_pressure_pa, efficiency=efficiency
    )


def discharge_temperature_c(
    inlet_c: float,
    gauge_pressure_pa: float,
    inlet_pressure_pa: float = atmosphere.SEA_LEVEL_PA,
    efficiency: float = 1.0,
) -> float:
    """Temperature of air as it leaves a compressor that gives off no heat.

    inlet_c: at the intake [degC], -90 to 400.
    gauge_pressure_pa: at delivery [Pa], 0 to 10 000 000.
    inlet_pressure_pa: at the intake [Pa absolute], 20 000 to 120 000.
    efficiency: of the compression itself (isentropic), 0.01 to 1; 1 is the ideal machine.
    Returns degC.
    Raises ValueError outside those ranges.
    Source: T1 (p2/p1)^((k-1)/k), k = 1.4.
    """
    return compressor.discharge_temperature_c(
        gauge_pressure_pa,
        inlet_temperature_c=inlet_c,
        air_pa=inlet_pressure_pa,
        efficiency=efficiency,
    )


def _absolute_pa(value, unit):
    return units.to_stored("pressure", value, unit)


def _celsius(fahrenheit):
    return units.to_stored("temperature", fahrenheit, "F")


CALCULATIONS = (
    Calculation(
        "standard_atmosphere",
        standard_atmosphere,
        (r"standard atmosphere pressure and density.*",),
    ),
    Calculation(
        "air_pressure_psia",
        air_pressure_psia,
        (r"standard atmosphere pressure at an altitude in feet.*",),
    ),
    Calculation("air_pressure_pa", atmosphere.air_pressure_pa),
    Calculation("air_density_kg_m3", atmosphere.air_density_kg_m3),
    Calculation("air_viscosity_pa_s", atmosphere.air_viscosity_pa_s),
    Calculation(
        "mass_flow_ratio",
        compressor.mass_flow_ratio,
        (r"mass.flow derating of a fixed.displacement compressor.*",),
        {"inlet_temperature_C": "inlet_temperature_c"},
    ),
    Calculation(
        "free_air_to_normal",
        free_air_to_normal,
        (r"free air at inlet converted to normal cubic met.*",),
        {
            "inlet_pressure_Pa": "inlet_pressure_pa",
            "inlet_temperature_C": "inlet_temperature_c",
        },
    ),
    Calculation(
        "standard_flow_m3_h",
        standard_flow_m3_h,
        (
            rf"standard cubic feet:? (?P<scfm>{NUMBER}) scfm at (?P<counted_at_F>{NUMBER}) deg ?f"
            rf",? (?P<counted_at_psia>{NUMBER}) psia in m3.h at (?P<wanted_at_C>{NUMBER}) deg ?c"
            rf",? (?P<wanted_at_Pa>{NUMBER}) pa",
        ),
        {
            "counted_at_F": "counted_at_f",
            "wanted_at_C": "wanted_at_c",
            "wanted_at_Pa": "wanted_at_pa",
        },
    ),
    Calculation("cfm_m3_h", cfm_m3_h, (rf"plain conversion (?P<cfm>{NUMBER}) cfm\b.*",)),
    Calculation(
        "line_volume_m3_h",
        line_volume_m3_h,
        (r"line volume flow against free air at pressure.*",),
        {
            "gauge_pressure_kPa": "gauge_pressure_kpa",
            "atmospheric_kPa": "atmospheric_kpa",
            "free_air_temperature_C": "free_air_temperature_c",
            "line_temperature_C": "line_temperature_c",
        },
    ),
    Calculation(
        "line_volume_cfm",
        line_volume_cfm,
        (
            rf"(?P<free_air_scfm>{NUMBER}) scfm free air at (?P<gauge_psi>{NUMBER}) psig:? line "
            rf"volume at (?P<line_temperature_F>{NUMBER}) deg ?f",
        ),
        {"line_temperature_F": "line_temperature_f"},
    ),
    Calculation("rotameter_cfm", rotameter_cfm),
    Calculation(
        "polytropic_power_kw",
        polytropic_power_kw,
        (r"indicated power,? single.stage polytropic compression.*",),
        {"inlet_temperature_K": "inlet_temperature_k"},
    ),
    Calculation(
        "compressed_temperature_k",
        air.compressed_temperature_k,
        (r"delivery temperature of the same example.*", r"delivery temperature.*compression.*"),
        {"inlet_temperature_K": "inlet_k", "pressure_ratio": "ratio", "n": "exponent"},
    ),
    Calculation(
        "adiabatic_hp",
        adiabatic_hp,
        (r"theoretical adiabatic horsepower.*",),
        {"inlet_temperature_R": "inlet_temperature_r"},
    ),
    Calculation("blower_power_kw", blower_power_kw, (r"blower power\b.*",), {"inlet_K": "inlet_k"}),
    Calculation(
        "compression_power_w",
        compression_power_w,
        (r"ideal adiabatic power\b.*",),
        {
            "gauge_pressure_Pa": "gauge_pressure_pa",
            "inlet_pressure_Pa": "inlet_pressure_pa",
            "inlet_C": "inlet_c",
        },
    ),
    Calculation(
        "discharge_temperature_c",
        discharge_temperature_c,
        (r"ideal adiabatic discharge temperature.*",),
        {
            "gauge_pressure_Pa": "gauge_pressure_pa",
            "inlet_pressure_Pa": "inlet_pressure_pa",
            "inlet_C": "inlet_c",
        },
    ),
    Calculation("energy_kwh", air.energy_kwh),
    Calculation("energy_cost", air.energy_cost),
    Calculation("typical_curve", compressor.typical_curve),
    Calculation("typical_efficiency", compressor.typical_efficiency),
)
