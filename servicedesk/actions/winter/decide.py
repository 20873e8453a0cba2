"""Record answers about a winter and what was decided; note what an owner refuses."""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction

from customers.models import Customer, Ownership, Pond, Trail, User
from equipment.kinds import WinterMode
from equipment.models import System
from servicedesk.actions.due import lock_sites, refresh_sites
from servicedesk.actions.facts import climate_of
from servicedesk.actions.tickets import open_tickets_at
from servicedesk.actions.winter.blocking import WinterRefused
from servicedesk.actions.winter.known import KnownWinter
from servicedesk.kinds import OfficeTaskKind, PermitStand, RefusalKind
from servicedesk.models import OfficeTask, RefusedNote, WinterDecision
from servicedesk.planning.calendar import site_date
from servicedesk.planning.season_plan import winter_of
from servicedesk.planning.winter.questions import (
    KEYS,
    Answer,
    Pointed,
    answers_of_pond,
    option_pointed_to,
)

OF_PERMIT = {
    PermitStand.NOT_NEEDED: Answer.NO,
    PermitStand.IN_HAND: Answer.NO,
    PermitStand.MISSING: Answer.YES,
    PermitStand.UNKNOWN: Answer.UNKNOWN,
}
CONSEQUENCES = {  # in plain words, for the note that a refusal leaves
    RefusalKind.SIGNS: "Without signs nobody is warned of open water and thin ice. We do not run "
    "the system under ice.",
    RefusalKind.NOTICE: "Without a notice read nobody has told the household. We do not run the "
    "system under ice.",
    RefusalKind.SHUT_DOWN: "People go onto ice that a running system keeps thin. We do not run "
    "the system while they do.",
    RefusalKind.OTHER: "What was recommended is not done.",
}


@transaction.atomic
def keep_winter(
    system: System,
    *,
    answers: Mapping[str, str],
    permit: str,
    by: User,
    now: datetime,
    permit_note: str = "",
    decided: str = "",
    decided_by: str = "",
    decided_on: date | None = None,
    reason: str = "",
) -> WinterDecision:
    """Keep the answers of this winter and, where one is given, the decision.

    A decision needs the name of the person who decided; one that the answers do not point to
    needs a reason as well. The same again writes nothing. One cabinet has one winter, however
    many waters it feeds: its tasks follow from the day on which it is decided.
    """
    lock_sites([system.site_id])
    climate = climate_of(system.site)
    today = site_date(now, system.site.time_zone)
    year = winter_of(today, climate.latitude)
    given = {key: answers.get(key, Answer.UNKNOWN) for key in KEYS}
    given["permit_missing"] = OF_PERMIT[PermitStand(permit)].value
    pointed = option_pointed_to(given)
    fields = {
        "answers": {key: str(given[key]) for key in KEYS},
        "permit": permit,
        "permit_note": permit_note.strip()[:160],
        "pointed_to": pointed.option or "",
        "pointed_because": pointed.because[:400],
        "decided": decided,
        "decided_by": decided_by.strip()[:120] if decided else "",
        "decided_on": (decided_on or today) if decided else None,
        "reason": reason.strip()[:300] if decided else "",
    }
    _refuse_faults(system, fields, pointed, today)
    before = WinterDecision.objects.standing().filter(system=system, year=year).first()
    if before and all(getattr(before, name) == value for name, value in fields.items()):
        return before
    made = WinterDecision.objects.create(
        system=system, year=year, recorded_by=by, recorded_at=now, **fields
    )
    if decided and system.winter_mode != decided:
        _set_mode(system, decided, by, now)
    return made


def _refuse_faults(system, fields, pointed: Pointed, today):
    if not fields["decided"]:
        return
    if fields["decided"] not in set(WinterMode) - {WinterMode.UNDECIDED}:
        raise WinterRefused(f"{system}: choose A, B or C.")
    if not fields["decided_by"]:
        raise WinterRefused(f"{system}: write who decided, by name.")
    if fields["decided_on"] > today:
        raise WinterRefused(f"{system}: the day of the decision is still to come. Correct it.")
    if fields["decided"] != (pointed.option or "") and not fields["reason"]:
        points = (
            f"the answers point to {pointed.option.label}"
            if pointed.option
            else "the answers point to no option yet"
        )
        raise WinterRefused(f"{system}: {points}. Give the reason for deciding otherwise.")


