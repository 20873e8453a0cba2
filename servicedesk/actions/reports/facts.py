"""The sentences of a report on a visit: what its page and its paper both say."""

from datetime import timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from servicedesk.actions.climates import climate_of
from servicedesk.actions.reports.gather import Gathered
from servicedesk.actions.reports.readings import Read
from servicedesk.emails.mails import NOT_DONE
from servicedesk.emails.report import FOUND, LEFT_OFF, SIGNS
from servicedesk.emails.rows import day_words
from servicedesk.kinds import DefectSign, LeftOffReason, Outcome
from servicedesk.planning.calendar import site_date
from servicedesk.planning.ice import ice_possible

LATE = timedelta(hours=24)  # what comes later than this is said to be entered late: our own rule
METRIC = "metric"


def facts_of(found: Gathered, *, language: str, units: str) -> dict:
    """Everything that the report says, in the reader's language, which is active, and units.

    Free words of our own people are left out: they write them for each other.
    """
    visit, read = found.visit, Read(found, units=units)
    names = list(found.ponds.values())
    return {
        "language": language.partition("-")[0],
        "size": "a4" if found.firm.units == METRIC else "us-letter",
        "firm": {
            "name": found.firm.name,
            "phone": found.firm.phone,
            "emergency": found.firm.emergency_phone,
            "address": found.firm.postal_address,
        },
        "number": visit.pk,
        "customer": found.customer.name if found.customer else "",
        "ponds": names,
        "site": visit.site.name,
        "title": _("Service report: %(place)s, %(day)s")
        % {"place": ", ".join(names[:3]) or visit.site.name, "day": _day(visit.arrived_at, found)},
        **_when(found),
        "systems": [_system(system, found, read) for system in found.systems],
        "waters": [row for pond in found.ponds if (row := _water(pond, found, read))],
        "done": [_done(work) for work in found.works if work.outcome == Outcome.DONE],
        "not_done": [_not_done(work) for work in found.works if work.outcome != Outcome.DONE],
        "parts": [{"name": str(row.part.name), "quantity": row.quantity} for row in found.parts],
        "defects": [_defect(defect) for defect in found.defects],
        "photos": [_photo(row, number, found) for number, row in enumerate(found.photos, start=1)],
        "next": [_next(item) for item in found.due],
        "cautions": _cautions(found),
    }


def said_by(facts: dict) -> dict:
    """The part of the facts that stands for the visit itself: a change of it is a correction.

    What is due next and what was usual change by themselves later; they make no new version.
    """
    systems = [
        [one["name"], one["found"], one["left"], _values(one["readings"])]
        for one in facts["systems"]
    ]
    same = ["day", "from", "until", "who", "done", "not_done", "parts", "defects", "photos"]
    waters = [[one["name"], _values(one["readings"])] for one in facts["waters"]]
    return {name: facts[name] for name in same} | {"systems": systems, "waters": waters}


def changed_between(old: dict, new: dict) -> list[str]:
    """What a later version says otherwise, as sentences: the reader sees what was corrected."""
    before, after = _all_values(old), _all_values(new)
    says = [
        _("%(what)s: %(new)s instead of %(old)s.")
        % {"what": what, "new": value or _("nothing"), "old": before.get(key) or _("nothing")}
        for key, value in after.items()
        if before.get(key) != value
        for what in [", ".join(key)]
    ]
    if len(new["photos"]) > len(old["photos"]):
        says.append(_("Photos were added."))
    rest = ["done", "not_done", "parts", "defects", "from", "until", "who"]
    if any(old[name] != new[name] for name in rest) or not says:
        says.append(_("Other entries of this visit were corrected."))
    return says


def _values(readings):
    return [[row["name"], row["found"], row["left"]] for row in readings]


def _all_values(facts):
    found = {}
    for place in [*facts["systems"], *facts["waters"]]:
        for row in place["readings"]:
            for side, words in (("found", _("as found")), ("left", _("as left"))):
                found[place["name"], row["name"], words] = row[side]
    return found


def _day(at, found):
    return day_words(site_date(at, found.visit.site.time_zone))


