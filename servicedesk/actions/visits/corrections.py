"""What a visit said wrongly: struck out with a reason, and told anew; the first stays on record."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from django.db import transaction

from customers.models import Trail, User
from equipment.actions.readings import correct_reading
from equipment.models import Part, Reading
from servicedesk.actions.defects import occasion_of, record_defect
from servicedesk.actions.due import lock_sites
from servicedesk.actions.reports import owe_report
from servicedesk.actions.work import derive_from_work
from servicedesk.kinds import DefectSign, TicketEnd
from servicedesk.models import Defect, OfficeTask, PartUsed, Ticket, Visit, Work


class CorrectionRefused(Exception):
    """Nothing was changed; the text says why and what to do."""


@dataclass(frozen=True)
class DefectSaid:
    """What a defect should have said."""

    sign: DefectSign
    text: str
    urgent: bool


@dataclass
class Corrected:
    """What is to be put right; a row that is not named stays as it is."""

    parts: Mapping[PartUsed, int] = field(default_factory=dict)  # 0: none was used
    added: tuple[Part, int] | None = None
    defects: Mapping[Defect, DefectSaid | None] = field(default_factory=dict)  # None: there is none


@transaction.atomic
def correct_visit_reading(
    visit: Visit,
    wrong: Reading,
    *,
    text: str,
    unit: str,
    by: User,
    now: datetime,
    confirmed: bool = False,
) -> Reading:
    """Correct one reading of a visit, and owe its owner the next version of the report.

    Raises ReadingsRefused.
    """
    new = correct_reading(wrong, text=text, unit=unit, by=by, entered_at=now, confirmed=confirmed)
    owe_report(visit, now=now)
    return new


@transaction.atomic
def correct_visit(visit: Visit, right: Corrected, *, because: str, by: User, now: datetime) -> int:
    """Put parts and defects of a visit right. How many rows changed; stock and report follow.

    Raises CorrectionRefused.
    """
    if not because.strip():
        raise CorrectionRefused("Say why: whoever reads this later has to understand it.")
    lock_sites([visit.site_id])
    marks = {"at": now, "by": by, "because": because.strip()[:250]}
    changed = [_correct_part(used, many, marks) for used, many in right.parts.items()]
    if right.added:
        changed.append(_add_part(visit, *right.added, marks))
    changed += [_correct_defect(defect, said, marks) for defect, said in right.defects.items()]
    if not any(changed):
        raise CorrectionRefused("Nothing is different from before, so nothing was changed.")
    derive_from_work(visit.site_id, now=now)
    owe_report(visit, now=now)
    return sum(changed)


def _correct_part(used, many, marks):
    if many == used.quantity:
        return False
    _strike(used, marks)
    if many:
        same = {"visit": used.visit, "work": used.work, "part": used.part}
        PartUsed.objects.create(**same, quantity=many)
    what = f"{used.quantity} {used.part}"
    _trail("corrected a part", f"visit:{used.visit_id}", what, many, marks)
    return True


def _add_part(visit, part, many, marks):
    work = Work.objects.counting().filter(visit=visit).order_by("pk").first()
    if work is None:
        raise CorrectionRefused("No work of this visit counts, so no part can have been used.")
    PartUsed.objects.create(visit=visit, work=work, part=part, quantity=many)
    _trail("added a part", f"visit:{visit.pk}", str(part), many, marks)
    return True


def _correct_defect(defect, said, marks):
    if said == DefectSaid(DefectSign(defect.sign), defect.text, defect.urgent):
        return False
    if defect.mended_at:
        raise CorrectionRefused(
            "A defect that was mended meanwhile stays as it is: its repair rests on it."
        )
    _strike(defect, marks)
    Defect.objects.filter(pk=defect.pk).update(mended_at=marks["at"])
    _end_ticket(defect, marks)
    after = ""
    if said:
        record_defect(
            uuid=uuid.uuid4(),
            site=defect.site,
            now=marks["at"],
            system=defect.system,
            position=defect.position,
            visit=defect.visit,
            contact=defect.contact,
            seen_at=defect.seen_at,
            sign=said.sign,
            text=said.text,
            urgent=said.urgent,
        )
        after = f"{said.sign} {said.text}".strip()
    _trail("corrected a defect", f"visit:{defect.visit_id}", f"{defect.sign}", after, marks)
    return True


def _end_ticket(defect, marks):
    occasion = occasion_of(defect)
    Ticket.objects.open().filter(occasion=occasion, site=defect.site_id).update(
        closed_at=marks["at"],
        end=TicketEnd.NOT_NEEDED,
        end_note=f"What was seen was put right: {marks['because']}"[:250],
    )
    waiting = OfficeTask.objects.filter(key=occasion, handled_at=None)
    waiting.update(handled_at=marks["at"], handled_by=marks["by"], handled_note=marks["because"])


def _strike(row, marks):
    row.struck_at, row.struck_by = marks["at"], marks["by"]
    row.struck_because = marks["because"]
    row.save(update_fields=["struck_at", "struck_by", "struck_because"])


def _trail(did, about, what, after, marks):
    Trail.objects.create(
        at=marks["at"],
        by=marks["by"],
        did=did,
        about=about,
        before={"what": what},
        after={"now": after, "because": marks["because"]},
    )
