"""A named manager approves a restart, and the owner is told before anything starts."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db import transaction

from customers.actions import Receivers
from customers.kinds import MailTopic, Role
from customers.models import User
from equipment.kinds import SystemState, WinterMode
from servicedesk.actions.due import lock_sites
from servicedesk.actions.reminders.owe import owe
from servicedesk.actions.restarts.course import SATURDAY, today_of
from servicedesk.actions.restarts.known import ice_of, known_of
from servicedesk.actions.restarts.propose import RestartRefused, note, readings_of
from servicedesk.actions.winter.blocking import winter_says
from servicedesk.emails.rows import ponds_of_systems
from servicedesk.kinds import HoldKind, OfficeTaskKind
from servicedesk.models import Hold, OfficeTask, Reminder, Restart
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.sentences import day
from servicedesk.planning.restart import ramps
from servicedesk.planning.restart.readings import RAMP_KEEPS_D
from servicedesk.planning.restart.states import RestartState
from servicedesk.planning.restart.table import BY_CODE

DAY = timedelta(days=1)
CHOICES = {"R3": ramps.SLOW, "R7": ramps.SHORT, "R8": ramps.STANDARD, "R6": ramps.CONTINUOUS}
LAST_START = time(12)  # so that somebody sees the first half hour by daylight; judgement


@dataclass(frozen=True)
class Approval:
    """What a manager answers for."""

    first_on: date
    starts: time = time(8)
    watcher: str = ""
    weekend_watcher: str = ""
    path: str = ""  # another row than the one proposed; then with a reason
    reason: str = ""
    adviser: str = ""
    ice_word: str = ""


@transaction.atomic
def approve_restart(restart: Restart, given: Approval, *, by: User, now: datetime) -> Restart:
    """Yes by name, with the day of the first step and who watches. Owners are told at once."""
    lock_sites([restart.system.site_id])
    restart.refresh_from_db()
    if restart.state != RestartState.PROPOSED:
        raise RestartRefused("This one does not wait for approval. Load the page again.")
    if by.role != Role.MANAGER or not by.is_active:
        raise RestartRefused("Only a manager may approve a start after a stop.")
    path = given.path or restart.path
    restart.minutes, restart.path = list(minutes_of(restart, path)), path
    _refuse(restart, path, given, now)
    restart.override_reason = given.reason.strip()[:250]
    restart.adviser, restart.ice_word = given.adviser.strip(), given.ice_word.strip()
    restart.first_on, restart.starts = given.first_on, given.starts
    restart.watcher, restart.weekend_watcher = given.watcher.strip(), given.weekend_watcher.strip()
    restart.approved_by, restart.approved_at = by, now
    restart.state = RestartState.APPROVED
    restart.save()
    note(restart, "approve restart", by, now, path=path, reason=restart.override_reason)
    tell_owners(restart, now=now)
    return restart


def minutes_of(restart: Restart, path: str) -> tuple[int, ...]:
    """The minutes of each day on a path; where an adviser decides, the slow ramp."""
    if path == restart.proposed["path"]:
        return tuple(restart.proposed["minutes"]) or ramps.SLOW
    if path not in CHOICES:
        raise RestartRefused("Choose one of the ramps offered.")
    return CHOICES[path]


def ramp_dates(first_on: date, minutes) -> list[date]:
    """The days of a ramp if all goes well; one that runs on at once is looked at on day 2."""
    return [first_on + n * DAY for n in range(max(len(minutes), 2))]


def blocks(restart: Restart, days: list[date]) -> list[str]:
    """Why nothing may be stirred on these days: a treatment, or heat. By no name and reason."""
    site = restart.system.site
    found = Hold.objects.filter(
        kind__in=[HoldKind.HEAT, HoldKind.TREATMENT],
        lifted_at=None,
        from_on__lte=days[-1],
        to_on__gte=days[0],
    )
    mine = found.filter(site=site)
    if site.region_id:
        mine = mine | found.filter(region=site.region_id)
    words = {HoldKind.HEAT: "Heat", HoldKind.TREATMENT: "A treatment of the water"}
    return [
        f"{words[HoldKind(hold.kind)]} holds starts here until {day(hold.to_on)}: {hold.reason}. "
        "Choose a later day, or end the hold if it is over."
        for hold in mine.order_by("to_on", "pk")
    ]


def tell_owners(restart: Restart, *, now: datetime) -> int:
    """Owe the mail about the start to all who hear of the place; else the office phones."""
    site, told = restart.system.site, 0
    ponds = ponds_of_systems([restart.system_id]).get(restart.system_id) or [None]
    receivers = Receivers([site.pk], on=site_date(now, site.time_zone))
    contacts = {c.pk: c for pond in ponds for c in receivers.of(site.pk, pond, warning=True)}
    facts = {"restart": restart.pk, "system": restart.system_id}
    for contact in contacts.values():
        told += owe(contact, MailTopic.RESTART, f"restart:{restart.pk}", now=now, facts=facts)
    if not contacts:
        OfficeTask.objects.get_or_create(
            key=f"restart-tell:{restart.pk}",
            defaults={
                "kind": OfficeTaskKind.PHONE_OWNER,
                "text": f"Nobody at {site} can be reached by mail. Phone before {restart.system} "
                f"is started on {day(restart.first_on)}, and write down who was told.",
                "site": site,
                "opened_at": now,
                "urgent": True,
            },
        )
    return told


def told_by_mail(restart: Restart) -> datetime | None:
    """When the mail about the start had gone to everybody whom it is owed to; None: not yet."""
    lines = Reminder.objects.filter(
        topic=MailTopic.RESTART, period=f"restart:{restart.pk}", dropped_at=None
    )
    sent = list(lines.values_list("message__sent_at", flat=True))
    return max(sent) if sent and all(sent) else None


def _refuse(restart, path, given, now):
    today, read_on = (
        today_of(restart, now),
        site_date(restart.read_at, restart.system.site.time_zone),
    )
    if given.first_on < today:
        raise RestartRefused("The first day is over. Choose today or a day to come.")
    if (given.first_on - read_on).days > RAMP_KEEPS_D:
        raise RestartRefused(
            f"The readings would be older than {RAMP_KEEPS_D} days at the start: water changes. "
            "Choose an earlier day, or read anew."
        )
    if given.starts > LAST_START:
        raise RestartRefused("Start in the morning, by 12:00, so that somebody sees what follows.")
    if path != restart.proposed["path"] and not given.reason.strip():
        raise RestartRefused("Another way than the one proposed needs a reason beside your name.")
    if readings_of(restart).bad_weather_coming and not given.reason.strip():
        raise RestartRefused(
            "A hot, still, overcast spell is forecast. Wait, or give the reason beside your name."
        )
    if path == "R0" and not given.adviser.strip():
        raise RestartRefused("Name the fish adviser, and what he said.")
    if (path == "R1" or restart.proposed["path"] == "R1") and not given.ice_word.strip():
        raise RestartRefused("Name who saw the signs stand, from the bank.")
    _refuse_nobody(restart, given)
    refuse_now(restart, ramp_dates(given.first_on, restart.minutes), now)


def _refuse_nobody(restart, given):
    days = ramp_dates(given.first_on, restart.minutes)
    weekend = [on for on in days if on.isoweekday() >= SATURDAY]
    if len(weekend) < len(days) and not given.watcher.strip():
        raise RestartRefused("Name who watches on working days.")
    if weekend and not given.weekend_watcher.strip():
        raise RestartRefused(
            f"The ramp runs over a weekend ({day(weekend[0])}). Name who watches on Saturday and "
            "Sunday, or begin on another day."
        )


def state_of_start(restart: Restart) -> SystemState:
    """What the system does once it is started; where there is ice, it runs for the winter."""
    if len(restart.minutes) > 1:
        return SystemState.RAMPING
    if restart.path != "R1":
        return SystemState.RUNNING
    deep = restart.system.winter_mode == WinterMode.RUN_DEEP
    return SystemState.RUNNING_WINTER_DEEP if deep else SystemState.RUNNING_WINTER_SHALLOW


def refuse_now(restart: Restart, days: list[date], now: datetime) -> None:
    """What has come up since the readings: a treatment, heat, ice, what bars a winter run."""
    if says := winter_says(restart.system, state_of_start(restart), at=now, now=now):
        raise RestartRefused(says)
    if says := blocks(restart, days):
        raise RestartRefused(says[0])
    known = known_of(restart.system, now=now)
    ice = ice_of(restart.system, known.ponds, now=now)
    if ice and BY_CODE[restart.proposed["path"]].code not in {"R0", "R1"}:
        raise RestartRefused(
            "Ice was seen since the readings were taken. Look again, and read anew."
        )
