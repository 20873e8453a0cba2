"""Whether a line that is owed is still true at this moment; and if not, why."""

from collections import defaultdict
from datetime import datetime

from django.db.models import Exists, OuterRef, Q

from customers.actions import Receivers
from customers.kinds import STOPPABLE_TOPICS, ContactState, MailTopic
from customers.models import Contact, MailStop
from equipment.kinds import RUNNING
from equipment.models import System
from servicedesk.actions.climates import climate_of
from servicedesk.actions.reminders import rhythms
from servicedesk.actions.restarts.truth import why_untrue_of_restarts
from servicedesk.actions.winter.truth import WINTER_TOPICS, why_untrue
from servicedesk.emails import rows
from servicedesk.kinds import AnswerKind, TicketEnd
from servicedesk.models import DueItem, OwnerAnswer, Reminder
from servicedesk.planning.calendar import site_date
from servicedesk.planning.ice import ice_possible

ABOUT_OPEN_WORK = frozenset(
    {
        MailTopic.VISIT_PROPOSED,
        MailTopic.VISIT_REMINDER,
        MailTopic.OWNER_TASK_DUE,
        MailTopic.NOT_DONE,
    }
)
ABOUT_A_VISIT_TO_COME = frozenset({MailTopic.VISIT_PROPOSED, MailTopic.VISIT_REMINDER})
ENDS_A_PROPOSAL = frozenset({AnswerKind.CONFIRM, AnswerKind.ANOTHER_DAY, AnswerKind.DID_IT_MYSELF})
ENDS = {  # which answers of an owner end the lines of a topic
    MailTopic.VISIT_PROPOSED: ENDS_A_PROPOSAL,
    MailTopic.VISIT_REMINDER: ENDS_A_PROPOSAL - {AnswerKind.CONFIRM},
    MailTopic.OWNER_TASK_DUE: frozenset({AnswerKind.DID_IT_MYSELF, AnswerKind.CALL_ME}),
}


def fetch(lines):
    """A queryset of reminders with all that a mail and a verdict read of them."""
    return lines.select_related(
        "contact__customer",
        "ticket__task",
        "ticket__site",
        "ticket__position",
        "visit__site",
        "visit__technician",
        "recall_unit__campaign",
        "recall_unit__component__type",
        "recall_unit__site__region",
        "recall_unit__system",
        "recall_unit__ticket",
    ).order_by("pk")


def stopped():
    """Lines that a stop rule ends, as a condition that the database can check in one UPDATE."""
    stops = MailStop.objects.filter(
        contact=OuterRef("contact"), topic=OuterRef("topic"), resumed_at=None
    )
    return (
        Q(dropped_at__isnull=False)
        | Q(topic__in=ABOUT_OPEN_WORK, ticket__closed_at__isnull=False)
        | ~Q(contact__in=Contact.objects.reachable())
        | (Q(topic__in=STOPPABLE_TOPICS) & Exists(stops))
    )


def untrue(lines: list[Reminder], *, now: datetime) -> dict[int, str]:
    """Why lines are no longer true, by their id; nothing is said of those that are.

    lines: as `fetch` gives them.
    """
    of_winter = [line for line in lines if line.topic in WINTER_TOPICS]
    of_starts = [line for line in lines if line.topic == MailTopic.RESTART]
    apart = WINTER_TOPICS | {MailTopic.RESTART}
    lines = [line for line in lines if line.topic not in apart]
    facts = _Facts(lines, now=now)
    found = {line.pk: why for line in lines if (why := _why_untrue(line, facts))}
    found |= _untrue_of(of_winter, why_untrue, now)
    return found | _untrue_of(of_starts, why_untrue_of_restarts, now)


def _untrue_of(lines, why, now):
    if not lines:
        return {}
    rows = Reminder.objects.filter(pk__in=[line.pk for line in lines]).filter(stopped())
    ended = set(rows.values_list("pk", flat=True))
    found = {line.pk: _why_stopped(line) for line in lines if line.pk in ended}
    return why([line for line in lines if line.pk not in ended], now=now) | found


class _Facts:
    """What the verdicts rest on, read at once for all lines; nothing that none of them needs."""

    def __init__(self, lines, *, now):
        by_topic = defaultdict(list)
        for line in lines:
            by_topic[line.topic].append(line)
        self.asks = rhythms.asks_of(lines)
        self.sites = {line.pk: _site(line, self.asks) for line in lines}
        sites = {site for site in self.sites.values() if site}
        self.days = {site.pk: site_date(now, site.time_zone) for site in sites}
        self.stopped = set(
            Reminder.objects.filter(pk__in=[line.pk for line in lines])
            .filter(stopped())
            .values_list("pk", flat=True)
        )
        self.receivers = {
            day: Receivers([pk for pk, of in self.days.items() if of == day], on=day)
            for day in set(self.days.values())
        }
        self.proposed = {line.ticket_id for line in by_topic[MailTopic.VISIT_PROPOSED]}
        coming = _tickets(by_topic, ABOUT_A_VISIT_TO_COME)
        self.stops = rows.next_stops(coming, after=now) if coming else {}
        self.answers = _answers(_tickets(by_topic, ENDS))
        self.due = _due(by_topic[MailTopic.OWNER_TASK_DUE])
        self.ponds = _ponds(by_topic[MailTopic.RECALL])
        about_running = by_topic[MailTopic.SYSTEM_OFF] + by_topic[MailTopic.OWNER_RHYTHM]
        self.states = _states(about_running, now)
        self.done = rhythms.done_since(list(self.asks.values()))
        asked = by_topic[MailTopic.OWNER_RHYTHM]
        self.answered = rhythms.answered(asked) if asked else set()


