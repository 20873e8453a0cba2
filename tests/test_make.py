"""The builders of the tests make what the database accepts, and refuses what must never be."""

import pytest
from django.db import IntegrityError

from customers.models import Firm, Ownership, SiteSecret
from equipment.kinds import PositionKind
from equipment.models import StateChange, System
from servicedesk import kinds
from servicedesk.models import SystemCheck, place_of
from tests import make

pytestmark = pytest.mark.django_db


def test_builders_make_valid_objects():
    make.firm()
    ticket = make.ticket()
    make.work(ticket.position, ticket.task, ticket=ticket)
    make.message(state=kinds.MessageState.SENDING)

    assert ticket.place == place_of(ticket.position)


def test_there_is_one_firm():
    make.firm()
    with pytest.raises(IntegrityError):
        Firm.objects.create(name="Another", phone="1", reply_to="a@example.com")


def test_a_place_has_one_open_ticket_per_task():
    ticket = make.ticket()
    with pytest.raises(IntegrityError):
        make.ticket(at=ticket.position, task=ticket.task)


def test_a_closed_ticket_makes_room_for_the_next():
    ticket = make.ticket(closed_at=make.MORNING, end=kinds.TicketEnd.DONE)
    make.ticket(at=ticket.position, task=ticket.task)


def test_a_position_holds_one_component():
    position = make.position()
    make.fit(make.component(), position)
    with pytest.raises(IntegrityError):
        make.fit(make.component(), position)


def test_a_component_sits_at_one_position():
    unit = make.component()
    make.fit(unit, make.position())
    with pytest.raises(IntegrityError):
        make.fit(unit, make.position())


def test_a_filter_names_the_compressor_it_serves():
    with pytest.raises(IntegrityError):
        make.position(PositionKind.FILTER)


def test_a_site_has_one_owner_today():
    site = make.site(owner=make.customer())
    with pytest.raises(IntegrityError):
        Ownership.objects.create(customer=make.customer(), site=site, from_on=make.TODAY)


def test_one_accepted_work_closes_a_ticket():
    ticket = make.ticket()
    make.work(ticket.position, ticket.task, ticket=ticket)
    with pytest.raises(IntegrityError):
        make.work(ticket.position, ticket.task, ticket=ticket)


def test_a_second_closing_waits_for_review():
    ticket = make.ticket()
    make.work(ticket.position, ticket.task, ticket=ticket)
    make.work(ticket.position, ticket.task, ticket=ticket, state=kinds.WorkState.REVIEW)


def test_a_system_left_off_has_a_reason():
    with pytest.raises(IntegrityError):
        SystemCheck.objects.create(visit=make.visit(), system=make.system(), left_running=False)


def test_a_start_after_found_off_names_who_approved_it():
    with pytest.raises(IntegrityError):
        SystemCheck.objects.create(
            visit=make.visit(), system=make.system(), found_running=False, left_running=True
        )


def test_work_not_done_has_a_reason():
    position = make.filter_position()
    with pytest.raises(IntegrityError):
        make.work(position, make.task(), outcome=kinds.Outcome.NOT_DONE)


def test_a_gate_code_is_not_readable_in_the_database():
    secret = SiteSecret.objects.create(
        site=make.site(), kind="gate_code", text="4471", entered_at=make.MORNING
    )
    stored = SiteSecret.objects.extra(select={"raw": "text"}).values_list("raw", flat=True)[0]

    secret.refresh_from_db()
    assert secret.text == "4471"
    assert "4471" not in stored


def test_state_now_follows_the_corrected_history():
    system = make.system()
    wrong = StateChange.objects.create(
        system=system, at=make.MORNING, state="failed", entered_at=make.MORNING
    )
    StateChange.objects.create(
        system=system, at=make.MORNING, state="shut_other", entered_at=make.MORNING, corrects=wrong
    )

    assert System.objects.with_state(make.MORNING).get(pk=system.pk).state_now == "shut_other"


def test_a_row_that_strikes_another_out_is_no_state():
    system = make.system()
    wrong = StateChange.objects.create(
        system=system, at=make.MORNING, state="failed", entered_at=make.MORNING
    )
    StateChange.objects.create(
        system=system,
        at=make.MORNING,
        state="failed",
        entered_at=make.MORNING,
        corrects=wrong,
        withdrawn=True,
    )

    assert System.objects.with_state(make.MORNING).get(pk=system.pk).state_now == "running"
