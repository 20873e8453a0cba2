"""The words on the closing page, and the answers it offers."""

from django.utils.translation import gettext_lazy as _

from equipment.kinds import Quantity
from servicedesk.kinds import DefectSign, LeftOffReason, NotDoneReason

NAMES = {
    Quantity.PRESSURE: _("Outlet pressure"),
    Quantity.FLOW: _("Air flow"),
    Quantity.CURRENT: _("Motor current"),
    Quantity.VOLTAGE: _("Voltage"),
    Quantity.CABINET_AIR: _("Air in the cabinet"),
    Quantity.OUTSIDE_AIR: _("Air outside"),
    Quantity.HEAD_TEMPERATURE: _("Compressor head"),
    Quantity.RUN_HOURS: _("Hour meter"),
    Quantity.LINE_PRESSURE: _("Pressure of the line"),
    Quantity.WATER_TEMPERATURE: _("Water at the surface"),
    Quantity.OXYGEN: _("Oxygen near the surface"),
    Quantity.LEVEL: _("Water against the mark"),
    Quantity.SECCHI: _("Sight into the water"),
    Quantity.ICE: _("Ice, from the bank only"),
}
OF_A_POND = {
    Quantity.WATER_TEMPERATURE,
    Quantity.OXYGEN,
    Quantity.LEVEL,
    Quantity.SECCHI,
    Quantity.ICE,
}
BUBBLES = [
    ("0", _("none")),
    ("1", _("weak")),
    ("2", _("less")),
    ("3", _("normal")),
    ("4", _("strong")),
]
TRIPS = [
    ("tripped", _("It tripped, and reset")),
    ("did_not_trip", _("It did not trip")),
    ("no_reset", _("It tripped and will not reset")),
]
SKIPS = [
    ("no gauge or meter here", _("No gauge or meter here")),
    ("gauge or meter broken", _("Gauge or meter broken")),
    ("out of reach", _("Out of reach")),
    ("no time", _("No time")),
]
NOT_DONE = [
    (NotDoneReason.NO_ACCESS, _("No way in: gate, dog, nobody there")),
    (NotDoneReason.WEATHER, _("Weather, thunder or ice")),
    (NotDoneReason.NOT_SAFE_TO_WORK, _("A danger: electrics, bank, bees")),
    (NotDoneReason.PART_MISSING, _("A part was not on the van")),
    (NotDoneReason.OWNER_REFUSED, _("The owner refused it, or stopped the system")),
    (NotDoneReason.FOUND_OFF, _("The system was off")),
    (NotDoneReason.PARTLY_DONE, _("Only part of it is done")),
]
LEFT_OFF = [
    (LeftOffReason.FOUND_OFF, _("It was off, and nobody approved a start")),
    (LeftOffReason.FAILED, _("It has failed")),
    (LeftOffReason.ELECTRICAL, _("Something is wrong with the electrics")),
    (LeftOffReason.PART_AWAITED, _("A part has to come first")),
    (LeftOffReason.OWNER_WISH, _("The owner wishes it")),
    (LeftOffReason.WINTER, _("It is shut down for the winter")),
    (LeftOffReason.OTHER, _("Something else, see below")),
]
SIGNS = [
    (DefectSign.WEAK_BOIL, _("Fewer bubbles than usual")),
    (DefectSign.NO_BOIL, _("No bubbles")),
    (DefectSign.NOISE, _("An odd noise")),
    (DefectSign.HEAT, _("More heat than usual")),
    (DefectSign.LEAK, _("An air leak")),
    (DefectSign.WATER_IN_HOUSING, _("Water in the housing")),
    (DefectSign.TRIPPING_OUTLET, _("An outlet that trips")),
    (DefectSign.SMELL, _("An odd smell")),
    (DefectSign.DAMAGED, _("Something damaged")),
    (DefectSign.FISH_GASPING, _("Fish gasping at the surface")),
    (DefectSign.SECOND_OPENING, _("A second opening in the ice")),
    (DefectSign.OTHER, _("Something else")),
]
RESTART = _(
    "Starting air after a stop is the dangerous moment: foul bottom water can kill fish, and new "
    "open water makes ice weak where people walk. Read the water first, have a named person "
    "decide, tell the owner before you start where there is ice."
)
