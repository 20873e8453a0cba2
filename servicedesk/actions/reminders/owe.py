"""Write down that a line is owed to a contact. Owed once, however often it is asked."""

from datetime import date, datetime

from customers.models import Contact
from servicedesk.models import RecallUnit, Reminder, Ticket, Visit
from servicedesk.wakeups import wake

SEND = "servicedesk.tasks.send_reminders"


def owe(
    contact: Contact,
    topic: str,
    period: str,
    *,
    now: datetime,
    ticket: Ticket | None = None,
    visit: Visit | None = None,
    recall_unit: RecallUnit | None = None,
    facts: dict | None = None,
    not_before: datetime | None = None,
) -> bool:
    """One line to one contact about one topic; whether it is new. Wakes the sender on commit."""
    _, new = Reminder.objects.get_or_create(
        contact=contact,
        topic=topic,
        period=period,
        defaults={
            "ticket": ticket,
            "visit": visit,
            "recall_unit": recall_unit,
            "facts": facts or {},
            "owed_at": now,
            "not_before": not_before or now,
        },
    )
    if new:
        wake(SEND)
    return new


def owe_about_day(
    contact: Contact, topic: str, ticket: Ticket, day: date, *, now: datetime, at_most: int
) -> str:
    """Owe a line about the day of a visit: `owed`, `told` of this day before, or `enough`.

    A period is the ticket, never a day, so that a shifting day brings no rain of mails. A second
    day is told under the ticket's second period, and so on up to `at_most`.
    """
    earlier = list(
        Reminder.objects.filter(contact=contact, topic=topic, ticket=ticket).order_by("pk")
    )
    word = told_about_day(earlier, day, at_most)
    if word == "newest":
        last = earlier[-1]
        last.facts = {**last.facts, "day": day.isoformat()}
        last.save(update_fields=["facts"])
        return "told"
    if word != "owed":
        return word
    number = f"/{len(earlier) + 1}" if earlier else ""
    facts = {"day": day.isoformat()}
    period = f"ticket:{ticket.pk}{number}"
    return "owed" if owe(contact, topic, period, now=now, ticket=ticket, facts=facts) else "told"


def told_about_day(earlier: list[Reminder], day: date, at_most: int) -> str:
    """What a contact would hear of a day: `owed` a line, `told` before, `newest`, or `enough`.

    earlier: the lines about the same work, oldest first. `newest`: the last one has not gone yet,
    and tells the new day.
    """
    if not earlier:
        return "owed"
    last = earlier[-1]
    if last.facts.get("day") == day.isoformat():
        return "told"
    if last.message_id is None and last.dropped_at is None:
        return "newest"
    return "enough" if len(earlier) >= at_most else "owed"
