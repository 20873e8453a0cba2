"""Who must be home, whose power it is, and days that were agreed."""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from customers.models import OwnerHours, Trail
from servicedesk.actions import way_in
from servicedesk.actions.way_in import WayInRefused
from tests import make

pytestmark = pytest.mark.django_db
SAID = {
    "way_in": "Left of the barn.",
    "vehicle_note": "",
    "notice_h": 24,
    "owner_present": True,
    "power_from": "Tobias Renn, next door",
    "power_phone": "+1 202 555 0147",
}
NINE, NOON = time(9), time(12)
TUESDAY = date(2026, 6, 2)


@pytest.fixture
def ticket():
    ticket = make.ticket()
    way_in.save_way_in(ticket.site, SAID, [], by=make.manager(), now=make.MORNING)
    return ticket


def agree(ticket, day=TUESDAY, comes=NINE, leaves=NOON):
    return way_in.agree_visit(
        ticket.site, day=day, comes=comes, leaves=leaves, by=make.manager(), now=make.MORNING
    )


def test_what_is_entered_is_kept_and_who_changed_it(ticket):
    ticket.site.refresh_from_db()

    assert {name: getattr(ticket.site, name) for name in SAID} == SAID
    assert Trail.objects.get().after["power_from"] == "Tobias Renn, next door"


def test_entered_again_unchanged_it_leaves_no_trail(ticket):
    way_in.save_way_in(ticket.site, SAID, [], by=None, now=make.MORNING)

    assert Trail.objects.count() == 1


def test_work_whose_owner_must_be_home_and_named_no_hours_waits_for_an_agreed_day(ticket):
    assert way_in.why_agree_first(now=make.MORNING) == {ticket.pk: way_in.AGREE_FIRST}

    assert agree(ticket) == 1

    ticket.refresh_from_db()
    assert ticket.promised_from == datetime(2026, 6, 2, 14, tzinfo=UTC)  # nine in Chicago
    assert way_in.why_agree_first(now=make.MORNING) == {}
    assert way_in.why_agree_first(now=make.MORNING + timedelta(days=3)) != {}


def test_work_whose_owner_named_his_hours_waits_for_nobody(ticket):
    OwnerHours.objects.create(site=ticket.site, weekday=2, comes=NINE, leaves=NOON)

    assert way_in.why_agree_first(now=make.MORNING) == {}


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"leaves": NINE}, "ends before it begins"),
        ({"day": date(2026, 5, 29)}, "is over"),
    ],
)
def test_a_time_that_makes_no_sense_is_refused(ticket, asked, says):
    with pytest.raises(WayInRefused, match=says):
        agree(ticket, **asked)
