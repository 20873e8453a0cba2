"""Vans and shelf, orders and waits: through the records, with closings as phones send them."""

import uuid
from datetime import timedelta

import pytest

from equipment.kinds import PartRole
from servicedesk import kinds
from servicedesk.actions import stock
from servicedesk.actions.stock import StockRefused, stock_now, waits_for_parts, why_waiting
from servicedesk.actions.visits.receive import receive_visit
from servicedesk.actions.work import accept_work, refuse_work
from servicedesk.models import PartOrder, StockMove, Technician, Work
from servicedesk.planning.stock import SHELF
from tests import make
from tests.servicedesk.actions.closings import NOW, Closing

pytestmark = pytest.mark.django_db
BEFORE = make.MORNING - timedelta(hours=2)
WEDNESDAY = make.TODAY + timedelta(days=2)


@pytest.fixture
def closing():
    return Closing()


@pytest.fixture
def van(closing):
    return Technician.objects.get(user=closing.dario)


def count(part, pieces, technician=None, at=BEFORE, key=None):
    stock.count_stock(technician, {part: pieces}, key=key or uuid.uuid4(), by=None, at=at, now=at)


def lies(part, technician=None):
    return stock_now()[0].get((technician.pk if technician else SHELF, part.pk))


def order(part, quantity=1, **fields):
    start = {"uuid": uuid.uuid4(), "ordered_on": make.TODAY, "expected_on": WEDNESDAY, "by": None}
    return stock.order_part(part, quantity, **start | fields)


def test_a_closing_sent_three_times_takes_one_part_out_of_the_van_of_who_closed_it(closing, van):
    count(closing.part, 4, van)
    payload = closing.payload()

    for _ in range(3):
        receive_visit(payload, user=closing.dario, now=NOW)

    assert lies(closing.part, van) == 3


def test_a_closing_that_is_refused_gives_its_part_back_and_once_accepted_takes_it(closing, van):
    count(closing.part, 4, van)
    closing.send()

    refuse_work(Work.objects.get(), now=NOW)
    assert lies(closing.part, van) == 4

    Work.objects.update(state=kinds.WorkState.REVIEW)
    accept_work(Work.objects.get(), by=make.manager(), now=NOW)
    assert lies(closing.part, van) == 3


def test_a_second_closing_under_review_takes_nothing_yet(closing, van):
    count(closing.part, 4, van)
    closing.send()
    wen = make.user(first_name="Wen")
    closing.on_route_of(wen)
    count(closing.part, 2, Technician.objects.get(user=wen))

    closing.send(user=wen, SYSTEM__left__pressure__typed="6.9")

    assert (lies(closing.part, van), lies(closing.part, Technician.objects.get(user=wen))) == (3, 2)


def test_a_visit_that_was_counted_already_and_comes_in_late_changes_nothing(closing, van):
    count(closing.part, 4, van)
    count(closing.part, 3, van, at=make.MORNING + timedelta(minutes=30))

    closing.send()

    assert lies(closing.part, van) == 3


def test_more_used_than_was_there_reads_below_nought(closing, van):
    count(closing.part, 0, van)

    closing.send()

    assert lies(closing.part, van) == -1


def test_a_van_that_nobody_counted_has_no_stock(closing, van):
    closing.send()

    assert stock_now() == ({}, set())


def test_what_the_office_types_in_for_a_technician_leaves_his_van(closing, van):
    count(closing.part, 4, van)

    closing.send(user=make.manager())

    assert lies(closing.part, van) == 3


def test_loading_twice_by_one_press_moves_once_and_putting_back_undoes_it(closing, van):
    count(closing.part, 5)
    key = uuid.uuid4()

    for _ in range(2):
        stock.move_stock(None, van, {closing.part: 2}, key=key, by=None, now=NOW)
    assert (lies(closing.part), lies(closing.part, van)) == (3, 2)

    stock.move_stock(van, None, {closing.part: 2}, key=uuid.uuid4(), by=None, now=NOW)
    assert (lies(closing.part), lies(closing.part, van)) == (5, 0)
    assert StockMove.objects.count() == 5


def test_what_arrived_lies_on_the_shelf_and_ticked_by_mistake_it_does_not(closing):
    count(closing.part, 1)
    coming = order(closing.part, 6)

    for _ in range(2):
        stock.arrive_order(coming, now=NOW)
    assert lies(closing.part) == 7

    stock.reopen_order(coming)
    assert lies(closing.part) == 1


def test_a_count_after_the_arrival_holds(closing):
    coming = order(closing.part, 6)
    stock.arrive_order(coming, now=NOW)

    count(closing.part, 5, at=NOW + timedelta(hours=1))

    assert lies(closing.part) == 5


def test_a_ticket_with_an_order_of_its_own_waits_for_its_day(closing):
    order(closing.part, ticket=closing.ticket)

    assert waits_for_parts(today=make.TODAY)[closing.ticket.pk].on == WEDNESDAY
    assert why_waiting(today=make.TODAY) == {
        closing.ticket.pk: f"Parts come Wednesday 3 June: 1 x {closing.part}."
    }


def test_once_the_day_has_passed_it_waits_and_the_reason_says_so(closing):
    order(closing.part, ticket=closing.ticket)

    (says,) = why_waiting(today=WEDNESDAY + timedelta(days=1)).values()

    assert says.startswith("The day on which its parts were to come has passed")


def test_arrived_or_called_off_it_waits_no_longer(closing):
    coming = order(closing.part, ticket=closing.ticket)
    stock.arrive_order(coming, now=NOW)
    assert waits_for_parts(today=make.TODAY) == {}

    stock.cancel_order(order(closing.part, ticket=closing.ticket), now=NOW)
    assert waits_for_parts(today=make.TODAY) == {}


def test_a_ticket_whose_kit_is_short_waits_for_the_shelfs_order_and_one_in_stock_does_not(closing):
    later = make.ticket(
        at=closing.position,
        task=make.task(part_roles=[PartRole.FILTER_ELEMENT]),
        due_when_opened_on=make.TODAY + timedelta(days=9),
    )
    count(closing.part, 1)
    order(closing.part, 4)

    waits = waits_for_parts(today=make.TODAY)

    assert {pk: wait.on for pk, wait in waits.items()} == {later.pk: WEDNESDAY}


def test_an_order_is_entered_once_however_often_it_is_sent(closing):
    key = uuid.uuid4()
    for _ in range(2):
        order(closing.part, uuid=key)

    assert PartOrder.objects.count() == 1


def test_nothing_comes_before_it_was_ordered(closing):
    with pytest.raises(StockRefused, match="before it was ordered"):
        order(closing.part, expected_on=make.TODAY - timedelta(days=1))


@pytest.mark.parametrize("rows", [1, 20])
def test_stock_is_read_in_as_many_questions_however_much_there_is(
    rows, closing, django_assert_num_queries
):
    for _ in range(rows):
        count(make.part(), 3)
        order(make.part())

    with django_assert_num_queries(5):
        stock_now()
