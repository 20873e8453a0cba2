"""The words of the firm's work, as plain Python (no Django)."""

from enum import StrEnum


class Clock(StrEnum):
    RUN = "run"  # hours the compressor ran
    OP = "op"  # days in a running state
    CAL = "cal"  # every day
    SEASON = "season"  # a window with a hard end
    EVENT = "event"  # made by something that happened
    COND = "cond"  # opened by a trend in readings


class Anchor(StrEnum):
    FLOAT = "float"  # next = last done + interval
    FIXED = "fixed"  # keeps its day of the year


class Join(StrEnum):
    FIRST = "first"
    LAST = "last"


class PlaceKind(StrEnum):
    """What a task is done at; the first half of a place key such as `position:17`."""

    POSITION = "position"
    SYSTEM = "system"
    POND = "pond"
    SITE = "site"
    UNIT = "unit"


class Who(StrEnum):
    TECHNICIAN = "technician"
    OWNER = "owner"


class Harm(StrEnum):
    """Tiers of harm, worst first; a tier outranks any number of kilometres."""

    SAFETY = "safety"
    FISH = "fish"
    ASSET = "asset"
    WARRANTY = "warranty"
    COSMETIC = "cosmetic"


HARM_ORDER = {harm: rank for rank, harm in enumerate(Harm)}


class Skill(StrEnum):
    """What a task asks of the person; each includes those before it, a licence stands apart."""

    TRAINED = "trained"
    TECHNICIAN = "technician"
    REBUILD = "rebuild"
    ELECTRICIAN = "electrician"


class Mark(StrEnum):
    """What a default rests on; shown beside every figure of the trade."""

    SOURCED = "sourced"
    COMMON_PRACTICE = "common_practice"
    JUDGEMENT = "judgement"
    COMPUTED = "computed"
    FIRM = "firm"  # the firm's own figure


class DecisionKind(StrEnum):
    POSTPONED = "postponed"
    WAIVED = "waived"
    OVERRIDDEN = "overridden"
    BLOCKED = "blocked"


class Outcome(StrEnum):
    DONE = "done"
    NOT_DONE = "not_done"


class NotDoneReason(StrEnum):
    NO_ACCESS = "no_access"
    WEATHER = "weather"
    NOT_SAFE_TO_WORK = "unsafe"
    PART_MISSING = "part_missing"
    OWNER_REFUSED = "owner_refused"
    FOUND_OFF = "found_off"
    PARTLY_DONE = "partly_done"


class DoneBy(StrEnum):
    TECHNICIAN = "technician"
    OWNER = "owner"
    OTHER_FIRM = "other_firm"
    IMPORT = "import"


class WorkState(StrEnum):
    ACCEPTED = "accepted"
    REVIEW = "review"  # a second, different closing of one ticket
    REFUSED = "refused"  # looked at by the office and not counted


class TicketEnd(StrEnum):
    DONE = "done"
    NOT_NEEDED = "not_needed"
    CANCELLED = "cancelled"


class OfficeTaskKind(StrEnum):
    PHONE_OWNER = "phone_owner"
    MEND_ACCESS = "mend_access"
    MEND_ADDRESS = "mend_address"
    REVIEW_CLOSING = "review_closing"
    KIT_FAULT = "kit_fault"
    OWNER_ANSWER = "owner_answer"
    LEFT_OFF = "left_off"
    RECALL = "recall"
    SILENT = "silent"
    LABEL_REPORT = "label_report"  # by somebody unknown who scanned a cabinet
    CHECK_IN = "check_in"  # somebody alone has not come back
    SEASON = "season"  # what was seen of ponds, weather, windows
    RESTART = "restart"  # a ramp that needs somebody
    WINTER = "winter"  # a winter to decide, or a notice to speak of
    OTHER = "other"


class StockMoveKind(StrEnum):
    COUNTED = "counted"  # what lies there, whatever was thought before
    MOVED = "moved"  # between shelf and van; two rows
    BOUGHT = "bought"  # put on the shelf without an order


class PlanState(StrEnum):
    QUEUED = "queued"
    RUNNING = "running"
    DONE = "done"
    CANCELLED = "cancelled"
    FAILED = "failed"


class RoadState(StrEnum):
    """Whether the drives of a plan run are known, as far as they can be."""

    WANTED = "wanted"
    ASKING = "asking"  # one of its processes asks the routing service
    KNOWN = "known"


class HoldKind(StrEnum):
    HEAT = "heat"
    TREATMENT = "treatment"
    NO_GO_AREA = "no_go_area"
    BLACKOUT = "blackout"


class ObservationKind(StrEnum):
    """What somebody saw of a pond from the bank."""

    ICE_ON = "ice_on"
    ICE_OUT = "ice_out"
    LAYERED = "layered"
    MIXED = "mixed"


class RepairKind(StrEnum):
    """What went wrong with a planned day."""

    AWAY = "away"
    STOP_FAILED = "stop_failed"
    ROAD_CLOSED = "road_closed"
    RUNNING_LATE = "running_late"
    EMERGENCY = "emergency"


class HandKind(StrEnum):
    """A change of a week that somebody made by hand."""

    PLACED = "placed"
    MOVED = "moved"
    KEPT = "kept"
    LET_GO = "let_go"
    TAKEN_OFF = "taken_off"
    DROPPED = "dropped"
    SPLIT = "split"
    PULLED_FORWARD = "pulled_forward"
    TAKEN_BACK = "taken_back"


