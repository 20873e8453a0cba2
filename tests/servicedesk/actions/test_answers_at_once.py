"""Two presses at the same moment, from two forms of the same page: one answer."""

import threading
import uuid
from datetime import date, timedelta

import pytest
from django.db import connections

from customers import signed_links
from customers.models import SignedLink
from servicedesk.actions import answers
from servicedesk.emails import links
from servicedesk.models import OwnerAnswer, Work
from tests import make
from tests.servicedesk.actions.outbox import published
from tests.servicedesk.emails import scenes

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def link():
    contact = make.contact()
    ticket = scenes.ticket_at(scenes.place(contact)[2])
    published(ticket)
    signed_links.make_link(
        contact,
        links.VISIT,
        f"ticket:{ticket.pk}",
        make.MORNING + timedelta(days=5),
        make.MORNING,
    )
    return SignedLink.objects.get()


def confirm(link):
    matter = answers.matter_of(link, now=make.MORNING)
    answers.confirm_visits(link, matter.visits, uuid=uuid.uuid4(), now=make.MORNING)


def did_it(link):
    (ticket,) = answers.matter_of(link, now=make.MORNING).own_tasks
    answers.did_it_myself(
        link,
        ticket,
        done_on=date(2026, 5, 30),
        part=None,
        note="",
        uuid=uuid.uuid4(),
        now=make.MORNING,
    )


@pytest.mark.parametrize(("press", "works"), [(confirm, 0), (did_it, 1)])
def test_two_presses_at_once_are_one_answer(link, press, works):
    start, faults = threading.Barrier(2), []

    def thumb():
        start.wait()
        try:
            press(link)
        except ValueError:
            pass  # the ticket had left the list before this thumb looked
        except Exception as fault:
            faults.append(fault)
        finally:
            connections.close_all()

    thumbs = [threading.Thread(target=thumb) for _thumb in range(2)]
    for one in thumbs:
        one.start()
    for one in thumbs:
        one.join()

    assert faults == []
    assert OwnerAnswer.objects.count() == 1
    assert Work.objects.count() == works
