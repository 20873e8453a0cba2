"""The owner gets a report on every accepted visit: a page and a tagged paper that say the same."""

import hashlib
import io
from datetime import timedelta

import pytest
from django.core.files.base import ContentFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from PIL import Image
from pypdf import PdfReader

from customers.models import Ownership
from equipment.kinds import Moment, Quantity
from equipment.models import Reading, ReadingSet
from servicedesk import kinds
from servicedesk.actions.due import refresh_sites
from servicedesk.actions.reports import write_report, write_reports
from servicedesk.actions.reports.gather import gather
from servicedesk.actions.visits.corrections import correct_visit_reading
from servicedesk.actions.visits.photos import join_photos
from servicedesk.actions.work import refuse_work
from servicedesk.models import Photo, ServiceReport, Visit
from tests import make
from tests.servicedesk.actions.closings import NOW, Closing

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


@pytest.fixture(autouse=True)
def firm(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return make.firm()


def written(closing, *, now=NOW, **changes):
    """The report on a visit as its owner reads it, once the job has been round."""
    visit, _new = closing.send(**changes)
    write_reports(clock=lambda: now)
    return ServiceReport.objects.current().get(visit=visit, units="us")


def held(report):
    with open(report.paper.path, "rb") as file:
        return file.read()


def pages(report):
    return PdfReader(io.BytesIO(held(report)))


def words(report):
    """The text of the paper as one line, as a reader's program takes it out."""
    text = " ".join(page.extract_text() for page in pages(report).pages)
    return " ".join(text.replace("\u200b", "").replace("\u00a0", " ").split())


def everything(facts):
    """Every text that a report says, one under the other."""
    if isinstance(facts, dict):
        return "\n".join(everything(value) for value in facts.values())
    if isinstance(facts, list):
        return "\n".join(everything(value) for value in facts)
    return str(facts)


def photo_of(visit, **fields):
    file = io.BytesIO()
    Image.new("RGB", (640, 480), "teal").save(file, "JPEG")
    photo = Photo(visit=visit, received_at=NOW, taken_at=make.MORNING, **fields)
    photo.file.save(f"{photo.uuid}.jpg", ContentFile(file.getvalue()), save=True)
    return photo


def test_an_accepted_visit_is_told_on_paper_with_readings_work_parts_and_what_comes_next():
    closing = Closing()
    refresh_sites([closing.site.pk], now=NOW)

    report = written(closing)

    said = words(report)
    for told in (
        "Service report",
        "As found",
        "6.4 psi",
        "It was running when we came.",
        "It was running when we left.",
        closing.task.owner_name,
        "found wet",
        closing.part.name,
        "about Tuesday, 29 September 2026",
        closing.dario.get_full_name() or closing.dario.username,
        report.facts["zone"],
        report.facts["firm"]["phone"],
    ):
        assert told in said, told
    assert report.paper_digest == hashlib.sha256(held(report)).hexdigest()
    assert (report.version, report.customer.pk) == (1, gather(report.visit).customer.pk)


def test_the_paper_is_tagged_has_a_title_and_says_its_language():
    report = written(Closing())

    paper = pages(report)
    catalogue = paper.trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in catalogue
    assert str(catalogue["/Lang"]).startswith("en")
    assert paper.metadata.title == report.facts["title"]
    assert b"pdfuaid" in catalogue["/Metadata"].get_object().get_data()


def test_nothing_is_written_before_the_visit_is_accepted():
    visit = make.visit(accepted_at=None, report_owed_at=make.MORNING)

    assert write_reports(clock=lambda: NOW) == 0
    assert not ServiceReport.objects.filter(visit=visit).exists()


def test_a_report_is_written_once_however_often_the_job_comes_round():
    report = written(Closing())

    assert write_reports(clock=lambda: LATER) == 0
    assert write_report(report.visit, now=LATER) == 0
    assert Visit.objects.get().report_owed_at is None
    assert ServiceReport.objects.filter(units="us").count() == 1


def test_a_correction_makes_version_two_and_keeps_the_first_as_replaced():
    closing = Closing()
    first = written(closing)
    wrong = Reading.objects.get()

    correct_visit_reading(first.visit, wrong, text="6.1", unit="psi", by=closing.dario, now=LATER)
    write_reports(clock=lambda: LATER)

    first.refresh_from_db()
    second = ServiceReport.objects.current().get(units="us")
    assert (second.version, first.version, first.replaced_at) == (2, 1, LATER)
    assert "Pressure, as left: 6.1 psi instead of 6.4 psi." in words(second)
    assert "It replaces version 1" in words(second)
    assert "6.4 psi" in words(first)
    assert first.paper.name != second.paper.name


def test_what_is_due_next_makes_no_new_version_when_it_moves():
    closing = Closing()
    report = written(closing)

    refresh_sites([closing.site.pk], now=LATER + timedelta(days=40))
    assert write_report(report.visit, now=LATER) == 0


def test_work_that_the_office_does_not_count_leaves_the_next_version():
    closing = Closing()
    report = written(closing)
    assert report.facts["done"]

    refuse_work(report.visit.works.get(), by=make.manager(), now=LATER, reason="Not done.")
    write_reports(clock=lambda: LATER)

    second = ServiceReport.objects.current().get(units="us")
    assert (second.version, second.facts["done"]) == (2, [])


def test_a_photo_that_comes_later_is_in_the_next_version_with_words_for_it():
    closing = Closing()
    report = written(closing)
    photo = photo_of(None, visit_key=report.visit.uuid, by=closing.dario)

    join_photos(report.visit, now=LATER)
    write_reports(clock=lambda: LATER)

    second = ServiceReport.objects.current().get(units="us")
    assert [one["uuid"] for one in second.facts["photos"]] == [str(photo.uuid)]
    assert second.facts["changed"] == ["Photos were added."]
    assert second.facts["photos"][0]["words"] in words(second)


def test_a_system_left_off_is_said_first_and_nobody_is_told_that_all_is_well():
    report = written(
        Closing(), SYSTEM__left_running="no", SYSTEM__left_off_reason="electrical", now=NOW
    )

    said = words(report)
    assert "It stands still, because of its electrics." in said
    assert f"{report.facts['systems'][0]['name']}: do not switch it on yourself." in said
    assert "Wiring is for a licensed electrician." in said
    assert "fine" not in said.lower()
    assert said.index("Please heed:") < said.index("What was done")


def test_words_that_our_people_write_for_each_other_are_left_out():
    secret = "Gate code 4711, dog bites"
    closing = Closing()

    report = written(
        closing,
        note=secret,
        WORK__note=secret,
        SYSTEM__left_running="no",
        SYSTEM__left_off_reason="other",
        SYSTEM__left_off_note=secret,
    )

    assert "4711" not in everything(report.facts)
    assert "4711" not in words(report)


def test_a_pond_of_another_owner_at_the_same_site_is_left_out():
    closing = Closing()
    neighbours = make.contact(email="other@example.com", customer=make.customer(key="C9")).customer
    pond = make.pond(site=closing.site, name="Heron Pond")
    Ownership.objects.create(customer=neighbours, pond=pond, from_on=make.MORNING.date())
    theirs = make.system(site=closing.site, key="S9", name="Heron cabinet")
    make.position(system=theirs, pond=pond, kind="diffuser", label="D1")
    visit, _new = closing.send()
    visit.system_checks.create(system=theirs, left_running=True)
    taken = ReadingSet.objects.create(
        pond=pond, moment=Moment.AS_FOUND, taken_at=make.MORNING, entered_at=NOW
    )
    Reading.objects.create(set=taken, quantity=Quantity.OXYGEN, value=3.3)
    visit.reading_sets.add(taken)
    photo_of(visit)

    write_reports(clock=lambda: NOW)

    report = ServiceReport.objects.current().get(units="us")
    assert "Heron" not in everything(report.facts)
    assert "3.3" not in words(report)
    assert report.facts["photos"] == []  # nobody can tell whose water they show


def test_readings_are_told_in_the_units_of_each_reader():
    closing = Closing()
    make.contact(
        name="Tobias Renn",
        email="tobias@example.com",
        units="metric",
        customer=gather_customer(closing),
    )

    visit, _new = closing.send()
    write_reports(clock=lambda: NOW)

    shown = {
        report.units: report.facts["systems"][0]["readings"][0]["left"].replace("\u00a0", " ")
        for report in ServiceReport.objects.filter(visit=visit)
    }
    assert shown == {"us": "6.4 psi", "metric": "44.1 kPa"}  # 6.4 psi at 6894.757 Pa each


def gather_customer(closing):
    return Ownership.objects.get(site=closing.site).customer


@pytest.mark.parametrize(("units", "size"), [("us", (612, 792)), ("metric", (595, 842))])
def test_paper_is_letter_for_a_firm_in_us_units_and_a4_elsewhere(firm, units, size):
    """US Letter is 8.5 by 11 inches (ANSI/ASME Y14.1, size A), A4 210 by 297 mm (ISO 216)."""
    firm.units = units
    firm.save()
    report = written(Closing())

    box = pages(report).pages[0].mediabox
    assert (round(box.width), round(box.height)) == size


def test_pressure_of_the_last_visits_is_drawn_and_told_in_words():
    closing = Closing()
    for days, value in ((90, 44_000.0), (45, 45_500.0)):
        taken = ReadingSet.objects.create(
            system=closing.system,
            moment=Moment.AS_LEFT,
            taken_at=make.MORNING - timedelta(days=days),
            entered_at=make.MORNING,
        )
        Reading.objects.create(set=taken, quantity=Quantity.PRESSURE, value=value)

    report = written(closing)

    system = report.facts["systems"][0]
    assert "3 readings" in system["chart"]["words"]
    assert system["readings"][0]["last"].replace("\u00a0", " ") == "6.6 psi"
    tree = pages(report).trailer["/Root"]["/StructTreeRoot"]
    assert system["chart"]["words"] in alternatives(tree)


def alternatives(node, seen=None):
    """Every alternative text in the tree of tags."""
    seen = set() if seen is None else seen
    node = node.get_object() if hasattr(node, "get_object") else node
    if isinstance(node, list):
        return [text for one in node for text in alternatives(one, seen)]
    if not isinstance(node, dict) or id(node) in seen:
        return []
    seen.add(id(node))
    own = [str(node["/Alt"])] if "/Alt" in node else []
    return own + (alternatives(node["/K"], seen) if "/K" in node else [])


def test_fifty_readings_cost_no_more_queries_than_one():
    closing = Closing()
    visit, _new = closing.send()

    def count():
        ServiceReport.objects.all().delete()
        with CaptureQueriesContext(connection) as queries:
            write_report(visit, now=NOW)
        return len(queries)

    one = count()
    for n in range(50):
        line = make.position(system=closing.system, kind="airline", label=f"L{n}")
        Reading.objects.create(
            set=ReadingSet.objects.get(),
            quantity=Quantity.LINE_PRESSURE,
            position=line,
            value=40_000.0,
        )
    assert count() == one


def test_a_visit_entered_six_days_late_says_so():
    report = written(Closing(), now=NOW + timedelta(days=6))
    assert report.facts["late"] == ""

    Visit.objects.update(received_at=NOW + timedelta(days=6), report_owed_at=NOW)
    ServiceReport.objects.all().delete()
    write_reports(clock=lambda: LATER)

    assert "Entered late, on Sunday, 7 June 2026." in words(
        ServiceReport.objects.current().get(units="us")
    )


def test_one_report_that_fails_does_not_stop_the_others():
    first = Closing()
    bad, _new = first.send()
    Visit.objects.filter(pk=bad.pk).update(report_owed_at=NOW - timedelta(hours=1))
    bad.works.update(outcome=kinds.Outcome.NOT_DONE, not_done_reason="nobody knows")
    good = make.visit(
        site=first.site, technician=first.dario, report_owed_at=NOW - timedelta(minutes=1)
    )

    write_reports(clock=lambda: NOW)

    assert ServiceReport.objects.filter(visit=good).exists()
    assert not ServiceReport.objects.filter(visit=bad).exists()
    assert Visit.objects.get(pk=bad.pk).report_owed_at > NOW
