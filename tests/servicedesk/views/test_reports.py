"""The owner opens his report by the link in the mail; the office finds it beside the visit."""

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from customers.signed_links import make_link
from servicedesk.actions.reports import write_reports
from servicedesk.emails import links
from servicedesk.emails.letters import write_letter
from servicedesk.models import Photo, Reminder, ServiceReport
from tests import make
from tests.servicedesk.actions.closings import NOW, Closing

pytestmark = pytest.mark.django_db


@pytest.fixture
def closing(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    make.firm()
    return Closing()


def sent(closing, **changes):
    """(visit, token of the link in the owner's mail), with the report written."""
    visit, _new = closing.send(**changes)
    write_reports(clock=lambda: NOW)
    return visit, token_in_mail(visit)


def token_in_mail(visit):
    line = Reminder.objects.get(visit=visit, topic="visit_report")
    letter = write_letter(line.contact, [line], now=timezone.now())
    first, *_more = re.findall(r"/o/([^/\s]+)/\n", letter.text)
    return first


def paper(client, token):
    answer = client.get(reverse("owner_paper", args=[token]))
    return answer, b"".join(answer.streaming_content) if answer.streaming else b""


def test_the_mail_after_a_visit_leads_to_the_page_and_from_there_to_the_paper(client, closing):
    _visit, token = sent(closing)

    page = client.get(reverse("owner_page", args=[token]))
    said = page.content.decode()
    assert "It was running when we left." in said
    assert "6.4" in said
    assert reverse("owner_paper", args=[token]) in said
    answer, file = paper(client, token)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert file.startswith(b"%PDF")


def test_looking_at_the_report_changes_nothing(client, closing):
    _visit, token = sent(closing)
    before = list(ServiceReport.objects.values())

    client.get(reverse("owner_page", args=[token]))
    assert client.post(reverse("owner_page", args=[token])).status_code == 405
    assert client.post(reverse("owner_paper", args=[token])).status_code == 405
    assert list(ServiceReport.objects.values()) == before


def test_until_the_report_is_written_the_page_says_so(client, closing):
    visit, _new = closing.send()
    token = token_in_mail(visit)

    assert "is being written" in client.get(reverse("owner_page", args=[token])).content.decode()
    assert paper(client, token)[0].status_code == 404


def test_another_owner_with_a_link_to_this_visit_is_refused(client, closing):
    visit, _token = sent(closing)
    other = make.contact(email="other@example.com", customer=make.customer(key="C9"))
    now = timezone.now()
    token = make_link(other, links.REPORT, f"visit:{visit.pk}", now + links.LONG, now)

    assert client.get(reverse("owner_page", args=[token])).status_code == 410
    assert paper(client, token)[0].status_code == 410


def test_a_link_to_something_else_opens_no_paper_and_an_old_one_none_at_all(client, closing):
    visit, token = sent(closing)
    contact = Reminder.objects.get(visit=visit).contact
    now = timezone.now()
    of_site = make_link(contact, links.SITE, f"site:{visit.site_id}", now + links.LONG, now)
    old = make_link(
        contact, links.REPORT, f"visit:{visit.pk}", now - links.LONG / 2, now - links.LONG
    )

    assert paper(client, of_site)[0].status_code == 404
    assert paper(client, old)[0].status_code == 410
    assert paper(client, token[:-1] + ("a" if token[-1] != "a" else "b"))[0].status_code == 404


def test_only_photos_that_the_report_names_are_shown(client, closing):
    _visit, token = sent(closing)
    stranger = Photo.objects.create(received_at=NOW, file="photos/none.jpg")

    address = reverse("owner_photo", args=[token, stranger.uuid])
    assert client.get(address).status_code == 404


def test_a_technician_opens_reports_on_his_own_visits_and_the_office_all(client, closing):
    _visit, _token = sent(closing)
    address = reverse("report", args=[ServiceReport.objects.get(units="us").pk])

    statuses = []
    for user in (closing.dario, make.user(), make.manager()):
        client.force_login(user)
        statuses.append(client.get(address).status_code)
    assert statuses == [200, 403, 200]


def test_the_page_of_a_system_lists_its_papers_and_the_visit_leads_to_its_own(client, closing):
    visit, _token = sent(closing)
    report = ServiceReport.objects.get(units="us")
    client.force_login(make.manager())

    address = reverse("report", args=[report.pk])
    for page in (
        reverse("system", args=[closing.system.pk]),
        reverse("day_visit", args=[visit.uuid]),
        reverse("ticket", args=[closing.ticket.pk]),
    ):
        assert address in client.get(page).content.decode(), page
