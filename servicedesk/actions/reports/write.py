"""Write the reports that are owed: facts first, then the paper; a correction makes a version."""

import hashlib
import json
import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction
from django.utils import translation

from customers.actions import Receivers
from customers.kinds import MailTopic
from servicedesk.actions.reports.facts import changed_between, facts_of, said_by
from servicedesk.actions.reports.gather import Gathered, gather
from servicedesk.emails.rows import day_words
from servicedesk.models import Reminder, ServiceReport, Visit
from servicedesk.papers.report import PaperRefused, report_paper
from servicedesk.planning.calendar import site_date
from servicedesk.wakeups import wake

AT_ONCE = 20  # visits in one round of the job
AGAIN_AFTER = timedelta(hours=1)  # where writing one failed
log = logging.getLogger(__name__)


def owe_report(visit: Visit, *, now: datetime) -> None:
    """What a visit says is new or has changed: have its report written, or written anew."""
    Visit.objects.filter(pk=visit.pk, accepted_at__isnull=False).update(report_owed_at=now)
    wake("servicedesk.tasks.write_reports")


def write_reports(*, clock: Callable[[], datetime]) -> int:
    """Write what is owed, oldest first; how many versions are new. One fault stops no other."""
    owed = Visit.objects.filter(report_owed_at__lte=clock(), accepted_at__isnull=False)
    owed = owed.select_related("site__region", "technician").order_by("report_owed_at", "pk")
    made = 0
    for visit in owed[:AT_ONCE]:
        same = Visit.objects.filter(pk=visit.pk, report_owed_at=visit.report_owed_at)
        try:
            made += write_report(visit, now=clock())
        except Exception:
            log.exception("the report on visit %s was not written and is tried again", visit.pk)
            same.update(report_owed_at=clock() + AGAIN_AFTER)
        else:
            same.update(report_owed_at=None)  # unless something changed meanwhile
    return made


def write_report(visit: Visit, *, now: datetime) -> int:
    """Write the report on a visit for all who read it; how many versions are new."""
    found, made = gather(visit), 0
    for language, units in _readers(found, now):
        with translation.override(language):
            made += _write_for(found, language, units, now=now)
    return made


def _readers(found: Gathered, now):
    """The languages and units of those who are told; the firm's own where nobody is."""
    site = found.visit.site
    told = Reminder.objects.filter(visit=found.visit, topic=MailTopic.VISIT_REPORT)
    contacts = [line.contact for line in told.select_related("contact")]
    contacts += Receivers([site.pk], on=site_date(now, site.time_zone)).of(site.pk)
    own = [one for one in contacts if found.customer and one.customer_id == found.customer.pk]
    firm = (found.firm.language, str(found.firm.units))
    return sorted({(one.language, str(one.units)) for one in own} | {firm})


def _write_for(found, language, units, *, now):
    visit = found.visit
    facts = json.loads(json.dumps(facts_of(found, language=language, units=units)))
    digest = hashlib.sha256(json.dumps(said_by(facts), sort_keys=True).encode()).hexdigest()
    mine = ServiceReport.objects.filter(visit=visit, language=language, units=units)
    before = mine.current().first()
    if before and before.digest == digest and before.paper:
        return 0
    again = before is not None and before.digest == digest  # only its paper is wanting
    facts |= _version(before, facts, found)
    report = ServiceReport(
        visit=visit,
        customer=found.customer,
        language=language,
        units=units,
        version=facts["version"],
        facts=facts,
        digest=digest,
        made_at=now,
    )
    _lay_paper(report, found, now=now)
    if again and report.fault:
        return 0
    return _keep(report, before, mine, now=now)


def _version(before, facts, found):
    if before is None:
        return {"version": 1, "replaces": "", "changed": []}
    on = day_words(site_date(before.made_at, found.visit.site.time_zone))
    words = translation.gettext("This is version %(new)s. It replaces version %(old)s of %(day)s.")
    return {
        "version": before.version + 1,
        "replaces": words % {"new": before.version + 1, "old": before.version, "day": on},
        "changed": changed_between(before.facts, facts)
        if said_by(before.facts) != said_by(facts)
        else [],
    }


def _lay_paper(report, found, *, now):
    """The paper, kept as a file under the data folder; without one the page stands alone."""
    try:
        paper = report_paper(report.facts, _pictures(found), made_at=now)
    except PaperRefused as refused:
        log.error("no paper for visit %s: %s", report.visit_id, refused)
        report.fault = str(refused)[:250]
        return
    report.paper_digest = hashlib.sha256(paper).hexdigest()
    name = f"{report.visit.uuid}-{report.language}-{report.units}-{report.version}.pdf"
    report.paper.save(name, ContentFile(paper), save=False)


def _pictures(found):
    kept = {}
    for photo in found.photos:
        path = Path(photo.file.path)
        if path.is_file():
            kept[str(photo.uuid)] = path.read_bytes()
    return kept


def _keep(report, before, mine, *, now):
    """The new version stands; where another worker was quicker, nothing is written."""
    try:
        with transaction.atomic():
            if before:
                mine.filter(pk=before.pk).current().update(replaced_at=now)
            report.save(force_insert=True)
    except IntegrityError:
        if report.paper:
            report.paper.delete(save=False)
        return 0
    return 1