def _set_mode(system, decided, by, now):
    before = system.winter_mode
    system.winter_mode = decided
    system.save(update_fields=["winter_mode"])
    Trail.objects.create(
        at=now,
        by=by,
        did="decide winter",
        about=f"system:{system.pk}",
        before={"winter_mode": before},
        after={"winter_mode": decided},
    )
    refresh_sites([system.site_id], now=now)
    open_tickets_at([system.site_id], now=now)


def answers_to_begin_with(known: KnownWinter) -> dict[str, str]:
    """What stands on record for this winter, else what the register says of its waters."""
    if known.decision:
        return {key: known.decision.answers.get(key, "unknown") for key in KEYS}
    ponds = known.ponds
    found = [
        answers_of_pond(
            depth_max_m=pond.depth_max_m,
            past_kill=bool(pond.fish_kill_note),
            public_access=pond.site.public_access or known.ice_is_used or None,
            has_winter=known.climate.has_winter,
            refused=bool(known.refusals),
        )
        for pond in ponds
    ]
    return {key: _worse([one[key] for one in found]) for key in KEYS}


def _worse(answers):
    for word in (Answer.YES, Answer.UNKNOWN, Answer.NO):
        if word in answers:
            return word.value
    return Answer.UNKNOWN.value


@transaction.atomic
def note_refusal(
    pond: Pond,
    *,
    kind: str,
    recommended: str,
    because: str,
    said_by: str,
    said_on: date,
    how: str,
    by: User | None,
    now: datetime,
    price: str = "",
    put_off: bool = False,
    ask_again_on: date | None = None,
) -> RefusedNote:
    """What was recommended and refused, in a note that stays; a system there is not run."""
    if not said_by.strip():
        raise WinterRefused("Write who said so, by name.")
    today = site_date(now, pond.site.time_zone)
    if said_on > today:
        raise WinterRefused("That day is still to come. Correct it.")
    note = RefusedNote.objects.create(
        pond=pond,
        customer=owner_of(pond, today),
        year=winter_of(today, pond.site.lat),
        kind=kind,
        recommended=recommended.strip()[:300],
        because=because.strip()[:300],
        consequence=CONSEQUENCES[RefusalKind(kind)],
        price=price.strip()[:80],
        put_off=put_off,
        said_by=said_by.strip()[:120],
        said_on=said_on,
        how=how.strip()[:80],
        noted_by=by,
        noted_at=now,
        ask_again_on=ask_again_on,
    )
    if ask_again_on:
        OfficeTask.objects.create(
            kind=OfficeTaskKind.WINTER,
            text=f"{pond}: {note.recommended} was refused or put off. Ask again.",
            site=pond.site,
            due_on=ask_again_on,
            key=f"ask-again:{note.pk}",
            opened_at=now,
        )
    return note


def end_refusal(note: RefusedNote, *, why: str, by: User, now: datetime) -> None:
    """The owner agrees after all; the note stays on record, with why it ended."""
    if not why.strip():
        raise WinterRefused("Write what changed, and who said so.")
    RefusedNote.objects.filter(pk=note.pk, ended_at=None).update(
        ended_at=now, ended_by=by, ended_note=why.strip()[:200]
    )
    OfficeTask.objects.filter(key=f"ask-again:{note.pk}", handled_at=None).update(
        handled_at=now, handled_by=by, handled_note="The owner agreed."
    )


def owner_of(pond: Pond, on: date) -> Customer:
    """Who has a water on a day: its own owner, else that of its site."""
    owned = Ownership.objects.on_day(on)
    found = owned.filter(pond=pond).first() or owned.filter(site=pond.site_id).first()
    if found is None:
        raise WinterRefused(f"Nobody owns {pond} by the register. Enter its owner first.")
    return found.customer
