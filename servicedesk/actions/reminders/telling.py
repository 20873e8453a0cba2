"""Whom the publishing of days would tell, and how: the same decision, before it is taken."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import QuerySet

from customers.kinds import ContactState, MailTopic
from customers.models import Contact, MailStop, Ownership, Site
from servicedesk.actions.reminders.owe import told_about_day
from servicedesk.actions.reminders.queue import (
    DAYS_TOLD_BY_MAIL,
    stops_with_tickets,
    with_receivers,
)
from servicedesk.models import Reminder, Stop
from servicedesk.planning.calendar import site_date


@dataclass
class Telling:
    """What one owner would hear of one stop.

    word: `mail` the first time, `other_day` where another day was told before, `told` of this day
    already, `enough` mails (the office phones), `stopped` by his wish, `unreachable`.
    """

    stop: Stop
    contact: Contact | None
    word: str
    told_on: date | None = None
    confirmed: bool = False
    answered: bool = False
    because: str = ""
    names: list[str] = field(default_factory=list)

    @property
    def breaks_confirmed_day(self) -> bool:
        return self.confirmed and self.told_on not in (None, self.stop.route.day)

    @property
    def by_mail(self) -> bool:
        return self.word in ("mail", "other_day")

    @property
    def by_phone(self) -> bool:
        return self.word in ("enough", "stopped", "unreachable")


def tellings_of(stops: QuerySet, *, now: datetime) -> list[Telling]:
    """One row for each stop and owner. A bounded number of queries."""
    rows = list(with_receivers(stops_with_tickets(stops), now=now))
    tickets = [ticket.pk for _stop, some, _contacts in rows for ticket in some]
    lines = _lines(tickets)
    stopped = set(
        MailStop.objects.filter(topic=MailTopic.VISIT_PROPOSED, resumed_at=None).values_list(
            "contact_id", flat=True
        )
    )
    alone = [stop.site for stop, _tickets, contacts in rows if not contacts]
    why = unreachable_at(alone, now=now)
    found = []
    for stop, some, contacts in rows:
        said = {
            "confirmed": any(ticket.confirmed for ticket in some),
            "answered": any(ticket.answered for ticket in some),
        }
        for contact in contacts:
            earlier = [lines[contact.pk, ticket.pk] for ticket in some]
            found.append(_telling(stop, contact, earlier, stopped, said))
        if not contacts:
            found.append(Telling(stop, None, "unreachable", names=why[stop.site_id], **said))
    return found


def _lines(tickets: list[int]) -> dict[tuple[int, int], list[Reminder]]:
    lines = defaultdict(list)
    found = Reminder.objects.filter(topic=MailTopic.VISIT_PROPOSED, ticket__in=tickets)
    for line in found.order_by("pk"):
        lines[line.contact_id, line.ticket_id].append(line)
    return lines


def _telling(stop, contact, earlier, stopped, said) -> Telling:
    words = {told_about_day(some, stop.route.day, DAYS_TOLD_BY_MAIL) for some in earlier}
    last = [some[-1].facts.get("day") for some in earlier if some]
    told_on = date.fromisoformat(last[-1]) if last and last[-1] else None
    word = "told"
    if contact.pk in stopped:
        word = "stopped"
    elif "enough" in words:
        word = "enough"
    elif words & {"owed", "newest"}:
        word = "other_day" if told_on not in (None, stop.route.day) else "mail"
    return Telling(stop, contact, word, told_on, **said)


def unreachable_at(sites: Iterable[Site], *, now: datetime) -> dict[int, list[str]]:
    """Who owns places where no mail reaches anybody, each with the reason in words."""
    sites = list(sites)
    found: dict[int, list[str]] = defaultdict(list)
    if not sites:
        return found
    today = min(site_date(now, site.time_zone) for site in sites)
    owners = defaultdict(set)
    for owned in Ownership.objects.on_day(today).filter(site__in=[site.pk for site in sites]):
        owners[owned.customer_id].add(owned.site_id)
    for contact in Contact.objects.filter(customer__in=owners).order_by("name", "pk"):
        for site in owners[contact.customer_id]:
            found[site].append(f"{contact} ({_why(contact)})")
    return found


def _why(contact: Contact) -> str:
    if contact.state == ContactState.DO_NOT_CONTACT:
        return "asked for no mail"
    if contact.state == ContactState.DECEASED:
        return "has died"
    if contact.address_dead_at:
        return "mails come back"
    return "no mail address" if not contact.email else "receives no such mail"
