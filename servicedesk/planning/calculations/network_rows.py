"""Where compressor and lines meet, and how valves share the air, by name."""

import re

from equipment.physics import compressor, network
from equipment.physics.airline import COLEBROOK
from equipment.physics.atmosphere import SEA_LEVEL_PA, air_pressure_pa
from equipment.physics.compressor import Curve
from equipment.physics.diffuser import WATER_KG_M3
from equipment.physics.network import Line
from servicedesk.planning.calculations.air_rows import M3_H_L_MIN
from servicedesk.planning.calculations.engine import Calculation

MOST_LINES = 200
NEEDED = ("length_m", "id_mm", "depth_m")
TAKEN = (*NEEDED, "n_diffusers", "a_kPa", "b_kPa_per_m3h", "kv", "check_valve_kPa", "in_use")
LINEAR_CURVE = re.compile(r"\s*FAD\s*=\s*([\d.]+)\s*-\s*([\d.]+)\s*\*\s*p_kPa\s*", re.IGNORECASE)


def operating_point(
    compressor_curve_kpa_m3h: list,
    lines: list,
    atmospheric_pa: float = SEA_LEVEL_PA,
    leak_c: float = 0.0,
    relief_kpa: float | None = None,
    temperature_c: float = 20.0,
    water_kg_m3: float = WATER_KG_M3,
    law: str = COLEBROOK,
) -> dict:
    """The pressure and the flows at which a compressor and its lines agree.

    compressor_curve_kpa_m3h: pairs of gauge pressure [kPa], rising, and free air [m3/h], never
        rising; straight between them.
    lines: for each its length_m, id_mm (inner diameter), depth_m, n_diffusers (1 if not given),
        a_kPa and b_kPa_per_m3h (opening and slope of one membrane), kv (throttle, kPa over the
        square of m3/h; 0 is open), check_valve_kPa and in_use.
    atmospheric_pa: air pressure at the site [Pa absolute], 20 000 to 120 000; free air is counted
        at 20 degC and this pressure.
    leak_c: leak at the manifold, m3/h over the root of its gauge pressure in kPa, 0 or more.
    relief_kpa: gauge pressure at which a relief valve opens [kPa], 0.1 to 2000.
    temperature_c: of the air in the lines [degC].
    water_kg_m3: density of the water, 900 to 1100.
    law: of friction, colebrook (64/Re below 2040), or churchill, the law this program uses itself.
    Returns manifold_gauge_kPa, line_flow_m3_h for each line (0 for one that is too deep),
        leak_m3_h and compressor_fad_m3_h; with a relief valve also relief_m3_h.
    Raises ValueError outside those ranges.
    Source: balance of mass; isothermal compressible flow with Darcy friction; hydrostatics.
    """
    found = network.operating_point(
        _curve(compressor_curve_kpa_m3h),
        _lines(lines),
        air_pa=atmospheric_pa,
        leak_l_min_per_sqrt_pa=leak_c * M3_H_L_MIN / 1000**0.5,
        temperature_c=temperature_c,
        law=law,
        relief_pa=None if relief_kpa is None else relief_kpa * 1000,
        water_kg_m3=water_kg_m3,
    )
    result = {
        "manifold_gauge_kPa": found.manifold_pa / 1000,
        "line_flow_m3_h": [line.flow_l_min_local / M3_H_L_MIN for line in found.lines],
        "leak_m3_h": found.leak_l_min_local / M3_H_L_MIN,
        "compressor_fad_m3_h": found.delivered_l_min_local / M3_H_L_MIN,
    }
    if relief_kpa is not None:
        result["relief_m3_h"] = found.relief_l_min_local / M3_H_L_MIN
    return result