def _tickets(by_topic, topics):
    return [line.ticket_id for topic in topics for line in by_topic[topic]]


def _answers(tickets):
    if not tickets:
        return set()
    found = OwnerAnswer.objects.standing().filter(ticket__in=tickets)
    return set(found.values_list("ticket_id", "kind"))


def _due(lines):
    if not lines:
        return {}
    items = DueItem.objects.filter(place_key__in=[line.ticket.place_key for line in lines])
    return {(item.place_key, item.task_id, item.occasion): item for item in items}


def _ponds(lines):
    if not lines:
        return {}
    return rows.ponds_of_systems({line.recall_unit.system_id for line in lines})


def _states(lines, now):
    if not lines:
        return {}
    systems = System.objects.filter(pk__in=[line.facts["system"] for line in lines])
    return dict(systems.with_state(now).values_list("pk", "state_now"))


def _why_untrue(line, facts):
    if line.pk in facts.stopped:
        return _why_stopped(line)
    if line.topic == MailTopic.OWNER_RHYTHM and line.pk not in facts.asks:
        return "the task or the system is gone"
    ends = ENDS.get(line.topic, frozenset())
    if any((line.ticket_id, kind) in facts.answers for kind in ends):
        return "the owner has answered"
    return (
        _why_not_receiver(line, facts)
        or _why_dealt_with(line.recall_unit)
        or _why_not_topical(line, facts)
        or _why_not_asked(line, facts)
    )


def _why_stopped(line):
    if line.dropped_at:
        return line.dropped_because
    if line.contact.state != ContactState.ACTIVE:
        return "the contact is not to be written to"
    if line.contact.address_dead_at or not line.contact.email:
        return "the contact has no address that takes mail"
    if line.ticket_id and line.ticket.closed_at:
        return "the ticket is closed"
    return "the contact wants no mail of this kind"


def _why_not_receiver(line, facts):
    site = facts.sites[line.pk]
    pond = line.ticket.pond_id if line.ticket_id else None
    receivers = facts.receivers[facts.days[site.pk]]
    if line.topic == MailTopic.OWNER_RHYTHM:
        at_hand = receivers.at_hand(site.pk, line.facts["place"]["pond_id"])
        return "" if line.contact in at_hand else "somebody else looks after it"
    warning, ponds = line.topic == MailTopic.SYSTEM_OFF, [pond]
    if unit := line.recall_unit:
        warning, ponds = unit.campaign.stop_at_once, facts.ponds.get(unit.system_id) or [None]
    having = {
        contact.pk for pond in ponds for contact in receivers.of(site.pk, pond, warning=warning)
    }
    return "" if line.contact_id in having else "the place is no longer theirs to hear about"


def _why_not_topical(line, facts):
    if line.topic in ABOUT_A_VISIT_TO_COME:
        if line.ticket_id not in facts.stops:
            return "no published visit is to come"
        if line.topic == MailTopic.VISIT_REMINDER and line.ticket_id in facts.proposed:
            return "the proposal in the same mail says it"
    if line.topic == MailTopic.OWNER_TASK_DUE:
        ticket = line.ticket
        item = facts.due.get((ticket.place_key, ticket.task_id, ticket.occasion))
        if item is None or item.paused or item.due_on is None:
            return "it is not due any more"
    if line.topic == MailTopic.VISIT_REPORT and line.visit.accepted_at is None:
        return "the visit is not accepted"
    if line.topic == MailTopic.SYSTEM_OFF and facts.states.get(line.facts["system"]) in RUNNING:
        return "the system is running"
    return ""


def _why_not_asked(line, facts):
    ask = facts.asks.get(line.pk)
    if ask is None:
        return ""
    if line.pk in facts.done:
        return "it is done"
    if line.pk in facts.answered:
        return "the owner has answered"
    if facts.states.get(ask.system_id) not in RUNNING:
        return "the system stands still"
    if ice_possible(climate_of(ask.site), facts.days[ask.site.pk]):
        return "there may be ice"
    return ""


def _why_dealt_with(unit):
    if unit is None:
        return ""
    done = unit.ticket and unit.ticket.end == TicketEnd.DONE and not unit.must_look
    over = done or unit.handled_at or unit.campaign.closed_at
    return "the unit is dealt with" if over else ""


def _site(line, asks):
    if line.pk in asks:
        return asks[line.pk].site
    if line.recall_unit_id:
        return line.recall_unit.site
    if line.ticket_id:
        return line.ticket.site
    return line.visit.site if line.visit_id else None
