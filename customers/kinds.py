"""The words of parties and places, as plain Python (no Django)."""

from enum import StrEnum


class Role(StrEnum):
    """What a person of the firm does; it decides what he may open and change."""

    MANAGER = "manager"
    OFFICE = "office"
    TECHNICIAN = "technician"


class Units(StrEnum):
    METRIC = "metric"
    US = "us"

    @property
    def label(self) -> str:
        return {"metric": "metric: m, kPa, °C", "us": "US customary: ft, psi, °F"}[self.value]


class CustomerKind(StrEnum):
    RESIDENT = "resident"
    ABSENT = "absent"
    FARM = "farm"
    ASSOCIATION = "association"
    GOLF = "golf"
    FISH_FARM = "fish_farm"
    CAMP = "camp"
    MUNICIPALITY = "municipality"
    OTHER = "other"


class ContactRoleKind(StrEnum):
    OWNER = "owner"
    PAYER = "payer"
    ON_SITE = "on_site"
    CARETAKER = "caretaker"
    BOARD = "board"
    PROPERTY_MANAGER = "property_manager"
    EMERGENCY = "emergency"
    NOTICE = "notice"  # is told of danger, without paying or owning


class ContactState(StrEnum):
    ACTIVE = "active"
    DO_NOT_CONTACT = "do_not_contact"
    DECEASED = "deceased"


class SecretKind(StrEnum):
    GATE_CODE = "gate_code"
    KEY = "key"
    LOCKBOX = "lockbox"
    OTHER = "other"


class HazardKind(StrEnum):
    DOG = "dog"
    LIVESTOCK = "livestock"
    BEES = "bees"
    STEEP_BANK = "steep_bank"
    DAM_FACE = "dam_face"
    SOFT_GROUND = "soft_ground"
    OVERHEAD_LINES = "overhead_lines"
    HUNTING = "hunting"
    NO_SIGNAL = "no_signal"
    THREAT = "threat"  # somebody threatened our people; facts only
    OTHER = "other"


class MailTopic(StrEnum):
    """What a mail to an owner is about; reminders can be stopped by topic."""

    VISIT_PROPOSED = "visit_proposed"
    VISIT_REMINDER = "visit_reminder"
    OWNER_TASK_DUE = "owner_task_due"
    OWNER_RHYTHM = "owner_rhythm"  # what owners look after themselves, in a rhythm of their own
    VISIT_REPORT = "visit_report"
    NOT_DONE = "not_done"
    SYSTEM_OFF = "system_off"
    RECALL = "recall"
    RESTART = "restart"  # before air is started again, with the days of its ramp
    WINTER_PLAN = "winter_plan"
    THIN_ICE = "thin_ice"
    HEAT_ADVISORY = "heat_advisory"


STOPPABLE_TOPICS = frozenset(
    {
        MailTopic.VISIT_PROPOSED,
        MailTopic.VISIT_REMINDER,
        MailTopic.OWNER_TASK_DUE,
        MailTopic.OWNER_RHYTHM,
        MailTopic.HEAT_ADVISORY,
    }
)
STOPPABLE_AFTER_FIRST = frozenset({MailTopic.HEAT_ADVISORY})


def choices(kind: type[StrEnum]) -> list[tuple[str, str]]:
    """(stored word, words on screen) of an enumeration, for a field or a form.

    kind: the enumeration.
    Returns pairs in the order of definition; a member's own `label` wins over its spelling.
    Source: our own rule.
    """
    return [(m.value, getattr(m, "label", m.value.replace("_", " "))) for m in kind]
