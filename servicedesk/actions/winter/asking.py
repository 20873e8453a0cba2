"""Ask owners how their water goes through the winter; twice at most, then the office phones."""

from collections import defaultdict
from datetime import datetime, timedelta

from django.db import transaction

from customers.actions import People, Receivers
from customers.kinds import MailTopic
from equipment.models import System
from servicedesk.actions.reminders.owe import owe
from servicedesk.actions.winter.known import KnownWinter, known_winters, with_sites
from servicedesk.actions.winter.notices import keep_notices
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import DueItem, OfficeTask, Reminder
from servicedesk.planning.winter.deadlines import ask_from, decide_by

AGAIN_AFTER = timedelta(days=7)  # judgement
AT_ONCE = 200  # systems in one look


def keep_winters(*, now: datetime) -> int:
    """All that becomes owed about winters with time; how many lines and notices are new."""
    return ask_about_winters(now=now) + keep_notices(now=now)


def ask_about_winters(*, now: datetime) -> int:
    """Owe a line for each system whose winter nobody has decided; how many are new.

    Only in the two weeks before the deadline; after it the office phones, and nobody is written to.
    """
    served = System.objects.filter(pk__in=DueItem.objects.values("system"))
    ids = list(served.order_by("site", "pk").values_list("pk", flat=True))
    owed, overdue = 0, defaultdict(list)
    for start in range(0, len(ids), AT_ONCE):
        some = System.objects.filter(pk__in=ids[start : start + AT_ONCE]).order_by("pk")
        for known in undecided(known_winters(with_sites(some), now=now)):
            begins = ask_from(known.climate, known.year)
            by = decide_by(known.climate, known.year)
            if known.on < begins:
                continue
            owed += _ask(known, by, now) if known.on <= by else 0
            if known.on > by or _silent(known, now):
                customer = People(known.ponds[0], on=known.on).customer
                overdue[customer, known.year, by].append(known)
    _phone(overdue, now)
    return owed


def undecided(winters: list[KnownWinter]) -> list[KnownWinter]:
    """Those that nobody has decided, of waters that freeze and have an owner."""
    return [
        known
        for known in winters
        if known.ponds
        and decide_by(known.climate, known.year)
        and not (known.decision and known.decision.decided)
    ]


@transaction.atomic
def _ask(known, by, now):
    if known.wish:
        return 0
    site, pond = known.system.site_id, known.ponds[0].pk
    owed = 0
    for contact in Receivers([site], on=known.on).of(site, pond):
        facts = {"system": known.system.pk, "year": known.year, "by": by.isoformat()}
        lines = _lines(known, contact)
        if not lines:
            owed += owe(contact, MailTopic.WINTER_PLAN, _period(known), now=now, facts=facts)
        elif len(lines) == 1 and _old(lines[0], now):
            period = _period(known) + "/2"
            owed += owe(contact, MailTopic.WINTER_PLAN, period, now=now, facts=facts)
    return owed


def _period(known):
    return f"winter:{known.system.pk}:{known.year}"


def _lines(known, contact=None):
    rows = Reminder.objects.filter(
        topic=MailTopic.WINTER_PLAN, period__in=[_period(known), _period(known) + "/2"]
    )
    rows = rows.filter(contact=contact) if contact else rows
    return list(rows.select_related("message").order_by("pk"))


def _old(line, now):
    sent_at = line.message.sent_at if line.message else None
    return sent_at is not None and now - sent_at >= AGAIN_AFTER


def _silent(known, now):
    """Two mails went out to somebody, and nothing came back."""
    return not known.wish and any(
        line.period.endswith("/2") and _old(line, now) for line in _lines(known)
    )


def _phone(overdue, now):
    """One task for each customer and winter; it goes once nothing of his is undecided."""
    keys = []
    for (customer, year, by), winters in overdue.items():
        if customer is None:
            continue
        key = f"winter:{customer.pk}:{year}"
        keys.append(key)
        names = ", ".join(dict.fromkeys(p.name for known in winters for p in known.ponds))[:400]
        OfficeTask.objects.get_or_create(
            key=key,
            defaults={
                "kind": OfficeTaskKind.WINTER,
                "text": f"{customer}: nobody has decided the winter of {names}. Phone, and decide "
                "it on the page of winters. Until then none of them may run under ice.",
                "site": winters[0].system.site,
                "due_on": by,
                "opened_at": now,
            },
        )
    done = OfficeTask.objects.filter(kind=OfficeTaskKind.WINTER, handled_at=None)
    done = done.filter(key__startswith="winter:").exclude(key__in=keys)
    done.update(handled_at=now, handled_note="It was decided.")
