"""Labels on cabinets, and what a stranger's report from one becomes."""

import uuid
from datetime import timedelta

import pytest

from servicedesk.actions import labels
from servicedesk.actions.labels import LETTERS, TooMany
from servicedesk.kinds import DefectSign, OfficeTaskKind
from servicedesk.models import Alarm, Defect, Label, LabelReport, OfficeTask, Photo, Ticket
from tests import make

pytestmark = pytest.mark.django_db
NOW = make.MORNING


@pytest.fixture
def label():
    make.firm()
    make.manager(email="priya@example.com")
    make.task(slug="repair_fish", name="Restore air", harm="fish")
    make.task(slug="repair", name="Repair")
    system = make.system(key="A-17")
    return labels.make_labels([system.pk], now=NOW)[system.pk]


def report(label, sign=DefectSign.NOISE, *, now=NOW, sender="one", photo=None, **fields):
    start = {"uuid": uuid.uuid4(), "text": "It rattles.", "name": "", "phone": ""}
    return labels.report(label, sign=sign, now=now, sender=sender, photo=photo, **start | fields)


def test_a_cabinet_gets_one_code_however_often_it_is_printed(label):
    again = labels.make_labels([label.system_id], now=NOW)
    assert again[label.system_id].code == label.code
    assert Label.objects.count() == 1


def test_codes_differ_and_have_no_letter_that_is_taken_for_another():
    systems = [make.system().pk for _ in range(20)]
    codes = {label.code for label in labels.make_labels(systems, now=NOW).values()}
    assert len(codes) == 20
    assert all(len(code) == 10 and set(code) <= set(LETTERS) for code in codes)
    assert not set("01ILOU") & set(LETTERS)


def test_labels_of_many_cabinets_take_as_many_queries_as_of_one(django_assert_max_num_queries):
    many = [make.system().pk for _ in range(30)]
    with django_assert_max_num_queries(5):
        labels.make_labels(many, now=NOW)


def test_a_new_code_ends_the_old_one(label):
    fresh = labels.replace_label(label.system, now=NOW + timedelta(days=1))
    label.refresh_from_db()
    assert label.ended_at == NOW + timedelta(days=1)
    assert list(Label.objects.standing()) == [fresh]
    assert fresh.printed_at is None


def test_printed_is_what_somebody_said_first(label):
    assert labels.mark_printed([label.code, "NOSUCHCODE"], now=NOW) == 1
    assert labels.mark_printed([label.code], now=NOW + timedelta(days=1)) == 0
    label.refresh_from_db()
    assert label.printed_at == NOW


def test_a_report_opens_a_ticket_and_stands_before_the_office_as_unverified(label):
    sent = report(label, name="A walker", phone="+1 202 555 0177")
    ticket = Ticket.objects.get()
    task = OfficeTask.objects.get()
    assert ticket.system == label.system
    assert "Unverified, from the label of A-17 (A walker, +1 202 555 0177)" in ticket.because
    assert task.kind == OfficeTaskKind.LABEL_REPORT
    assert task.urgent
    assert task.ticket == ticket
    assert "Unverified" in task.text
    assert "It rattles." in task.text
    assert sent.office_task == task


@pytest.mark.parametrize("sign", sorted(labels.ALARMS))
def test_danger_is_told_to_the_managers_by_mail_at_once(label, sign):
    report(label, sign)
    alarm = Alarm.objects.get()
    assert alarm.to_address == "priya@example.com"
    assert alarm.try_at == NOW
    assert "Unverified" in alarm.text


def test_a_noise_wakes_nobody(label):
    report(label, DefectSign.NOISE)
    assert not Alarm.objects.exists()


def test_the_same_form_sent_twice_counts_once(label):
    key = uuid.uuid4()
    first, second = report(label, uuid=key), report(label, uuid=key)
    assert first == second
    assert Defect.objects.count() == OfficeTask.objects.count() == 1


def test_a_form_cannot_name_a_defect_that_is_known_here(label):
    known = Defect.objects.create(site=make.site(), sign="noise", seen_at=NOW, entered_at=NOW)
    sent = report(label, uuid=known.uuid)
    assert sent.defect != known


def test_five_an_hour_from_one_address_and_then_it_is_asked_to_call(label):
    for _ in range(5):
        report(label)
    with pytest.raises(TooMany):
        report(label)
    report(label, sender="another")
    report(label, now=NOW + timedelta(minutes=61))
    assert LabelReport.objects.count() == 7


def test_twenty_an_hour_at_one_label_whoever_sends_them(label):
    for number in range(20):
        report(label, sender=f"sender {number}")
    with pytest.raises(TooMany):
        report(label, sender="one more")


def test_a_photo_is_kept_with_the_report(label, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    sent = report(label, photo=b"jpeg bytes")
    assert Photo.objects.get() == sent.photo
    with sent.photo.file.open() as file:
        assert file.read() == b"jpeg bytes"
