"""What a page or a phone sent, read with care: every fault is noted at the field it is about."""

from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from equipment.actions.readings import Fault

YES = {"yes", "on", "true", "1"}


class VisitRefused(Exception):
    """Nothing was written. `faults` maps the name of each field to its Fault."""

    def __init__(self, faults: dict[str, Fault]):
        super().__init__(" ".join(fault.says for fault in faults.values()))
        self.faults = faults


class NotYours(Exception):
    """The person may not do this; the text says why and what to do."""


class Node:
    """One level of the payload; its names join with points: `systems.4.left_running`."""

    def __init__(self, data, faults: dict[str, Fault], path: str = ""):
        self.data = data if isinstance(data, dict) else {}
        self.faults, self.path = faults, path
        if not isinstance(data, dict):
            self.fault("", "This part of the visit cannot be read. Send it again.")

    def name(self, field: str) -> str:
        return ".".join(filter(None, [self.path, field]))

    def fault(self, field: str, says: str | Fault) -> None:
        fault = says if isinstance(says, Fault) else Fault(says)
        self.faults.setdefault(self.name(field), fault)

    def text(self, field: str, limit: int = 250) -> str:
        value = self.data.get(field)
        text = "" if value is None or isinstance(value, (dict, list)) else str(value).strip()
        if len(text) > limit:
            self.fault(field, f"This is too long: {limit} characters at most.")
        return text.replace("\x00", "")

    def yes(self, field: str) -> bool:
        return self.text(field).lower() in YES

    def choice(self, field: str, kind):
        """A word of an enumeration, or None where nothing was chosen."""
        word = self.text(field)
        if not word:
            return None
        if word not in list(kind):
            self.fault(field, "Choose one of the answers offered.")
            return None
        return kind(word)

    def number(self, field: str, low: int = 1, high: int = 2**31 - 1) -> int | None:
        """A whole number; None where nothing was entered or it is none."""
        text = self.text(field, 20)
        if not text:
            return None
        if not text.isascii() or not text.isdecimal() or not low <= int(text) <= high:
            self.fault(field, f"Enter a whole number of {low} or more.")
            return None
        return int(text)

    def instant(self, field: str, zone: str) -> datetime | None:
        """An instant; without a zone it is the time on the wall at the site."""
        text = self.text(field, 40)
        if not text:
            return None
        try:
            at = datetime.fromisoformat(text)
            return at if at.tzinfo else at.replace(tzinfo=ZoneInfo(zone))
        except ValueError:
            self.fault(field, f"{text!r} is no date and time. Write it like 2026-06-01 08:50.")
            return None

    def day(self, field: str) -> date | None:
        text = self.text(field, 40)
        if not text:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.fault(field, f"{text!r} is no date. Write it like 2026-06-01.")
            return None

    def uuid(self, field: str) -> UUID | None:
        try:
            return UUID(self.text(field, 40))
        except ValueError:
            return None

    def child(self, field: str) -> "Node":
        return Node(self.data.get(field) or {}, self.faults, self.name(field))

    def children(self, field: str) -> list[tuple[str, "Node"]]:
        child = self.child(field)
        return [(key, child.child(key)) for key in child.data]
