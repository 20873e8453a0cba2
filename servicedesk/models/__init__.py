from servicedesk.models.check_ins import Alarm, CheckIn
from servicedesk.models.commissioning import Acknowledged, Commissioning, DoubtConfirmed
from servicedesk.models.due import Decision, DueItem
from servicedesk.models.hands import HandChange
from servicedesk.models.jobs import JobBeat
from servicedesk.models.labels import Label, LabelReport
from servicedesk.models.places import place_of
from servicedesk.models.recalls import RecallCampaign, RecallUnit
from servicedesk.models.refreshing import RefreshPart, SiteMark
from servicedesk.models.reminders import Message, OwnerAnswer, Reminder
from servicedesk.models.repairs import Repair
from servicedesk.models.reports import ServiceReport
from servicedesk.models.restarts import RampHold, RampStep, Restart
from servicedesk.models.roads import RoadTime
from servicedesk.models.routes import (
    Absence,
    Hold,
    LeftOut,
    PlanRun,
    Route,
    Shift,
    Solve,
    Stop,
    StopTicket,
    Technician,
    WeekDetours,
)
from servicedesk.models.seasons import DayWeather, Observation
from servicedesk.models.stock import PartOrder, StockLevel, StockMove
from servicedesk.models.tasks import Caution, Override, Rhythm, Task
from servicedesk.models.tickets import OfficeTask, Ticket
from servicedesk.models.visits import Defect, PartUsed, Photo, SystemCheck, Visit, Work
from servicedesk.models.whatif import WhatIf, WhatIfSide
from servicedesk.models.winter import (
    BankLook,
    IceRules,
    NoticeDelivery,
    NoticeText,
    RefusedNote,
    RuleTick,
    ThinIceNotice,
    WinterDecision,
    WinterLifted,
)

__all__ = [
    "Absence",
    "Acknowledged",
    "Alarm",
    "BankLook",
    "Caution",
    "CheckIn",
    "Commissioning",
    "DayWeather",
    "Decision",
    "Defect",
    "DoubtConfirmed",
    "DueItem",
    "HandChange",
    "Hold",
    "IceRules",
    "JobBeat",
    "Label",
    "LabelReport",
    "LeftOut",
    "Message",
    "NoticeDelivery",
    "NoticeText",
    "Observation",
    "OfficeTask",
    "Override",
    "OwnerAnswer",
    "PartOrder",
    "PartUsed",
    "Photo",
    "PlanRun",
    "RampHold",
    "RampStep",
    "RecallCampaign",
    "RecallUnit",
    "RefreshPart",
    "RefusedNote",
    "Reminder",
    "Repair",
    "Restart",
    "Rhythm",
    "RoadTime",
    "Route",
    "RuleTick",
    "ServiceReport",
    "Shift",
    "SiteMark",
    "Solve",
    "StockLevel",
    "StockMove",
    "Stop",
    "StopTicket",
    "SystemCheck",
    "Task",
    "Technician",
    "ThinIceNotice",
    "Ticket",
    "Visit",
    "WeekDetours",
    "WhatIf",
    "WhatIfSide",
    "WinterDecision",
    "WinterLifted",
    "Work",
    "place_of",
]