def linear_operating_point(
    curve: str, s_kpa: list[float], r_kpa_per_m3h: list[float], lines: str = ""
) -> dict:
    """Where a straight compressor curve and lines without friction agree.

    curve: such as "FAD = 6 - 0.05*p_kPa", free air [m3/h] against gauge pressure [kPa].
    s_kpa: for each line the gauge pressure at which it opens [kPa], 0 to 200.
    r_kpa_per_m3h: for each line its further pressure for each m3/h, above 0 to 1600.
    lines: words only: each line's flow is (p - s)/r.
    Returns p_kPa and q, the flow of each line [m3/h].
    Raises ValueError for a curve of another form, or lists of different length.
    Source: balance of mass; the same search as with friction.
    """
    form = LINEAR_CURVE.fullmatch(curve)
    if not form:
        raise ValueError('Write the curve such as "FAD = 6 - 0.05*p_kPa".')
    if len(s_kpa) != len(r_kpa_per_m3h):
        raise ValueError("Give s_kPa and r_kPa_per_m3h for each line, in the same order.")
    start, fall = float(form[1]), float(form[2])
    end = start / fall if fall else 2000.0
    rests = zip(s_kpa, r_kpa_per_m3h, strict=True)
    found = operating_point(
        [[0, start], [end, start - fall * end]],
        [
            {"length_m": 0, "id_mm": 10, "depth_m": 0, "a_kPa": s, "b_kPa_per_m3h": r}
            for s, r in rests
        ],
    )
    return {"p_kPa": found["manifold_gauge_kPa"], "q": found["line_flow_m3_h"]}


def valve_settings(
    compressor_curve_kpa_m3h: list,
    lines: list,
    wanted_m3_h: list[float],
    atmospheric_pa: float = SEA_LEVEL_PA,
    leak_c: float = 0.0,
    relief_kpa: float | None = None,
    law: str = "churchill",
) -> dict:
    """How far each valve must throttle so that the lines share the air as wanted.

    compressor_curve_kpa_m3h: pairs of gauge pressure [kPa], rising, and free air [m3/h].
    lines: as for operating_point; kv is left aside.
    wanted_m3_h: for each line its free air [m3/h], 0 for a line to be shut; only shares count.
    atmospheric_pa: air pressure at the site [Pa absolute], 20 000 to 120 000.
    leak_c: leak at the manifold, m3/h over the root of its gauge pressure in kPa, 0 or more.
    relief_kpa: gauge pressure at which a relief valve opens [kPa], 0.1 to 2000.
    law: of friction, churchill or colebrook.
    Returns manifold_gauge_kPa, share_of_wanted (the same for all lines), for each line its
        flow_m3_h, valve_kPa and kv (null for shut), and surplus_m3_h.
    Raises ValueError outside those ranges, or when no line is to get air.
    Source: balance of mass; the line that needs most pressure stands open.
    """
    balance = network.valve_settings(
        _curve(compressor_curve_kpa_m3h),
        _lines(lines),
        [wanted * M3_H_L_MIN for wanted in wanted_m3_h],
        air_pa=atmospheric_pa,
        leak_l_min_per_sqrt_pa=leak_c * M3_H_L_MIN / 1000**0.5,
        law=law,
        relief_pa=None if relief_kpa is None else relief_kpa * 1000,
    )
    return {
        "manifold_gauge_kPa": balance.manifold_pa / 1000,
        "share_of_wanted": balance.share_of_wanted,
        "lines": [_setting(setting) for setting in balance.settings],
        "surplus_m3_h": balance.surplus_l_min_local / M3_H_L_MIN,
    }


def compressor_at_pressure(
    compressor_curve_kpa_m3h: list,
    gauge_pressure_kpa: float,
    altitude_m: float = 0.0,
    inlet_c: float = 20.0,
    efficiency: float = 0.4,
) -> dict:
    """What a compressor delivers and draws at a site, and how hot its air leaves.

    compressor_curve_kpa_m3h: pairs of gauge pressure [kPa], rising, and free air [m3/h], never
        rising, as measured at sea level and 20 degC.
    gauge_pressure_kpa: that it works against [kPa], 0 to 2000.
    altitude_m: of the site [m], -600 to 9000.
    inlet_c: of the air at its intake, the cabinet's [degC], -60 to 80.
    efficiency: ideal compression power over electric power, 0.01 to 1; 0.4 if not given is a
        judgement.
    Returns free_air_m3_h (at 20 degC and the site's air pressure), mass_ratio (air by mass against
        sea level and 20 degC), power_W, and discharge_C of a machine that gives off no heat.
    Raises ValueError outside those ranges.
    Source: ideal gas law, U.S. Standard Atmosphere 1976, ideal adiabatic compression; that the
        flow hangs on the ratio of pressures is a judgement.
    """
    air_pa, gauge_pa = air_pressure_pa(altitude_m), gauge_pressure_kpa * 1000
    leaves_c = compressor.discharge_temperature_c(
        gauge_pa, inlet_temperature_c=inlet_c, air_pa=air_pa
    )
    curve = compressor.curve_at_site(_curve(compressor_curve_kpa_m3h), air_pa, inlet_c)
    return {
        "free_air_m3_h": curve.delivered_l_min_local(gauge_pa) / M3_H_L_MIN,
        "mass_ratio": compressor.mass_flow_ratio(altitude_m, inlet_c),
        "power_W": compressor.power_w(curve, gauge_pa, air_pa=air_pa, efficiency=efficiency),
        "discharge_C": leaves_c,
    }