class MessageState(StrEnum):
    QUEUED = "queued"
    SENDING = "sending"
    SENT = "sent"
    FAILED = "failed"
    CANCELLED = "cancelled"
    SUPPRESSED = "suppressed"
    UNSURE = "unsure"  # the server may have taken it; a person decides


class AnswerKind(StrEnum):
    CONFIRM = "confirm"
    ANOTHER_DAY = "another_day"
    DID_IT_MYSELF = "did_it_myself"
    PROBLEM = "problem"
    STOP_REMINDERS = "stop_reminders"
    CALL_ME = "call_me"
    OFF_ON_PURPOSE = "off_on_purpose"
    ALREADY_REPLACED = "already_replaced"
    REMIND_LATER = "remind_later"
    WILL_WATCH = "will_watch"  # the pond, while its air is brought up
    CANNOT_WATCH = "cannot_watch"
    WINTER_SHALLOW = "winter_shallow"
    WINTER_SHUT = "winter_shut"
    WINTER_DEEP = "winter_deep"
    NOTICE_READ = "notice_read"
    NEED_SIGNS = "need_signs"
    ICE_IS_USED = "ice_is_used"


class LeftOffReason(StrEnum):
    FOUND_OFF = "found_off"
    FAILED = "failed"
    ELECTRICAL = "electrical"
    PART_AWAITED = "part_awaited"
    OWNER_WISH = "owner_wish"
    WINTER = "winter"
    OTHER = "other"


class DefectSign(StrEnum):
    """What was seen. What explains it is a cause; what is to be mended a defect."""

    WEAK_BOIL = "weak_boil"
    NO_BOIL = "no_boil"
    NOISE = "noise"
    HEAT = "heat"
    LEAK = "leak"
    WATER_IN_HOUSING = "water_in_housing"
    TRIPPING_OUTLET = "tripping_outlet"
    SMELL = "smell"
    DAMAGED = "damaged"
    FISH_GASPING = "fish_gasping"
    SECOND_OPENING = "second_opening"
    OTHER = "other"


class RecallStood(StrEnum):
    """Where a unit of a recall stood when it was listed."""

    INSTALLED = "installed"
    LOANER = "loaner"
    SHOP = "shop"
    SPARE = "spare"
    STOCK = "stock"
    MOVED = "moved"  # fitted elsewhere before
    SOLD = "sold"  # the place has changed hands since it was fitted
    TAKEN_OFF = "taken_off"  # fitted nowhere now, and not in our hands as far as we know
    SCRAPPED = "scrapped"


class RecallOutcome(StrEnum):
    MENDED = "mended"
    REPLACED = "replaced"
    NOT_AFFECTED = "not_affected"
    OUT_OF_USE = "out_of_use"
    NOT_FOUND = "not_found"


class PhotoKind(StrEnum):
    """What a photo of a new system is to show, so that it is found years later."""

    CABINET_OPEN = "cabinet_open"
    NAMEPLATE = "nameplate"
    GAUGE = "gauge"
    BOIL = "boil"
    TRENCH = "trench"
    LEVEL_MARK = "level_mark"
    SIGNS_FROM_BANK = "signs_from_bank"


class Point(StrEnum):
    """What a person answers for by name before a system goes into service, one by one."""

    HAZARDS_LOOKED_FOR = "hazards_looked_for"
    MAIL_READ_BACK = "mail_read_back"
    NOTHING_DUG = "nothing_dug"
    UTILITIES_LOCATED = "utilities_located"
    GFCI_TESTED = "gfci_tested"
    CABINET_ABOVE_WATER = "cabinet_above_water"
    NEVER_ALONE = "never_alone"
    JACKETS_WORN = "jackets_worn"
    SERIAL_UNREADABLE = "serial_unreadable"
    NO_HOUR_METER = "no_hour_meter"
    RESTART_CAUTION = "restart_caution"
    TALK_GIVEN = "talk_given"
    THIN_ICE_GIVEN = "thin_ice_given"
    RAMP_PLAN_GIVEN = "ramp_plan_given"
    WINTER_ASKED_LATER = "winter_asked_later"


class Step(StrEnum):
    """The steps of handing over a system, in the order in which they can be done."""

    SITE = "site"
    PEOPLE = "people"
    POND = "pond"
    ELECTRICS = "electrics"
    COMPRESSOR = "compressor"
    LINES = "lines"
    START = "start"
    READINGS = "readings"
    PAPERS = "papers"


class YesNo(StrEnum):
    """What somebody saw or said; nobody's silence is a no."""

    NO = "no"
    YES = "yes"
    UNKNOWN = "unknown"


class IceSeen(StrEnum):
    NONE = "none"
    FORMING = "forming"
    COVERED = "covered"
    UNKNOWN = "unknown"


class PermitStand(StrEnum):
    NOT_NEEDED = "not_needed"
    IN_HAND = "in_hand"
    MISSING = "missing"
    UNKNOWN = "unknown"

    @property
    def label(self) -> str:
        return {
            "not_needed": "not needed",
            "in_hand": "in hand",
            "missing": "needed, not in hand",
            "unknown": "nobody has asked",
        }[self.value]


class RefusalKind(StrEnum):
    SIGNS = "signs"
    NOTICE = "notice"
    SHUT_DOWN = "shut_down"  # and people go onto the ice
    OTHER = "other"
