"""Ask owners for what they look after in a rhythm of their own; such work opens no ticket."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from customers.actions import Receivers
from customers.kinds import MailTopic
from customers.models import Firm, SignedLink, Site
from equipment.kinds import RUNNING
from equipment.models import System
from servicedesk.actions.climates import climate_of
from servicedesk.actions.due import CHUNK, Occasion, occasions
from servicedesk.actions.reminders.owe import owe
from servicedesk.kinds import OfficeTaskKind, Who
from servicedesk.models import OfficeTask, OwnerAnswer, Reminder, Rhythm, Task, Work
from servicedesk.planning.calendar import site_date
from servicedesk.planning.ice import ice_possible

TOGETHER = timedelta(days=7)  # judgement: what falls due within a week is asked in one mail
AGAIN_AFTER = timedelta(days=7)  # judgement: the second and last time
SILENT = "own-silent"


@dataclass(frozen=True)
class Ask:
    """What one line asks: a task at a place, and since when its clock counts."""

    line: Reminder
    task: Task
    site: Site
    system: System
    since: date

    @property
    def system_id(self):
        return self.system.pk

    @property
    def place(self):
        return dict(self.line.facts["place"])

    @property
    def about(self):
        return f"own:{self.line.pk}"


def queue_owner_rhythms(*, clock: Callable[[], datetime]) -> int:
    """Owe a line for each thing that is due; how many are new.

    At most once a week and place, twice in all; then the office phones, and no further mail of
    this kind goes to that contact until somebody did. Nothing is asked of a system that stands
    still, nor while there may be ice, when a trial that fails would leave weak ice behind.
    """
    now = clock()
    firm = Firm.objects.first()
    if firm is None or not firm.ask_owners:
        return 0
    _tell_office_of_silence(now)
    wanted = Rhythm.objects.filter(who=Who.OWNER, task__active=True, task__by_owner=True)
    if not wanted.exists():
        return 0
    ids = list(Site.objects.order_by("pk").values_list("pk", flat=True))
    return sum(_queue(ids[start : start + CHUNK], now) for start in range(0, len(ids), CHUNK))


def _queue(site_ids, now):
    due = _due_by_site(site_ids, now)
    days = {site: site_date(now, site.time_zone) for site in due}
    by_day = {
        day: Receivers([s.pk for s in due if days[s] == day], on=day) for day in set(days.values())
    }
    hands = {site: _hands(by_day[days[site]], due[site]) for site in due}
    resting = _resting({c.pk for of in hands.values() for c in of}, now)
    lines = {
        (contact, _period(one)): one
        for site in due
        for contact, things in hands[site].items()
        if not {(contact.pk, site.pk), contact.pk} & resting
        for one in things
    }
    told = _told({period for _contact, period in lines})
    return sum(
        owe(contact, MailTopic.OWNER_RHYTHM, period, now=now, facts=_facts(one))
        for (contact, period), one in lines.items()
        if (contact.pk, period) not in told
    )


def _told(periods):
    """Which of these intervals were asked about already: (contact, period)."""
    rows = Reminder.objects.filter(topic=MailTopic.OWNER_RHYTHM, period__in=periods)
    return set(rows.values_list("contact_id", "period"))


def _due_by_site(site_ids, now):
    """What is due, with what falls due within a week of it, by site."""
    found = {}
    for one in occasions(site_ids, now=now, who=Who.OWNER):
        if one.task.by_owner and one.due.on and _may_be_asked(one):
            found.setdefault(one.site, []).append(one)
    asked = {}
    for site, of_site in found.items():
        today = site_date(now, site.time_zone)
        if not ice_possible(climate_of(site), today) and min(o.due.on for o in of_site) <= today:
            asked[site] = [one for one in of_site if one.due.on <= today + TOGETHER]
    return asked


def _may_be_asked(one: Occasion):
    return bool(one.around) and all(facts.state in RUNNING for facts in one.around)


def _hands(receivers, found):
    hands = {}
    for one in found:
        for contact in receivers.at_hand(one.site.pk, one.place["pond_id"]):
            hands.setdefault(contact, []).append(one)
    return hands


def _resting(contacts, now):
    """Contacts who do not answer, and (contact, site) that were asked within a week."""
    silent = OfficeTask.objects.filter(key__startswith=f"{SILENT}:", handled_at=None)
    found = set(silent.filter(contact__in=contacts).values_list("contact_id", flat=True))
    lately = Reminder.objects.filter(
        contact__in=contacts, topic=MailTopic.OWNER_RHYTHM, owed_at__gt=now - TOGETHER
    )
    return found | {(pk, facts["site"]) for pk, facts in lately.values_list("contact_id", "facts")}


def _period(one):
    """The interval, named by the day from which it counts; never a due day."""
    return f"own:{one.task.pk}:{one.place['place_key']}:{one.due.basis['since']}"


def _facts(one):
    system = one.around[0].system
    return {
        "task": one.task.pk,
        "place": one.place,
        "site": one.site.pk,
        "system": system.pk,
        "since": one.due.basis["since"],
        "due": one.due.on.isoformat(),
    }


def ask_of(line: Reminder) -> Ask | None:
    """What a line asks, by the records of today; None for a line about something else."""
    return asks_of([line]).get(line.pk)


def asks_of(lines: list[Reminder]) -> dict[int, Ask]:
    """The same for many, by line, in two queries."""
    own = [line for line in lines if line.topic == MailTopic.OWNER_RHYTHM]
    if not own:
        return {}
    tasks = Task.objects.in_bulk({line.facts["task"] for line in own})
    wanted = {line.facts["system"] for line in own}
    systems = System.objects.select_related("site__region").in_bulk(wanted)
    found = {}
    for line in own:
        task, system = tasks.get(line.facts["task"]), systems.get(line.facts["system"])
        if task and system:
            since = date.fromisoformat(line.facts["since"])
            found[line.pk] = Ask(line, task, system.site, system, since)
    return found


def done_since(asks: list[Ask]) -> set[int]:
    """The lines whose job was done since their clock began to count."""
    if not asks:
        return set()
    resets = {}
    for task, condition in Rhythm.objects.filter(
        task__in={ask.task.pk for ask in asks}, who=Who.OWNER
    ).values_list("task", "condition"):
        resets.setdefault(task, set()).update(condition.get("reset_by", ()))
    works = Work.objects.counting().filter(place_key__in={ask.place["place_key"] for ask in asks})
    last = {}
    for key, slug, at in works.values_list("place_key", "task__slug", "done_at"):
        last[key, slug] = max(at, last.get((key, slug), at))
    return {
        ask.line.pk
        for ask in asks
        for slug in {ask.task.slug, *resets.get(ask.task.pk, ())}
        if (at := last.get((ask.place["place_key"], slug)))
        and site_date(at, ask.site.time_zone) > ask.since
    }


def ask_again(line: Reminder, *, now: datetime, at: datetime | None = None) -> bool:
    """A second line about the same interval, which is the last."""
    if line.period.endswith("/2"):
        return False
    return owe(
        line.contact,
        MailTopic.OWNER_RHYTHM,
        f"{line.period}/2",
        now=now,
        facts=line.facts,
        not_before=at or now + AGAIN_AFTER,
    )


def forget_later(link: SignedLink, *, now: datetime) -> None:
    """The second line is not wanted after all."""
    line = Reminder.objects.filter(pk=link.about.partition(":")[2]).first()
    if line:
        Reminder.objects.filter(
            contact=line.contact_id, topic=line.topic, period=f"{line.period}/2", message=None
        ).update(dropped_at=now, dropped_because="the owner took it back")


def answered(lines: list[Reminder]) -> set[int]:
    """The lines that their owners answered by the mail."""
    abouts = {f"own:{line.pk}": line.pk for line in lines}
    said = OwnerAnswer.objects.standing().filter(link__about__in=abouts)
    return {abouts[about] for about in said.values_list("link__about", flat=True)}


def _tell_office_of_silence(now):
    """A week after a mail without an answer: once more; a week after that one, by phone."""
    sent = Reminder.objects.filter(
        topic=MailTopic.OWNER_RHYTHM,
        message__sent_at__lte=now - AGAIN_AFTER,
        message__sent_at__gt=now - 5 * AGAIN_AFTER,
    )
    lines = list(sent.select_related("contact").order_by("pk"))
    asks = asks_of(lines)
    quiet = set(asks) - done_since(list(asks.values())) - answered(lines)
    told = _told({f"{line.period}/2" for line in lines})
    for line in lines:
        if line.pk not in quiet:
            continue
        if line.period.endswith("/2"):
            _phone(asks[line.pk], now)
        elif (line.contact_id, f"{line.period}/2") not in told:
            ask_again(line, now=now, at=now)


def _phone(ask, now):
    line, site = ask.line, ask.site
    same = OfficeTask.objects.filter(key__startswith=f"{SILENT}:{line.contact_id}:{site.pk}:")
    if same.filter(handled_at=None).exists():
        return
    OfficeTask.objects.get_or_create(
        key=f"{SILENT}:{line.contact_id}:{site.pk}:{ask.since:%Y%m%d}",
        defaults={
            "kind": OfficeTaskKind.PHONE_OWNER,
            "text": f"{line.contact} at {site} was asked twice by mail for {ask.task.owner_name} "
            "and does not answer. Phone, and agree who does it; until this is done no such mail "
            "goes out to them.",
            "site": site,
            "contact": line.contact,
            "opened_at": now,
        },
    )