def _setting(setting):
    throttle = setting.valve_pa_per_l_min2
    return {
        "flow_m3_h": setting.flow_l_min_local / M3_H_L_MIN,
        "valve_kPa": setting.valve_pa / 1000,
        "kv": None if throttle is None else throttle * M3_H_L_MIN**2 / 1000,
    }


def _curve(pairs):
    try:
        points = tuple((float(p) * 1000, float(q) * M3_H_L_MIN) for p, q in pairs)
    except (TypeError, ValueError) as error:
        raise ValueError(
            "Give the curve as pairs of kPa and m3/h, such as [[0, 4.0], [100, 1.4]]."
        ) from error
    return Curve(points)


def _lines(given):
    if not isinstance(given, list) or not all(isinstance(line, dict) for line in given):
        raise ValueError(f"Give the lines as a list of objects with {', '.join(NEEDED)}.")
    if len(given) > MOST_LINES:
        raise ValueError(f"Give at most {MOST_LINES} lines.")
    return [_line(number, line) for number, line in enumerate(given, 1)]


def _line(number, given):
    if missing := [key for key in NEEDED if key not in given]:
        raise ValueError(f"Line {number} needs {missing[0]}.")
    if unknown := [key for key in given if key not in TAKEN]:
        raise ValueError(f"Line {number} takes no {unknown[0]!r}, only {', '.join(TAKEN)}.")
    try:
        figure = {key: float(value) for key, value in given.items() if key != "in_use"}
    except (TypeError, ValueError) as error:
        raise ValueError(f"Line {number} has a value that is no number.") from error
    return Line(
        label=str(number),
        depth_m=figure["depth_m"],
        length_m=figure["length_m"],
        bore_m=figure["id_mm"] / 1000,
        membranes=int(figure.get("n_diffusers", 1)),
        opening_pa=figure.get("a_kPa", network.OPENING_PA / 1000) * 1000,
        slope_pa_per_l_min=_slope(figure),
        check_valve_pa=figure.get("check_valve_kPa", 0) * 1000,
        valve_pa_per_l_min2=figure.get("kv", 0) * 1000 / M3_H_L_MIN**2,
        in_use=given.get("in_use", True) is not False,
    )


def _slope(figure):
    if "b_kPa_per_m3h" not in figure:
        return network.SLOPE_PA_PER_L_MIN
    return figure["b_kPa_per_m3h"] * 1000 / M3_H_L_MIN


NAMES = {
    "compressor_curve_kPa_m3h": "compressor_curve_kpa_m3h",
    "atmospheric_Pa": "atmospheric_pa",
    "relief_kPa": "relief_kpa",
}
CALCULATIONS = (
    Calculation(
        "operating_point",
        operating_point,
        (r"operating point\b.*",),
        {**NAMES, "temperature_C": "temperature_c", "density_kg_m3": "water_kg_m3"},
    ),
    Calculation(
        "linear_operating_point",
        linear_operating_point,
        (r"closed.form check:? frictionless lines.*",),
        {"s_kPa": "s_kpa", "r_kPa_per_m3h": "r_kpa_per_m3h"},
    ),
    Calculation(
        "compressor_at_pressure",
        compressor_at_pressure,
        (),
        {
            "compressor_curve_kPa_m3h": "compressor_curve_kpa_m3h",
            "gauge_pressure_kPa": "gauge_pressure_kpa",
            "inlet_C": "inlet_c",
        },
    ),
    Calculation("valve_settings", valve_settings, (r"valve settings\b.*",), NAMES),
)
