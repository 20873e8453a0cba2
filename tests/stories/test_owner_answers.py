"""The owner: a mail, a link that a scanner may open, a button pressed once, and its undo."""

import email
import email.policy
import re
import urllib.request
from datetime import UTC, datetime, timedelta
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

import pytest

from customers.kinds import Role
from servicedesk.actions import reminders
from servicedesk.models import OwnerAnswer, Ticket, Work
from tests import make
from tests.browser import PHONE
from tests.servicedesk.actions.outbox import published
from tests.servicedesk.emails import scenes

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def ticket(live_server, settings, smtp_sink):
    """A filter change on a published stop in three days, and its mail in the owner's mailbox."""
    settings.PUBLIC_ADDRESS = live_server.url
    settings.SMTP = urlsplit(smtp_sink.url)
    ines = make.contact(name="Ines Halvorsen")
    _site, _system, at = scenes.place(ines)
    ticket = scenes.ticket_at(at, part_roles=["filter_element"])
    make.part_for(at.serves.fittings.get().component.type, "filter_element")
    now = datetime.now(UTC)
    when = (now + timedelta(days=3)).replace(hour=15, minute=0)
    stop = published(ticket, day=when.date(), arrive_at=when)
    reminders.queue_visit_proposals([stop.route], now=now)
    assert reminders.send_queued_messages(clock=lambda: morning(now)) == 1
    return ticket


def morning(now):
    """The next ten o'clock on a weekday by the reader's clock: mail goes by day only."""
    local = now.astimezone(ZoneInfo("America/Chicago")).replace(hour=10)
    while local < now or local.isoweekday() == 7:
        local += timedelta(days=1)
    return local


@pytest.fixture
def mail(ticket, smtp_sink):
    return email.message_from_bytes(smtp_sink.mails[0].content, policy=email.policy.default)


def address(mail, kind):
    return re.search(rf"http://\S+/{kind}/", mail.get_body(["plain"]).get_content())[0]


def test_owner_confirms_from_the_mail_and_takes_it_back(new_page, mail, ticket, sign_in):
    for link in set(
        re.findall(r'http://[^"<>\s]+/o/[^"<>\s]+', mail.get_body(["html"]).get_content())
    ):
        with urllib.request.urlopen(link) as scanned:  # as a mail scanner does
            assert scanned.status == 200
    assert OwnerAnswer.objects.count() == 0

    page = new_page(**PHONE)
    page.goto(address(mail, "confirm"))
    assert "Ines H." in page.locator("main").inner_text()
    assert "Mill Pond" in page.locator("main").inner_text()
    assert OwnerAnswer.objects.count() == 0

    page.get_by_role("button", name="Yes, come on that day").click()
    page.get_by_text("You confirmed the visit.").wait_for()
    page.go_back()
    page.get_by_role("button", name="Yes, come on that day").click()
    page.get_by_text("You confirmed the visit.").wait_for()
    assert OwnerAnswer.objects.count() == 1

    manager = new_page()
    sign_in(manager, make.manager())
    manager.goto("/")
    assert "confirms the visit" in manager.locator("main").inner_text()

    page.get_by_role("button", name="Take this back").click()
    page.get_by_role("heading", name="Taken back").wait_for()
    manager.goto("/")
    assert "confirms the visit" not in manager.locator("main").inner_text()


def test_owner_did_it_himself_and_the_ticket_leaves_the_list(new_page, mail, ticket, sign_in):
    page = new_page(**PHONE)
    page.goto(address(mail, "did_it_myself"))
    page.get_by_label("When?").fill(f"{datetime.now(UTC) - timedelta(days=1):%Y-%m-%d}")
    page.get_by_label("Which part did you use?").select_option(index=1)
    page.get_by_role("button", name="I did it").click()
    page.get_by_text("You did it yourself.").wait_for()

    assert not Ticket.objects.open().filter(pk=ticket.pk).exists()
    assert Work.objects.get().verified is False
    office = new_page()
    sign_in(office, make.user(Role.OFFICE))
    office.goto("/")
    assert "says it is done already" in office.locator("main").inner_text()


def test_owner_reports_a_hole_in_the_ice_and_reads_what_to_do(new_page, mail, ticket):
    page = new_page(**PHONE)
    page.goto(address(mail, "problem"))
    main = page.locator("main").inner_text()
    assert main.index("Is a person in the water") < main.index("Mill Pond")
    page.get_by_label("A hole in the ice that was not there").check()
    page.get_by_role("button", name="Report this").click()
    page.get_by_text("Stay off the ice, keep others off, and call us now.").wait_for()

    assert OwnerAnswer.objects.get().urgent
