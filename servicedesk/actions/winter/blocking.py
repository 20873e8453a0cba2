"""What stands in the way of a winter run, from the records, and what a manager lifts by name."""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from customers.kinds import MailTopic, Role
from customers.models import Firm, Trail, User
from equipment.kinds import RUNNING, SystemState, WinterMode
from equipment.models import System
from servicedesk.actions.winter.known import (
    LOOK_COUNTS,
    KnownWinter,
    known_winters,
    stopped_at,
    with_sites,
)
from servicedesk.kinds import IceSeen, OfficeTaskKind, PermitStand, YesNo
from servicedesk.models import OfficeTask, Reminder, WinterLifted
from servicedesk.planning.seasons import winter_begins
from servicedesk.planning.winter.blocks import (
    Block,
    BlockName,
    Ice,
    Permit,
    Plan,
    Seen,
    WinterFacts,
    blocks,
    standing,
)

WINTER_RUNS = frozenset({SystemState.RUNNING_WINTER_SHALLOW, SystemState.RUNNING_WINTER_DEEP})
RUNS = {WinterMode.RUN_SHALLOW, WinterMode.RUN_DEEP}


class WinterRefused(Exception):
    """Nothing was written; the text says why and what to do."""


def facts_of(
    known: KnownWinter, *, firm: Firm | None, now: datetime, told_since=None, visit_to_come=False
) -> WinterFacts:
    """What the blocks rest on; whatever no record answers counts as the worse.

    told_since: instants at which the owner was told that the system stands still, by system.
    """
    stop = stopped_at(known)
    ice = _ice(known, now)
    fresh = known.look if known.look and now - known.look.at <= LOOK_COUNTS else None
    return WinterFacts(
        permit=_permit(known),
        people_on_ice=_people(known, fresh),
        leak=Seen.YES if known.leaks else Seen.NO if known.leak_looked else Seen.UNKNOWN,
        authority_open=tuple(known.lines_open),
        authority_asks=frozenset(
            BlockName(n) for n in (known.rules.no_choice if known.rules else [])
        ),
        refused=bool(known.refusals) or _said(known, "signs_refused") == "yes",
        may_run_after_refusal=bool(firm and firm.run_after_refusal),
        ice=ice,
        marking_placed=Seen(known.look.marking_placed) if known.look else Seen.UNKNOWN,
        acknowledged=all_acknowledged(known),
        oxygen_mg_l=known.oxygen_mg_l,
        stopped_with_ice=_stopped(known, stop, ice),
        owner_told=_told(known, stop, told_since or {}),
        signs_seen=_signs_seen(known, stop),
        plan=_plan(known),
        visit_to_come=visit_to_come,
    )


def blocks_of(
    systems: Iterable[System], *, now: datetime, visit_to_come: bool = False
) -> dict[int, tuple[Block, ...]]:
    """All blocks of each system, lifted or not."""
    return {
        known.system.pk: found
        for known, found in with_blocks(
            known_winters(systems, now=now), now=now, visit_to_come=visit_to_come
        )
    }


def with_blocks(
    winters: list[KnownWinter], *, now: datetime, visit_to_come: bool = False
) -> list[tuple[KnownWinter, tuple[Block, ...]]]:
    firm = Firm.objects.first()
    told = _told_by_mail([known.system.pk for known in winters])
    return [
        (
            known,
            blocks(
                facts_of(known, firm=firm, now=now, told_since=told, visit_to_come=visit_to_come)
            ),
        )
        for known in winters
    ]


def still_blocked(
    systems: Iterable[System], *, now: datetime, visit_to_come: bool = False
) -> dict[int, tuple[Block, ...]]:
    """What is left of them once those that a manager lifted are taken away."""
    winters = known_winters(systems, now=now)
    return {
        known.system.pk: standing(found, {row.block for row in known.lifted})
        for known, found in with_blocks(winters, now=now, visit_to_come=visit_to_come)
    }


def winter_says(system: System, state: str, *, at: datetime, now: datetime) -> str:
    """Why a system may not go into winter running; empty where it may.

    What it did in a winter that is over may be entered as it was.
    """
    if state not in WINTER_RUNS:
        return ""
    known = known_winters(with_sites(System.objects.filter(pk=system.pk)), now=now)[0]
    if at.date() < winter_begins(known.year, known.climate.latitude):
        return ""
    ((_known, found),) = with_blocks([known], now=now)
    left = standing(found, {row.block for row in known.lifted})
    if not left:
        return ""
    says = " ".join(block.says for block in left)
    return (
        f"It may not run this winter yet. {says} The winter page of this system shows what to do."
    )


