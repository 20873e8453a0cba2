"""The trade's enumerations, as plain Python (no Django)."""

from enum import StrEnum


class SystemState(StrEnum):
    """What a system is doing from a moment on; the clocks read this history."""

    PLANNED = "planned"
    INSTALLED = "installed"
    COMMISSIONING = "commissioning"
    RUNNING = "running"
    RUNNING_TIMER = "running_timer"
    RUNNING_WINTER_SHALLOW = "running_winter_shallow"
    RUNNING_WINTER_DEEP = "running_winter_deep"
    RAMPING = "ramping"
    SHUT_WINTER = "shut_winter"
    SHUT_OTHER = "shut_other"
    FAILED = "failed"
    REMOVED = "removed"
    TRANSFERRED = "transferred"


RUNNING = frozenset(
    {
        SystemState.COMMISSIONING,
        SystemState.RUNNING,
        SystemState.RUNNING_TIMER,
        SystemState.RUNNING_WINTER_SHALLOW,
        SystemState.RUNNING_WINTER_DEEP,
        SystemState.RAMPING,
    }
)
GONE = frozenset({SystemState.REMOVED, SystemState.TRANSFERRED})
NOT_IN_SERVICE = frozenset({SystemState.PLANNED, SystemState.INSTALLED}) | GONE


class Certainty(StrEnum):
    OBSERVED = "observed"
    ASSUMED = "assumed"


class PositionKind(StrEnum):
    COMPRESSOR = "compressor"
    FILTER = "filter"
    DIFFUSER = "diffuser"
    METER = "meter"
    GAUGE = "gauge"
    RELIEF_VALVE = "relief_valve"
    CHECK_VALVE = "check_valve"
    FAN = "fan"
    TIMER = "timer"
    GFCI = "gfci"
    AIRLINE = "airline"


class PositionUse(StrEnum):
    IN_USE = "in_use"
    PARKED = "parked"
    CAPPED = "capped"
    REMOVED = "removed"


class CompressorKind(StrEnum):
    PISTON = "piston"
    VANE = "vane"
    LINEAR = "linear"
    OTHER = "other"


class ComponentState(StrEnum):
    """Where a unit stands in the firm's hands; `in service` means: of a customer."""

    IN_SERVICE = "in_service"
    LOANER = "loaner"
    SPARE = "spare"
    IN_SHOP = "in_shop"
    SCRAPPED = "scrapped"


class PartRole(StrEnum):
    """What a part is for; a model says which part plays the role."""

    FILTER_ELEMENT = "filter_element"
    GASKET = "gasket"
    VANE_SET = "vane_set"
    REBUILD_KIT = "rebuild_kit"
    DIAPHRAGM_KIT = "diaphragm_kit"
    MEMBRANE = "membrane"
    CAPACITOR = "capacitor"
    FAN = "fan"
    FOAM_PAD = "foam_pad"
    RELIEF_VALVE = "relief_valve"
    CHECK_VALVE = "check_valve"
    VENT_MESH = "vent_mesh"
    GAUGE = "gauge"
    COUPLER = "coupler"
    SIGN = "sign"
    CAP = "cap"


class Moment(StrEnum):
    """When, in a visit, a set of readings was taken."""

    AS_FOUND = "as_found"
    AS_LEFT = "as_left"
    OTHER = "other"


class Quantity(StrEnum):
    """What a reading measures. Values are stored in the unit in brackets."""

    PRESSURE = "pressure"  # [Pa] gauge, at the manifold
    LINE_PRESSURE = "line_pressure"  # [Pa] gauge, one line
    FLOW = "flow"  # [L/min] free air
    CURRENT = "current"  # [A]
    VOLTAGE = "voltage"  # [V]
    CABINET_AIR = "cabinet_air"  # [degC]
    OUTSIDE_AIR = "outside_air"  # [degC]
    HEAD_TEMPERATURE = "head_temperature"  # [degC]
    RUN_HOURS = "run_hours"  # [h]
    BUBBLES = "bubbles"  # [score 0-4]
    WATER_TEMPERATURE = "water_temperature"  # [degC]
    OXYGEN = "oxygen"  # [mg/L]
    LEVEL = "level"  # [m] against the benchmark
    SECCHI = "secchi"  # [m]
    ICE = "ice"  # [m] thickness, from the bank only


class FilterCondition(StrEnum):
    CLEAN = "clean"
    LIGHT = "light"
    LOADED = "loaded"
    WET = "wet"
    OILY = "oily"
    DAMAGED = "damaged"
    INSECTS = "insects"
    MISSING = "missing"


class WinterMode(StrEnum):
    """How a system spends its winter; `undecided` has to be asked in September."""

    UNDECIDED = "undecided"
    RUN_SHALLOW = "run_shallow"
    RUN_DEEP = "run_deep"
    SHUT_DOWN = "shut_down"
