"""Whether a line about winter, thin ice or heat is still true; and if not, why."""

from collections import defaultdict
from datetime import datetime

from customers.actions import People
from customers.kinds import MailTopic
from equipment.models import System
from servicedesk.actions.winter.known import known_winters, with_sites
from servicedesk.models import Hold, NoticeDelivery, Reminder
from servicedesk.planning.calendar import site_date
from servicedesk.planning.winter.deadlines import decide_by

WINTER_TOPICS = frozenset({MailTopic.WINTER_PLAN, MailTopic.THIN_ICE, MailTopic.HEAT_ADVISORY})


def why_untrue(lines: list[Reminder], *, now: datetime) -> dict[int, str]:
    """Why lines of these topics are not true any more, by their id."""
    by_topic = defaultdict(list)
    for line in lines:
        by_topic[line.topic].append(line)
    found = {
        **_of_plans(by_topic[MailTopic.WINTER_PLAN], now),
        **_of_notices(by_topic[MailTopic.THIN_ICE], now),
        **_of_heat(by_topic[MailTopic.HEAT_ADVISORY], now),
    }
    return {pk: why for pk, why in found.items() if why}


def _of_plans(lines, now):
    systems = System.objects.filter(pk__in={line.facts["system"] for line in lines})
    winters = {k.system.pk: k for k in known_winters(with_sites(systems), now=now)}
    return {line.pk: _why_not_asked(line, winters.get(line.facts["system"])) for line in lines}


def _why_not_asked(line, known):
    if known is None or not known.ponds or known.year != line.facts["year"]:
        return "that winter is over, or the system is gone"
    if known.decision and known.decision.decided:
        return "the winter is decided"
    if known.wish:
        return "the owner has answered"
    by = decide_by(known.climate, known.year)
    if by is None or known.on > by:
        return "the day for deciding is over"
    here = People(known.ponds[0], on=known.on)
    return "" if line.contact in here.with_roles else "somebody else has the water"


def _of_notices(lines, now):
    wanted = {line.facts["delivery"] for line in lines}
    rows = NoticeDelivery.objects.filter(pk__in=wanted).select_related("notice__pond__site")
    rows = {row.pk: row for row in rows}
    return {line.pk: _why_no_notice(rows.get(line.facts["delivery"]), now) for line in lines}


def _why_no_notice(row, now):
    if row is None or row.ended_at:
        return "the person has no part in the water any more"
    if row.acknowledged_at:
        return "the notice is acknowledged"
    over = site_date(now, row.notice.pond.site.time_zone) >= row.notice.lapses_on
    return "the notice has ended" if over or row.notice.ended_at else ""


def _of_heat(lines, now):
    wanted = {line.facts["hold"] for line in lines}
    holds = Hold.objects.filter(pk__in=wanted, lifted_at=None, to_on__gte=now.date())
    standing = set(holds.values_list("pk", flat=True))
    return {line.pk: "" if line.facts["hold"] in standing else "the heat is over" for line in lines}
