"""Labels on cabinets: made, printed, replaced, and what strangers report from them."""

import secrets
from collections.abc import Collection, Iterable
from datetime import datetime, timedelta
from uuid import UUID, uuid5

from django.core.files.base import ContentFile
from django.db import transaction

from equipment.models import System
from servicedesk.actions.alarms import raise_alarm
from servicedesk.actions.defects import occasion_of, record_defect
from servicedesk.kinds import DefectSign, OfficeTaskKind
from servicedesk.models import Label, LabelReport, OfficeTask, Photo, Ticket

LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"  # none that is taken for another
LENGTH = 10  # 30 to the power of 10: not to be guessed
ALARMS = frozenset({DefectSign.FISH_GASPING, DefectSign.SECOND_OPENING, DefectSign.TRIPPING_OUTLET})
WITHIN = timedelta(hours=1)
FROM_ONE, AT_ONE = 5, 20  # reports an hour: from one address, and at one label; our judgement


class TooMany(Exception):
    """So much was reported from here that it is no longer taken; whoever it is should call."""


def make_labels(system_ids: Collection[int], *, now: datetime) -> dict[int, Label]:
    """The standing label of each system; who had none gets one."""
    wanted = set(system_ids)
    have = Label.objects.standing().filter(system__in=wanted)
    missing = wanted - set(have.values_list("system", flat=True))
    fresh = [Label(system_id=pk, code=_new_code(), made_at=now) for pk in sorted(missing)]
    Label.objects.bulk_create(fresh, batch_size=500, ignore_conflicts=True)
    return {label.system_id: label for label in have.all()}


@transaction.atomic
def replace_label(system: System, *, now: datetime) -> Label:
    """A new code; the old one opens nothing any more from now on."""
    Label.objects.standing().filter(system=system).update(ended_at=now)
    return Label.objects.create(system=system, code=_new_code(), made_at=now)


def mark_printed(codes: Iterable[str], *, now: datetime) -> int:
    """The labels that somebody says are printed; how many were not before."""
    return Label.objects.standing().filter(code__in=codes, printed_at=None).update(printed_at=now)


@transaction.atomic
def report(
    label: Label,
    *,
    uuid: UUID,
    sign: str,
    text: str,
    name: str,
    phone: str,
    sender: str,
    photo: bytes | None,
    now: datetime,
) -> LabelReport:
    """What a stranger saw: to be mended as if an owner had reported it, marked as not verified.

    The same form sent twice counts once. Raises TooMany.
    """
    known = LabelReport.objects.filter(uuid=uuid, label=label).first()
    if known:
        return known
    _not_too_many(label, sender, now)
    who = ", ".join(filter(None, [name, phone])) or "no name, no number"
    words = f"Unverified, from the label of {label.system.key} ({who}). {text}".strip()
    defect = record_defect(
        uuid=uuid5(uuid, f"label {label.pk}"),  # what a form sends names no defect of ours
        site=label.system.site,
        system=label.system,
        sign=sign,
        text=words,
        urgent=True,
        seen_at=now,
        now=now,
    )
    return LabelReport.objects.create(
        uuid=uuid,
        label=label,
        sign=sign,
        text=text,
        name=name,
        phone=phone,
        sender=sender,
        defect=defect,
        photo=_kept(photo, uuid, now) if photo else None,
        office_task=_tell(label, defect, words, now),
        sent_at=now,
    )


def _not_too_many(label, sender, now):
    lately = LabelReport.objects.filter(label=label, sent_at__gt=now - WITHIN)
    if lately.filter(sender=sender).count() >= FROM_ONE or lately.count() >= AT_ONE:
        raise TooMany


def _kept(photo, uuid, now):
    kept = Photo(uuid=uuid5(uuid, "photo"), caption="From a label, unverified", received_at=now)
    kept.file.save(f"{kept.uuid}.jpg", ContentFile(photo), save=False)
    kept.save(force_insert=True)
    return kept


def _tell(label, defect, words, now):
    """The office, and of what may kill or hurt the managers by mail at once."""
    site = label.system.site
    seen = defect.get_sign_display().capitalize()
    told = {
        "key": f"label-report:{defect.uuid}",
        "kind": OfficeTaskKind.LABEL_REPORT,
        "site": site,
        "ticket": Ticket.objects.open().filter(occasion=occasion_of(defect), site=site).first(),
        "text": f"{seen}. {words} Look at it before anybody relies on it.",
    }
    if defect.sign in ALARMS:
        return raise_alarm(**told, subject=f"{seen}, reported at {site}", now=now)
    key = told.pop("key")
    task, _new = OfficeTask.objects.get_or_create(
        key=key, defaults=told | {"urgent": True, "opened_at": now}
    )
    return task


def _new_code():
    return "".join(secrets.choice(LETTERS) for _letter in range(LENGTH))
