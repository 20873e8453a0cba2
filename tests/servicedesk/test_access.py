"""Who may close a ticket, and who may see how a gate opens."""

from datetime import timedelta

import pytest
from django.core import signing

from servicedesk import access
from servicedesk.models import Route
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def ticket():
    return make.ticket()


@pytest.fixture
def dario(ticket):
    technician = make.technician(shifts=False)
    make.stop(ticket, route=make.route(technician=technician))
    return technician.user


def test_the_technician_of_the_day_closes_what_is_due_at_his_stops(dario, ticket):
    beside = make.ticket(at=ticket.system, task=make.task(place_kind="system", position_kind=""))
    elsewhere = make.ticket()

    assert access.may_close(dario, ticket, make.TODAY)
    assert access.may_close(dario, beside, make.TODAY)
    assert not access.may_close(dario, elsewhere, make.TODAY)
    assert not access.may_close(dario, ticket, make.TODAY + timedelta(days=1))


def test_a_route_that_is_not_published_gives_no_right(dario, ticket):
    Route.objects.update(published_at=None)

    assert not access.may_close(dario, ticket, make.TODAY)
    assert not access.may_see_secrets(dario, ticket.site, today=make.TODAY)


def test_codes_are_for_the_technician_of_the_day_and_the_office(dario, ticket):
    assert access.may_see_secrets(dario, ticket.site, today=make.TODAY)
    assert access.may_see_secrets(make.manager(), ticket.site, today=make.TODAY)
    assert not access.may_see_secrets(make.user(), ticket.site, today=make.TODAY)
    assert not access.may_see_secrets(dario, ticket.site, today=make.TODAY - timedelta(days=1))


def test_whoever_left_the_firm_has_no_right_left(dario, ticket):
    dario.is_active = False

    assert not access.may_close(dario, ticket, make.TODAY)
    assert not access.may_see_secrets(dario, ticket.site, today=make.TODAY)


def test_a_day_pass_is_for_one_person_at_one_site_and_ends(dario, ticket, monkeypatch):
    token = access.day_pass(dario, ticket.site)

    assert access.holds_day_pass(dario, ticket.site, token)
    assert not access.holds_day_pass(make.user(), ticket.site, token)
    assert not access.holds_day_pass(dario, make.site(), token)
    assert not access.holds_day_pass(dario, ticket.site, "x" + token)
    assert not access.holds_day_pass(dario, ticket.site, "")

    later = signing.time.time() + access.PASS_AGE.total_seconds() + 60
    monkeypatch.setattr(signing.time, "time", lambda: later)
    assert not access.holds_day_pass(dario, ticket.site, token)


def test_only_managers_answer_for_a_start():
    make.user()
    manager = make.manager()
    make.manager(is_active=False)

    assert list(access.approvers()) == [manager]