def _when(found):
    visit = found.visit
    arrived = visit.arrived_at.astimezone(found.zone)
    left = visit.left_at.astimezone(found.zone) if visit.left_at else None
    late = visit.received_at - (visit.left_at or visit.arrived_at) > LATE
    return {
        "day": _day(visit.arrived_at, found),
        "from": date_format(arrived, "H:i"),
        "until": date_format(left, "H:i") if left else "",
        "zone": f"{arrived:%Z}, {visit.site.time_zone.replace('_', ' ')}",
        "who": visit.technician.get_full_name() or str(visit.technician),
        "late": _("Entered late, on %s.") % _day(visit.received_at, found) if late else "",
    }


def _system(system, found, read):
    check = next((row for row in found.checks if row.system_id == system.pk), None)
    return {
        "name": system.name,
        "ponds": found.ponds_of.get(system.pk, []),
        "found": _came(check) if check else "",
        "left": _left(check) if check else "",
        "stands_still": bool(check and not check.left_running),
        "readings": read.rows(system=system.pk),
        "chart": read.chart(system.pk),
    }


def _came(check):
    if check.found_running is None:
        return _("When we came, nobody could tell whether it was running.")
    if check.found_running:
        return _("It was running when we came.")
    return _("It stood still when we came.")


def _left(check):
    if check.left_running:
        return _("It was running when we left.")
    reason = LEFT_OFF.get(check.left_off_reason, LEFT_OFF[LeftOffReason.OTHER])
    return _("It stands still, because %(reason)s.") % {"reason": reason}


def _water(pond, found, read):
    rows = read.rows(pond=pond)
    return {"name": found.ponds[pond], "readings": rows} if rows else None


def _place(row):
    names = [row.system.name if row.system_id else "", getattr(row.position, "label", "") or ""]
    return ", ".join(name for name in names if name)


def _done(work):
    condition = FOUND.get(work.found.get("condition") or work.found.get("filter"))
    found = _("found %(condition)s") % {"condition": condition} if condition else ""
    return {"job": work.task.owner_name, "where": _place(work), "found": found}


def _not_done(work):
    why, then = NOT_DONE[work.not_done_reason]
    return {
        "job": work.task.owner_name,
        "where": _place(work),
        "why": str(why),
        "then": str(then),
    }


def _defect(defect):
    return {
        "words": str(SIGNS.get(defect.sign, SIGNS[DefectSign.OTHER])),
        "where": _place(defect),
        "urgent": defect.urgent,
    }


def _photo(row, number, found):
    at = row.taken_at or row.received_at
    words = _("Photo %(number)s of the visit on %(day)s")
    return {"uuid": str(row.uuid), "words": words % {"number": number, "day": _day(at, found)}}


def _next(item):
    day = day_words(item.due_on)
    return {"job": item.task.owner_name, "where": _place(item), "about": _("about %s") % day}


def _cautions(found):
    """What the reader has to heed, the gravest first; words that other mails use too."""
    signs = {defect.sign for defect in found.defects}
    still = [check for check in found.checks if not check.left_running]
    reasons = {check.left_off_reason for check in still}
    ice = ice_possible(climate_of(found.visit.site), site_date(found.ends_at, str(found.zone)))
    says = []
    if DefectSign.TRIPPING_OUTLET in signs or LeftOffReason.ELECTRICAL in reasons:
        says.append(_("Do not reset what tripped. Nobody in the water. Call us now."))
        says.append(_("Wiring is for a licensed electrician."))
    if DefectSign.FISH_GASPING in signs:
        says.append(_("Change nothing on the system. Call us now."))
    if DefectSign.SECOND_OPENING in signs:
        says.append(_("Stay off the ice, keep others off, and call us now."))
    if still:
        named = ", ".join(check.system.name for check in still)
        says.append(_("%s: do not switch it on yourself.") % named)
        says.append(
            _(
                "Starting at the wrong moment can harm the water. We look at it first and call "
                "you about what comes next."
            )
        )
    if ice and still:
        says.append(
            _(
                "The open place in the ice may have skinned over. It is weak and can look sound. "
                "Keep everyone off, and leave the signs until the ice is gone."
            )
        )
    if ice and "ice" in found.cautions:
        says.append(found.cautions["ice"])
    return says
