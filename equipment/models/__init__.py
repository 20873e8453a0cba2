from equipment.models.components import Component, ComponentType, Fitting, Part, PartFor
from equipment.models.readings import (
    Assessment,
    Baseline,
    CauseConfirmed,
    Gauge,
    ProfilePoint,
    Reading,
    ReadingSet,
    SignSeen,
)
from equipment.models.systems import (
    Configuration,
    ConfigurationLine,
    Position,
    Schedule,
    StateChange,
    System,
)

__all__ = [
    "Assessment",
    "Baseline",
    "CauseConfirmed",
    "Component",
    "ComponentType",
    "Configuration",
    "ConfigurationLine",
    "Fitting",
    "Gauge",
    "Part",
    "PartFor",
    "Position",
    "ProfilePoint",
    "Reading",
    "ReadingSet",
    "Schedule",
    "SignSeen",
    "StateChange",
    "System",
]
