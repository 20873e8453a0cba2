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


class CheckValvePlace(StrEnum):
    """Where the valve sits that keeps water from coming up a line."""

    COMPRESSOR = "compressor"
    MANIFOLD = "manifold"
    DIFFUSER = "diffuser"
    NONE = "none"


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
    WITH_OWNER = "with_owner"  # taken off, and the owner keeps it


class ReplacementWarranty(StrEnum):
    """What a maker grants on a unit that came in place of a failed one under warranty."""

    UNKNOWN = "unknown"  # ask the maker
    RESTARTS = "restarts"
    INHERITS = "inherits"

    @property
    def label(self) -> str:
        return {
            "unknown": "not known: ask the maker",
            "restarts": "a new warranty begins",
            "inherits": "the rest of the old one's goes on",
        }[self.value]


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
    OPEN_WATER = "open_water"  # [m] across the opening near a boil, from the bank only


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


class Sign(StrEnum):
    """What was measured or seen and may point to a cause."""

    P_UP = "pressure_up"
    P_UP_STEP = "pressure_up_at_once"
    P_DOWN = "pressure_down"
    P_DOWN_STEP = "pressure_down_at_once"
    P_ZERO = "no_pressure"
    P_FLAT = "pressure_unchanged"
    P_PINNED = "pressure_pinned"
    P_SWING = "pressure_swings"
    ALL_LINES_SAME = "all_lines_alike"
    F_DOWN = "flow_down"
    VA_UP = "power_up"
    VA_DOWN = "power_down"
    VA_ZERO = "no_power"
    RISE_HIGH = "cabinet_hot"
    FAN_STOPPED = "fan_stopped"
    VENT_BLOCKED = "vents_blocked"
    B_ONE_WEAK = "one_boil_weak"
    B_ONE_NONE = "one_boil_gone"
    B_ALL_WEAK = "all_boils_weak"
    B_ALL_NONE = "all_boils_gone"
    B_COARSE_ONE = "one_boil_coarse"
    B_COARSE_ALL = "all_boils_coarse"
    B_MOVED = "boil_moved"
    B_OFF_PLATE = "bubbles_beside_plate"
    N_KNOCK = "knocking"
    N_SCREECH = "screeching"
    N_ROAR = "intake_roar"
    N_HISS = "hissing"
    N_HUM = "hums_without_start"
    O_BURNT = "burnt_smell"
    O_H2S = "rotten_egg_smell"
    GFCI_NOW = "ground_fault_trips_at_once"
    GFCI_WARM = "ground_fault_trips_warm"
    GFCI_WET = "ground_fault_trips_wet"
    BREAKER = "breaker_trips"
    CYCLING = "stops_and_starts"
    RELIEF_OPEN = "relief_valve_blows"
    WATER_IN_LINE = "water_in_line"
    FILTER_LOADED = "filter_loaded"
    FILTER_WET = "filter_wet"
    FILTER_MISSING = "filter_missing"
    LEVEL_UP = "water_level_up"
    LEVEL_DOWN = "water_level_down"
    FROST = "frost"
    AFTER_STORM = "after_storm"
    AFTER_WINTER = "after_winter"
    AFTER_MOWING_OR_DIG = "after_mowing_or_digging"
    AFTER_RESTART = "after_restart"
    VOLTS_LOW = "voltage_low"
    HOURS_SHORT = "hours_short"
    HOURS_IMPOSSIBLE = "hours_impossible"
    WINTER_CONFIG = "winter_configuration"
    DUST_BLACK = "black_dust"
    NEW_GAUGE = "new_gauge"
    SECOND_HOLE = "second_hole_in_ice"
    FISH_GASP = "fish_gasping"
    MOTOR_RUNS = "motor_runs"
    WATER_IN_CABINET = "water_in_cabinet"


# How a sign reads inside a sentence: "Seen: pressure up, one boil weak."
SIGN_WORDS = {
    Sign.P_UP: "pressure up",
    Sign.P_UP_STEP: "pressure up at once",
    Sign.P_DOWN: "pressure down",
    Sign.P_DOWN_STEP: "pressure down at once",
    Sign.P_ZERO: "no pressure",
    Sign.P_FLAT: "pressure unchanged",
    Sign.P_PINNED: "pressure held at one figure whatever the valves do",
    Sign.P_SWING: "needle of the gauge swings",
    Sign.ALL_LINES_SAME: "all lines changed alike",
    Sign.F_DOWN: "less air delivered",
    Sign.VA_UP: "more power drawn",
    Sign.VA_DOWN: "less power drawn",
    Sign.VA_ZERO: "no power drawn",
    Sign.RISE_HIGH: "cabinet hot",
    Sign.FAN_STOPPED: "fan stands still",
    Sign.VENT_BLOCKED: "vents blocked",
    Sign.B_ONE_WEAK: "one boil weak",
    Sign.B_ONE_NONE: "one boil gone",
    Sign.B_ALL_WEAK: "all boils weak",
    Sign.B_ALL_NONE: "all boils gone",
    Sign.B_COARSE_ONE: "one boil coarse",
    Sign.B_COARSE_ALL: "all boils coarse",
    Sign.B_MOVED: "a boil at another spot",
    Sign.B_OFF_PLATE: "bubbles beside the plate",
    Sign.N_KNOCK: "knocking",
    Sign.N_SCREECH: "screeching or slapping",
    Sign.N_ROAR: "roaring at the intake",
    Sign.N_HISS: "hissing",
    Sign.N_HUM: "hums and does not start",
    Sign.O_BURNT: "burnt smell",
    Sign.O_H2S: "smell of rotten eggs",
    Sign.GFCI_NOW: "ground-fault outlet trips at once",
    Sign.GFCI_WARM: "ground-fault outlet trips when warm",
    Sign.GFCI_WET: "ground-fault outlet trips when wet",
    Sign.BREAKER: "breaker tripped",
    Sign.CYCLING: "stops and starts by itself",
    Sign.RELIEF_OPEN: "relief valve blowing",
    Sign.WATER_IN_LINE: "water in gauge, hose or line",
    Sign.FILTER_LOADED: "filter loaded",
    Sign.FILTER_WET: "filter wet",
    Sign.FILTER_MISSING: "filter element missing",
    Sign.LEVEL_UP: "water level up",
    Sign.LEVEL_DOWN: "water level down",
    Sign.FROST: "frost",
    Sign.AFTER_STORM: "after a storm",
    Sign.AFTER_WINTER: "after winter",
    Sign.AFTER_MOWING_OR_DIG: "after mowing or digging",
    Sign.AFTER_RESTART: "after a restart",
    Sign.VOLTS_LOW: "voltage low",
    Sign.HOURS_SHORT: "fewer run hours than scheduled",
    Sign.HOURS_IMPOSSIBLE: "more run hours than days allow",
    Sign.WINTER_CONFIG: "plates in winter position",
    Sign.DUST_BLACK: "black dust",
    Sign.NEW_GAUGE: "gauge exchanged",
    Sign.SECOND_HOLE: "a second opening in the ice",
    Sign.FISH_GASP: "fish gasping",
    Sign.MOTOR_RUNS: "motor runs",
    Sign.WATER_IN_CABINET: "water in the cabinet",
}
# What happened round a system, and is no finding by itself.
CIRCUMSTANCES = frozenset(
    {
        Sign.FROST,
        Sign.AFTER_STORM,
        Sign.AFTER_WINTER,
        Sign.AFTER_MOWING_OR_DIG,
        Sign.AFTER_RESTART,
        Sign.WINTER_CONFIG,
        Sign.NEW_GAUGE,
        Sign.MOTOR_RUNS,
    }
)
