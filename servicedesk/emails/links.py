"""The addresses behind the buttons of a mail: one link for each thing, and one to stop mail."""

from datetime import UTC, date, datetime, time, timedelta

from django.conf import settings
from django.urls import reverse

from customers.signed_links import make_link
from servicedesk.kinds import AnswerKind

VISIT, VISITS, TASK, SITE, STOP = "visit", "visits", "task", "site", "stop"
RECALL, OWN, REPORT = "recall", "own", "report"
WINTER, WINTERS, NOTICE, HEAT = "winter", "winters", "notice", "heat"
RESTART = "restart"
LONG = timedelta(days=60)
STOP_FOR = timedelta(days=180)  # a wish to get no more mail has to work for long

VISIT_ANSWERS = (
    AnswerKind.CONFIRM,
    AnswerKind.ANOTHER_DAY,
    AnswerKind.DID_IT_MYSELF,
    AnswerKind.PROBLEM,
)
TASK_ANSWERS = (AnswerKind.DID_IT_MYSELF, AnswerKind.CALL_ME, AnswerKind.PROBLEM)
OWN_ANSWERS = (
    AnswerKind.DID_IT_MYSELF,
    AnswerKind.REMIND_LATER,
    AnswerKind.CALL_ME,
    AnswerKind.PROBLEM,
)
SITE_ANSWERS = (AnswerKind.CALL_ME, AnswerKind.OFF_ON_PURPOSE, AnswerKind.PROBLEM)
REPORT_ANSWERS = (AnswerKind.CALL_ME, AnswerKind.PROBLEM)
RECALL_ANSWERS = (AnswerKind.CALL_ME, AnswerKind.ALREADY_REPLACED, AnswerKind.PROBLEM)
WINTER_CHOICES = (AnswerKind.WINTER_SHALLOW, AnswerKind.WINTER_SHUT, AnswerKind.WINTER_DEEP)
WINTER_ANSWERS = (*WINTER_CHOICES, AnswerKind.CALL_ME)
NOTICE_ANSWERS = (
    AnswerKind.NOTICE_READ,
    AnswerKind.NEED_SIGNS,
    AnswerKind.ICE_IS_USED,
    AnswerKind.CALL_ME,
)
HEAT_ANSWERS = (AnswerKind.PROBLEM, AnswerKind.CALL_ME)
RESTART_ANSWERS = (AnswerKind.WILL_WATCH, AnswerKind.CANNOT_WATCH, AnswerKind.PROBLEM)
OFFERED = {  # what may be answered by a link, by its purpose
    VISIT: VISIT_ANSWERS,
    VISITS: (AnswerKind.CONFIRM, AnswerKind.ANOTHER_DAY),
    TASK: TASK_ANSWERS,
    SITE: SITE_ANSWERS,
    RECALL: RECALL_ANSWERS,
    RESTART: RESTART_ANSWERS,
    OWN: OWN_ANSWERS,
    REPORT: REPORT_ANSWERS,
    WINTER: WINTER_ANSWERS,
    WINTERS: WINTER_ANSWERS,
    NOTICE: NOTICE_ANSWERS,
    HEAT: HEAT_ANSWERS,
    STOP: (AnswerKind.STOP_REMINDERS,),
}


def for_visit(line, *, expires_at: datetime, now: datetime) -> dict:
    """Addresses to answer about the visit at which a ticket is done."""
    return _addresses(line.contact, VISIT, f"ticket:{line.ticket_id}", expires_at, now)


def for_week(line, week: str, *, expires_at: datetime, now: datetime) -> dict:
    """Addresses to give the same answer about all visits of a week."""
    return _addresses(line.contact, VISITS, f"week:{week}", expires_at, now)


def for_task(line, *, now: datetime) -> dict:
    """Addresses to answer about something that the owner may do himself."""
    return _addresses(line.contact, TASK, f"ticket:{line.ticket_id}", now + LONG, now)


def for_own(line, *, now: datetime) -> dict:
    """Addresses to answer about what the owner looks after in a rhythm of his own."""
    return _addresses(line.contact, OWN, f"own:{line.pk}", now + LONG, now)


def for_site(line, *, now: datetime) -> dict:
    """Addresses to ask to be called, or to report a problem, at the site of a visit."""
    about = f"site:{line.visit.site_id}"
    if system := line.facts.get("system"):
        about = f"system:{system}"
    return _addresses(line.contact, SITE, about, now + LONG, now)


def for_report(line, *, now: datetime) -> dict:
    """Addresses of the report on a visit, and to answer about it."""
    return _addresses(line.contact, REPORT, f"visit:{line.visit_id}", now + LONG, now)


def to_report(line, visit, *, now: datetime) -> dict:
    """The address of the report on a visit, in a mail about a part of it; once it counts."""
    if visit is None or visit.accepted_at is None:
        return {}
    page = _addresses(line.contact, REPORT, f"visit:{visit.pk}", now + LONG, now)["page"]
    return {"report": page}


def for_recall(line, *, now: datetime) -> dict:
    """Addresses to answer about a unit that is recalled."""
    return _addresses(line.contact, RECALL, f"recall:{line.recall_unit_id}", now + STOP_FOR, now)


def for_winter(line, *, now: datetime) -> dict:
    """Addresses to choose how one system goes through the winter."""
    return _addresses(line.contact, WINTER, f"winter:{line.pk}", now + LONG, now)


def for_winters(line, *, now: datetime) -> dict:
    """Addresses to choose the same for every system that a winter mail asks about."""
    return _addresses(line.contact, WINTERS, f"winters:{line.facts['year']}", now + LONG, now)


def for_notice(line, *, until: date, now: datetime) -> dict:
    """Addresses to acknowledge a notice about thin ice; they last as long as the notice."""
    ends = datetime.combine(until, time(0), UTC)
    expires_at = max(ends, now + timedelta(days=1))
    return _addresses(line.contact, NOTICE, f"notice:{line.facts['delivery']}", expires_at, now)


def for_heat(line, *, now: datetime) -> dict:
    """Addresses to report fish that gasp, at one site."""
    return _addresses(line.contact, HEAT, f"site:{line.facts['site']}", now + LONG, now)


def for_restart(line, *, until: date, now: datetime) -> dict:
    """Addresses to answer about a start, and of its days; they last two weeks longer."""
    ends = datetime.combine(until, time(0), UTC) + timedelta(days=14)
    about = f"restart:{line.facts['restart']}"
    return _addresses(line.contact, RESTART, about, max(ends, now + timedelta(days=1)), now)


def to_stop(contact, topic: str, *, now: datetime) -> dict:
    """The page, and the address that a mail program posts to at one click."""
    token = make_link(contact, STOP, f"topic:{topic}", now + STOP_FOR, now)
    page = reverse("owner_answer", args=[token, AnswerKind.STOP_REMINDERS])
    return {
        "page": settings.PUBLIC_ADDRESS + page,
        "one_click": settings.PUBLIC_ADDRESS + reverse("owner_stop_at_one_click", args=[token]),
    }


def _addresses(contact, purpose, about, expires_at, now):
    token = make_link(contact, purpose, about, expires_at, now)
    return {
        str(kind): settings.PUBLIC_ADDRESS + reverse("owner_answer", args=[token, kind])
        for kind in OFFERED[purpose]
    } | {"page": settings.PUBLIC_ADDRESS + reverse("owner_page", args=[token])}
