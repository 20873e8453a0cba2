"""What the local authority asks about open water in ice: kept in words, ticked by a person."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from customers.models import Pond, Region, Site, Trail, User
from servicedesk.actions.winter.blocking import WinterRefused
from servicedesk.models import BankLook, IceRules, Photo, RuleTick
from servicedesk.planning.winter.notice_words import promise_in


@transaction.atomic
def keep_rules(where: Region | Site, fields: Mapping, *, by: User, now: datetime) -> IceRules:
    """The rules of a region or of one site, as somebody wrote them down."""
    for text in (fields.get("sign_rule", ""), *fields.get("checklist", ())):
        if word := promise_in(text):
            raise WinterRefused(
                f"“{word}” promises what nobody can promise about ice. Write what is asked instead."
            )
    place = {"region": where} if isinstance(where, Region) else {"site": where}
    rules, _new = IceRules.objects.update_or_create(
        **place, defaults={**fields, "changed_by": by, "changed_at": now}
    )
    Trail.objects.create(
        at=now,
        by=by,
        did="ice rules",
        about=f"ice_rules:{rules.pk}",
        after={k: v for k, v in fields.items() if v},
    )
    return rules


def tick_rule(
    ponds: list[Pond], line: str, *, year: int, by: User, now: datetime, note: str = ""
) -> None:
    """One line of the list is dealt with for these waters and this winter."""
    for pond in ponds:
        RuleTick.objects.get_or_create(
            pond=pond,
            year=year,
            line=line[:200],
            defaults={"by": by, "at": now, "note": note.strip()[:200]},
        )


@transaction.atomic
def record_look(
    pond: Pond,
    *,
    at: datetime,
    ice: str,
    people_on_ice: str,
    signs_standing: str,
    marking_placed: str,
    by: User | None,
    now: datetime,
    photo: Photo | None = None,
    note: str = "",
) -> BankLook:
    """What somebody saw from the bank; nobody walks out for it."""
    if at > now:
        raise WinterRefused("That is still to come. Enter when you looked.")
    return BankLook.objects.create(
        pond=pond,
        at=at,
        ice=ice,
        people_on_ice=people_on_ice,
        signs_standing=signs_standing,
        marking_placed=marking_placed,
        by=by,
        photo=photo,
        note=note.strip()[:200],
        entered_at=now,
    )