def tell_of_barred_run(system: System, barred: str, *, at: datetime, now: datetime) -> None:
    """It runs under ice although something bars it: a person has to deal with it today."""
    OfficeTask.objects.get_or_create(
        key=f"barred-run:{system.pk}:{at:%Y-%m-%d}",
        defaults={
            "kind": OfficeTaskKind.WINTER,
            "text": f"{system} at {system.site} was started although it should not be. {barred} "
            "Tell its owner to keep everyone off the ice, and decide whether it is stopped.",
            "site": system.site,
            "urgent": True,
            "opened_at": now,
        },
    )


@transaction.atomic
def lift_block(system: System, name: str, *, by: User, reason: str, now: datetime) -> WinterLifted:
    """A manager lets one block be, by name and reason, for this winter."""
    if by.role != Role.MANAGER or not by.is_active:
        raise WinterRefused("Only a manager lifts this, under his own name.")
    if not reason.strip():
        raise WinterRefused("Give the reason: it stays on record beside your name.")
    known = known_winters(with_sites(System.objects.filter(pk=system.pk)), now=now)[0]
    ((_known, found),) = with_blocks([known], now=now)
    block = next((block for block in found if block.name == name), None)
    if block is None:
        raise WinterRefused("This does not stand in the way any more. Load the page again.")
    if not block.overridable:
        raise WinterRefused(f"Nobody can lift this. {block.says}")
    lifted, new = WinterLifted.objects.get_or_create(
        system=system,
        year=known.year,
        block=name,
        defaults={"by": by, "reason": reason.strip()[:300], "at": now},
    )
    if new:
        Trail.objects.create(
            at=now,
            by=by,
            did="lift winter block",
            about=f"system:{system.pk}",
            after={"block": name, "year": known.year, "reason": lifted.reason},
        )
    return lifted


def all_acknowledged(known: KnownWinter) -> bool:
    """Whether everybody with a part in each of its waters has acknowledged this winter's notice."""
    waters = {pond.pk for pond in known.ponds}
    reached = {row.notice.pond_id for row in known.deliveries}
    if not waters or waters - known.told_waters or waters - reached:
        return False
    return all(row.acknowledged_at for row in known.deliveries)


def _said(known, key):
    return known.decision.answers.get(key) if known.decision else None


def _permit(known):
    said = known.decision.permit if known.decision else PermitStand.UNKNOWN
    asked_for = known.rules is not None and known.rules.permit == YesNo.YES
    if asked_for and said == PermitStand.NOT_NEEDED:
        return Permit.MISSING
    return Permit(said)


def _people(known, fresh):
    if known.ice_is_used:
        return Seen.YES
    return Seen(fresh.people_on_ice) if fresh else Seen.UNKNOWN


def _ice(known, now):
    if known.look and now - known.look.at <= LOOK_COUNTS:
        return Ice(known.look.ice)
    seen = known.look and known.look.ice in (IceSeen.FORMING, IceSeen.COVERED)
    return Ice.UNKNOWN if known.ice_possible or seen else Ice.NONE


def _stopped(known, stop, ice):
    if not known.states:
        return Seen.UNKNOWN
    stands = known.states[-1].state not in RUNNING
    return Seen.YES if stop or (stands and ice != Ice.NONE) else Seen.NO


def _told(known, stop, told_since):
    since = stop or (known.states[-1].at if known.states else None)
    if since is None:
        return False
    calls = [row.called_at for row in known.deliveries if row.called_at]
    read = [row.acknowledged_at for row in known.deliveries if row.acknowledged_at]
    mails = told_since.get(known.system.pk, [])
    return any(at > since for at in [*calls, *read, *mails])


def _told_by_mail(systems):
    lines = Reminder.objects.filter(
        topic=MailTopic.SYSTEM_OFF,
        facts__system__in=systems,
        message__sent_at__isnull=False,
    ).values_list("facts__system", "message__sent_at")
    found = {}
    for system, sent_at in lines:
        found.setdefault(system, []).append(sent_at)
    return found


def _signs_seen(known, stop):
    since = stop or (known.states[-1].at if known.states else None)
    seen = {
        look.pond_id
        for look in known.signs_looks
        if look.signs_standing == YesNo.YES and (since is None or look.at > since)
    }
    return bool(known.ponds) and {pond.pk for pond in known.ponds} <= seen


def _plan(known):
    decided = known.decision.decided if known.decision else ""
    if decided in RUNS:
        return Plan.RUN
    return Plan.SHUT_DOWN if decided == WinterMode.SHUT_DOWN else Plan.UNDECIDED
