from equipment.models.components import Component, ComponentType, Fitting, Part, PartFor
from equipment.models.readings import (
    Assessment,
    Baseline,
    Gauge,
    ProfilePoint,
    Reading,
    ReadingSet,
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
    "StateChange",
    "System",
]
