"""The pressure that a wetted membrane takes while air flows, and what studies saw of it."""

from dataclasses import dataclass

from equipment.physics.water import STANDARD_GRAVITY_M_S2, water_density_kg_m3

# A new membrane of a pond's plate, to begin with: judgement. From memory, unverified: 2.5 to
# 5 kPa at its design flow.
OPENING_PA, SLOPE_PA_PER_L_MIN = 2500.0, 36.0
WATER_KG_M3 = water_density_kg_m3(20.0)
MUNICIPAL = "municipal"


@dataclass(frozen=True)
class Figure:
    """A figure from a study; all are of municipal basins, which foul faster than ponds."""

    value: float | tuple[float, float]
    unit: str
    words: str
    source: str


_AGEING_STUDY = (
    "Samuelsson & Bengtsson, Differentiating fouling from ageing for a condition-based diffuser "
    "maintenance, Water Research (2024), abstract"
)
FOULING_RISE = Figure(
    40, "mbar", "largest rise by fouling, six membranes after 1.5 to 15 years", _AGEING_STUDY
)
AGEING_CHANGE = Figure(
    (-10, -5), "mbar", "change by ageing alone, after thorough cleaning", _AGEING_STUDY
)
TRANSFER_LOSS = Figure(
    28, "%", "largest loss of oxygen transfer, fouling and ageing together", _AGEING_STUDY
)
NEW_MEMBRANE = Figure(
    20, "mbar", "about what a new membrane takes, as that abstract implies", _AGEING_STUDY
)
WASHING_RECOVERS = Figure(
    60,
    "mbar",
    "about what pressure-washing of 11 to 12 year old polyurethane membranes won back (0.9 psi)",
    "conference abstract on an off-gas study at a municipal plant, Bremerton (Washington), "
    "2012-2013",
)


def wet_pressure_pa(
    flow_l_min_local: float,
    opening_pa: float = OPENING_PA,
    slope_pa_per_l_min: float = SLOPE_PA_PER_L_MIN,
    membranes: int = 1,
) -> float:
    """The pressure that wetted membranes side by side take while air flows (dynamic wet pressure).

    flow_l_min_local: free air through all of them [L/min], 0 to 100 000.
    opening_pa: at which a membrane begins to let air through [Pa], 0 to 200 000.
    slope_pa_per_l_min: further pressure of one membrane for each L/min through it, 0 to 100 000.
    membranes: alike, 1 to 1000.
    Returns pascals.
    Raises ValueError outside those ranges.
    Source: opening pressure and a nearly straight rise, as perforated membranes show (from
    memory); the figures if none are given are a judgement.
    """
    for what, value, most in (
        ("flow", flow_l_min_local, 100_000),
        ("opening pressure", opening_pa, 200_000),
        ("slope", slope_pa_per_l_min, 100_000),
    ):
        if not 0 <= value <= most:
            raise ValueError(f"A {what} of {value:g} cannot be right. Give 0 to {most}.")
    if not 1 <= membranes <= 1000:
        raise ValueError(f"{membranes:g} membranes cannot be right. Give 1 to 1000.")
    return opening_pa + slope_pa_per_l_min * flow_l_min_local / membranes


def wet_pressure_from_gauge_pa(
    gauge_pa: float,
    depth_m: float,
    line_loss_pa: float,
    *,
    check_valve_pa: float = 0.0,
    water_kg_m3: float = WATER_KG_M3,
) -> float:
    """The membrane's pressure as a gauge in the cabinet tells it.

    gauge_pa: gauge pressure at the manifold, valves fully open [Pa], 0 to 2 000 000.
    depth_m: water above the membrane on that day [m], 0 to 100.
    line_loss_pa: lost along the airline at that day's flow [Pa], 0 to 1 000 000.
    check_valve_pa: lost in the check valve [Pa], 0 to 200 000.
    water_kg_m3: density of the water, 900 to 1100.
    Returns pascals; below 0 when depth, level, gauge or line loss cannot be right. A foot more
        depth is 3 kPa, as much as fouling: compare a system only with itself.
    Raises ValueError outside those ranges.
    Source: hydrostatics, gauge = rho g h + line + check valve + membrane.
    """
    for what, value, low, high in (
        ("gauge pressure [Pa]", gauge_pa, 0, 2e6),
        ("depth [m]", depth_m, 0, 100),
        ("line loss [Pa]", line_loss_pa, 0, 1e6),
        ("check valve's loss [Pa]", check_valve_pa, 0, 2e5),
        ("water density [kg/m³]", water_kg_m3, 900, 1100),
    ):
        if not low <= value <= high:
            raise ValueError(f"A {what} of {value:g} cannot be right. Give {low:g} to {high:g}.")
    water_pa = water_kg_m3 * STANDARD_GRAVITY_M_S2 * depth_m
    return gauge_pa - water_pa - line_loss_pa - check_valve_pa
