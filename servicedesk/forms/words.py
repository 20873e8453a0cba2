"""The words on the closing page, and the answers it offers."""

from django.utils.translation import gettext_lazy as _

from equipment.kinds import Quantity, Sign
from servicedesk.actions.visits.looks import AS_TOLD, NOT_SO
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
    Quantity.OPEN_WATER: _("Across the open water, from the bank only"),
}
OF_A_POND = {
    Quantity.WATER_TEMPERATURE,
    Quantity.OXYGEN,
    Quantity.LEVEL,
    Quantity.SECCHI,
    Quantity.ICE,
    Quantity.OPEN_WATER,
}
LOOK_AT = {  # what to look at first where a reading lies below or above its band
    Quantity.PRESSURE: (
        _("Look for a leak, and read the water's mark."),
        _("Look at the valves, and read the water's mark."),
    ),
    Quantity.LINE_PRESSURE: (
        _("Look for bubbles beside the diffuser."),
        _("Is this line's valve open? Compare the other lines."),
    ),
    Quantity.FLOW: (_("Look at the filter, and for a leak."), _("Read it once more.")),
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
CLAIMS = [
    (AS_TOLD, _("It was done as reported")),
    (NOT_SO, _("It was not done")),
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
# What a person can see, hear or smell; the rest follows from what is measured. The bubbles of
# each diffuser are asked for by themselves.
SEEN = [
    (
        _("At the water"),
        [
            (Sign.B_COARSE_ONE, _("One boil coarser than the others")),
            (Sign.B_COARSE_ALL, _("All boils coarse")),
            (Sign.B_MOVED, _("A boil at another spot than before")),
            (Sign.B_OFF_PLATE, _("Bubbles along a line, beside the diffuser")),
            (Sign.FISH_GASP, _("Fish gasping at the surface")),
            (Sign.SECOND_HOLE, _("A second opening in the ice")),
        ],
    ),
    (
        _("Noise and smell"),
        [
            (Sign.N_KNOCK, _("Knocking")),
            (Sign.N_SCREECH, _("Screeching or slapping")),
            (Sign.N_ROAR, _("Roaring at the air intake")),
            (Sign.N_HISS, _("Hissing of air")),
            (Sign.N_HUM, _("Hums and does not start")),
            (Sign.O_BURNT, _("A burnt smell")),
            (Sign.O_H2S, _("A smell of rotten eggs")),
        ],
    ),
    (
        _("In the cabinet"),
        [
            (Sign.FAN_STOPPED, _("Fan stands still")),
            (Sign.VENT_BLOCKED, _("Vents blocked")),
            (Sign.CYCLING, _("Stops and starts by itself")),
            (Sign.RELIEF_OPEN, _("Relief valve blowing")),
            (Sign.P_SWING, _("Needle of the gauge swings")),
            (Sign.WATER_IN_LINE, _("Water in gauge, hose or line")),
            (Sign.WATER_IN_CABINET, _("Water in the cabinet: touch nothing")),
            (Sign.DUST_BLACK, _("Black dust")),
        ],
    ),
    (
        _("Electrics: reset an outlet once at most, a breaker not at all"),
        [
            (Sign.GFCI_NOW, _("The ground-fault outlet trips at once")),
            (Sign.GFCI_WARM, _("It trips after running warm")),
            (Sign.GFCI_WET, _("It trips in rain, dew or thaw")),
            (Sign.BREAKER, _("The breaker had tripped")),
        ],
    ),
    (
        _("Before your visit"),
        [
            (Sign.FROST, _("Hard frost")),
            (Sign.AFTER_STORM, _("A storm")),
            (Sign.AFTER_MOWING_OR_DIG, _("Mowing or digging near the line")),
            (Sign.AFTER_RESTART, _("It had just been started again")),
        ],
    ),
]
THERE = [("yes", _("Yes")), ("no", _("No")), ("", _("Not looked"))]
RESTART = _(
    "Starting air after a stop is the dangerous moment: foul bottom water can kill fish, and new "
    "open water makes ice weak where people walk. Read the water first, have a named person "
    "decide, tell the owner before you start where there is ice."
)
