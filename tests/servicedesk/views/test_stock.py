"""Pages of parts: who may do what, what they say, and how a list is loaded."""

import re
import uuid
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from equipment.kinds import PartRole
from servicedesk import kinds
from servicedesk.actions import stock
from servicedesk.actions.routes import hands
from servicedesk.actions.stock import stock_now
from servicedesk.models import PartOrder, Technician, Work
from servicedesk.planning.calendar import week_name
from servicedesk.planning.stock import SHELF
from servicedesk.tables.load import Loads
from tests import make
from tests.servicedesk.actions.closings import Closing
from tests.servicedesk.actions.routes import weeks

pytestmark = pytest.mark.django_db

NOW = timezone.now()
TODAY = NOW.astimezone(ZoneInfo("America/Chicago")).date()
MONDAY = TODAY + timedelta(days=7 - TODAY.weekday())  # of the coming week
NAME = week_name(MONDAY)


@pytest.fixture(autouse=True)
def firm():
    return weeks.firm()


@pytest.fixture
def manager(client):
    user = make.manager()
    client.force_login(user)
    return user


@pytest.fixture
def dario():
    user = make.user(username="dario", first_name="Dario", last_name="Lund")
    return make.technician(user=user)


def count(part, pieces, technician=None):
    at = NOW - timedelta(hours=3)
    stock.count_stock(technician, {part: pieces}, key=uuid.uuid4(), by=None, at=at, now=at)


def lies(part, technician=None):
    return stock_now()[0].get((technician.pk if technician else SHELF, part.pk))


def key_of(shown):
    return re.search(r'name="key" value="([^"]+)"', shown)[1]


def ticket_with_part(**fields):
    task = make.task(part_roles=[PartRole.FILTER_ELEMENT], kit=["torch"])
    ticket = weeks.ticket(task=task, **{"due_when_opened_on": MONDAY} | fields)
    fitted = ticket.position.serves.fittings.get().component.type
    return ticket, make.part_for(fitted, PartRole.FILTER_ELEMENT).part


def placed(dario, day=MONDAY, **fields):
    ticket, part = ticket_with_part(**fields)
    hands.place_by_hand(ticket, technicians=[dario], day=day, start=None, today=TODAY)
    return ticket, part


def page(client, *names, status=200, **args):
    answer = client.get(reverse(names[0], kwargs=args) if args else reverse(*names))
    assert answer.status_code == status
    return answer.content.decode()


def press(client, name, data, *, status=302, **args):
    answer = client.post(reverse(name, kwargs=args), data)
    assert answer.status_code == status, answer.content.decode()[:2000]
    return answer


def test_a_count_is_kept_once_and_an_empty_field_says_nothing(client, manager, dario):
    part, other = make.part(), make.part()
    sent = {"act": "count", "key": uuid.uuid4(), f"count_{part.pk}": "4", f"least_{part.pk}": "6"}

    for _ in range(2):
        press(client, "van", sent, technician="dario")

    assert (lies(part, dario), lies(other, dario)) == (4, None)
    assert "below 6" in page(client, "stock")


def test_a_count_below_nought_keeps_what_was_typed_and_says_so(client, manager, dario):
    part = make.part()
    sent = {"act": "count", "key": uuid.uuid4(), f"count_{part.pk}": "-4"}

    said = press(client, "van", sent, status=422, technician="dario").content.decode()

    assert 'value="-4"' in said
    assert lies(part, dario) is None


def test_a_technician_counts_his_own_van_and_no_other(client, dario):
    part = make.part()
    client.force_login(dario.user)
    make.technician(user=make.user(username="wen"))
    sent = {"act": "count", "key": uuid.uuid4(), f"count_{part.pk}": "4"}

    press(client, "van", sent, technician="dario")
    press(client, "van", sent, status=403, technician="wen")
    press(client, "van", sent, status=403, technician="shelf")

    assert lies(part, dario) == 4


def test_more_used_than_was_counted_reads_count_again(client, manager):
    closing = Closing()
    van = Technician.objects.get(user=closing.dario)
    at = make.MORNING - timedelta(hours=1)
    stock.count_stock(van, {closing.part: 0}, key=uuid.uuid4(), by=None, at=at, now=at)
    closing.send()

    assert "count again" in page(client, "stock")


def test_the_list_of_a_day_says_what_is_in_the_van_on_the_shelf_and_short(client, manager, dario):
    _, there = placed(dario)
    _, shelved = placed(dario, east=0.01)
    _, nowhere = placed(dario, east=0.02)
    count(there, 1, dario)
    count(shelved, 2)

    said = page(client, "week_day", name=NAME, technician="dario", day=MONDAY.isoformat())

    assert "take 1 along" in said
    assert "1 short" in said
    assert "in the van" in said
    assert f"1 part short for {MONDAY:%A}" in page(client, "week", name=NAME)
    assert str(nowhere) in said


def test_a_van_that_was_never_counted_is_said_to_be_so_and_nothing_is_short(client, manager, dario):
    placed(dario)

    said = page(client, "load_list", technician="dario", day=MONDAY.isoformat())

    assert "not counted yet" in said
    assert "1 short" not in said


def test_loaded_takes_the_list_from_the_shelf_into_the_van_once(client, manager, dario):
    _, part = placed(dario)
    count(part, 5)
    count(make.part(), 1, dario)
    at = {"technician": "dario", "day": MONDAY.isoformat()}
    sent = {"key": key_of(page(client, "load_list", **at))}

    for _ in range(2):
        press(client, "load_list", sent, **at)

    assert (lies(part), lies(part, dario)) == (4, 1)
    assert "piece from the shelf" not in page(client, "load_list", technician="dario", day=NAME)


@pytest.mark.parametrize("second", [MONDAY.isoformat(), NAME])
def test_loaded_in_two_tabs_moves_once(client, manager, dario, second):
    """Both tabs were open before either press; the second may show the whole week."""
    _, part = placed(dario)
    count(part, 5)
    count(make.part(), 1, dario)
    tabs = [{"technician": "dario", "day": day} for day in (MONDAY.isoformat(), second)]
    keys = [key_of(page(client, "load_list", **tab)) for tab in tabs]
    said = [
        client.post(reverse("load_list", kwargs=tab), {"key": key}, follow=True).content.decode()
        for tab, key in zip(tabs, keys, strict=True)
    ]

    assert (lies(part), lies(part, dario)) == (4, 1)
    assert "Loaded: the shelf has it no longer" in said[0]
    assert "Nothing was moved: it is loaded already" in said[1]


def test_list_that_changed_since_it_was_shown_moves_nothing_unseen(client, manager, dario):
    ticket, part = placed(dario)
    count(part, 5)
    count(make.part(), 1, dario)
    at = {"technician": "dario", "day": MONDAY.isoformat()}
    key = key_of(page(client, "load_list", **at))
    more = weeks.ticket(task=ticket.task, due_when_opened_on=MONDAY, east=0.01)
    fitted = more.position.serves.fittings.get().component.type
    make.part_for(fitted, PartRole.FILTER_ELEMENT, part=part)
    hands.place_by_hand(more, technicians=[dario], day=MONDAY, start=None, today=TODAY)
    press(client, "load_list", {"key": key}, **at)
    assert lies(part) == 5
    press(client, "load_list", {"key": key_of(page(client, "load_list", **at))}, **at)

    assert (lies(part), lies(part, dario)) == (3, 2)


def test_what_was_put_back_is_loaded_again(client, manager, dario):
    _, part = placed(dario)
    count(part, 5)
    count(make.part(), 1, dario)
    at = {"technician": "dario", "day": MONDAY.isoformat()}
    for _ in range(2):
        press(client, "load_list", {"key": key_of(page(client, "load_list", **at))}, **at)
        assert lies(part, dario) == 1
        back = {part: 1}
        stock.move_stock(dario, None, back, key=uuid.uuid4(), by=manager, now=timezone.now())

    assert lies(part) == 5


def test_one_part_for_two_models_is_shared_among_their_lines(client, manager, dario):
    first, part = placed(dario)
    second = weeks.ticket(task=first.task, due_when_opened_on=MONDAY, east=0.01)
    fitted = second.position.serves.fittings.get().component.type
    make.part_for(fitted, PartRole.FILTER_ELEMENT, part=part)
    hands.place_by_hand(second, technicians=[dario], day=MONDAY, start=None, today=TODAY)
    count(make.part(), 1, dario)
    count(part, 2)

    loads = Loads(MONDAY, MONDAY, today=TODAY)
    load = loads.day(dario.pk, MONDAY)
    assert [(line.along, line.short) for line in load.lines] == [(1, 0), (1, 0)]
    assert load.along == {part: 2}

    count(part, 1)  # of one instant with the other: the lesser holds
    load = Loads(MONDAY, MONDAY, today=TODAY).day(dario.pk, MONDAY)
    assert [(line.along, line.short) for line in load.lines] == [(1, 0), (0, 1)]


def test_a_technician_loads_his_own_van_and_reads_no_other_list(client, dario):
    _, part = placed(dario)
    count(part, 5)
    count(make.part(), 1, dario)
    make.technician(user=make.user(username="wen"))
    client.force_login(dario.user)

    at = {"technician": "dario", "day": MONDAY.isoformat()}
    press(client, "load_list", {"key": key_of(page(client, "load_list", **at))}, **at)
    page(client, "load_list", technician="wen", day=MONDAY.isoformat(), status=403)

    assert lies(part, dario) == 1


def test_what_was_loaded_by_mistake_is_put_back(client, manager, dario):
    part = make.part()
    count(part, 5)
    count(part, 2, dario)
    sent = {"act": "move", "move-key": uuid.uuid4(), "move-part": part.pk, "move-quantity": "2"}

    press(client, "van", sent | {"move-target": "shelf"}, technician="dario")

    assert (lies(part), lies(part, dario)) == (7, 0)


def test_more_than_lies_in_a_van_is_moved_only_with_a_tick(client, manager, dario):
    part = make.part()
    count(part, 5)
    count(part, 2, dario)
    sent = {"act": "move", "move-key": uuid.uuid4(), "move-part": part.pk, "move-quantity": "50"}
    sent |= {"move-target": "shelf"}
    answer = client.post(reverse("van", args=["dario"]), sent)

    assert "By the books only 2 lie here." in answer.content.decode()
    assert (answer.status_code, lies(part, dario)) == (422, 2)
    press(client, "van", sent | {"move-sure": "on"}, technician="dario")
    assert lies(part, dario) == -48


def test_two_days_do_not_count_on_the_same_part(client, manager, dario):
    first, part = placed(dario)
    second = weeks.ticket(task=first.task, due_when_opened_on=MONDAY, east=0.01)
    make.part_for(
        second.position.serves.fittings.get().component.type, PartRole.FILTER_ELEMENT, part=part
    )
    tuesday = MONDAY + timedelta(days=1)
    hands.place_by_hand(second, technicians=[dario], day=tuesday, start=None, today=TODAY)
    count(part, 1, dario)

    said = page(client, "week", name=NAME)

    assert "1 part short for Tuesday" in said
    assert "short for Monday" not in said


def test_a_part_that_comes_in_time_is_not_short(client, manager, dario):
    _, part = placed(dario, day=MONDAY + timedelta(days=3))
    count(make.part(), 1, dario)
    ordered(part, MONDAY)

    said = page(client, "load_list", technician="dario", day=NAME)

    assert "1 on order, expected Monday" in said
    assert "1 short" not in said


def ordered(part, expected_on, ticket=None):
    return stock.order_part(
        part,
        1,
        uuid=uuid.uuid4(),
        ordered_on=TODAY - timedelta(days=9),
        expected_on=expected_on,
        by=None,
        ticket=ticket,
    )


def test_ordering_for_a_ticket_says_on_its_page_and_in_the_week_when_it_comes(client, manager):
    ticket, part = ticket_with_part()
    wednesday = MONDAY + timedelta(days=2)
    sent = {"key": uuid.uuid4(), "part": part.pk, "quantity": "1", "ticket": ticket.pk}
    sent |= {"ordered_on": TODAY.isoformat(), "expected_on": wednesday.isoformat()}

    for _ in range(2):
        press(client, "part_orders", sent)

    assert PartOrder.objects.count() == 1
    says = f"Parts come {wednesday:%A} {wednesday.day} {wednesday:%B}"
    assert says in page(client, "ticket", pk=ticket.pk)
    assert says in page(client, "week", name=NAME)


def test_a_new_part_is_entered_with_its_order(client, manager):
    sent = {"key": uuid.uuid4(), "number": "K-77", "name": "Sight glass", "quantity": "2"}
    press(client, "part_orders", sent | {"ordered_on": TODAY.isoformat()})

    assert str(PartOrder.objects.get().part) == "K-77 Sight glass"


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"ticket": "99999"}, "no open ticket with this number"),
        ({"number": "", "name": ""}, "Choose the part"),
        ({"expected_on": "2020-01-01"}, "before it was ordered"),
    ],
)
def test_an_order_that_cannot_be_is_refused_with_what_to_do(client, manager, wrong, says):
    sent = {"key": uuid.uuid4(), "number": "K-77", "name": "Sight glass", "quantity": "2"}

    sent |= {"ordered_on": TODAY.isoformat()} | wrong
    answer = press(client, "part_orders", sent, status=422)

    assert says in answer.content.decode()
    assert PartOrder.objects.count() == 0


def test_an_order_arrives_slips_is_called_off_and_is_taken_back(client, manager):
    order = ordered(make.part(), TODAY)

    def act(word, **more):
        press(client, "part_order", {"act": word} | more, pk=order.pk)
        order.refresh_from_db()
        return order

    assert act("expect", expected_on=MONDAY.isoformat()).expected_on == MONDAY
    assert act("arrived").arrived_at
    assert act("reopen").arrived_at is None
    assert act("cancel").cancelled_at


def test_a_part_missing_on_the_van_costs_the_owner_nothing_and_raises_the_count(client, manager):
    closing = Closing()
    closing.send(
        WORK__outcome="not_done",
        WORK__not_done_reason="part_missing",
    )
    Work.objects.update(done_at=NOW)

    closing.ticket.refresh_from_db()
    assert closing.ticket.no_charge
    assert closing.ticket.closed_at is None
    assert Work.objects.get().not_done_reason == kinds.NotDoneReason.PART_MISSING
    said = " ".join(page(client, "stock").split())
    assert "this month</dt><dd>1</dd>" in said


@pytest.mark.parametrize("rows", [1, 12])
def test_pages_of_parts_ask_as_much_for_one_row_as_for_many(
    client, manager, dario, rows, django_assert_max_num_queries
):
    for number in range(rows):
        _, part = placed(dario, east=0.002 * number)
        count(part, 1, dario)
        ordered(make.part(), MONDAY)

    for name, args, most in [
        ("stock", {}, 20),
        ("van", {"technician": "dario"}, 22),
        ("load_list", {"technician": "dario", "day": NAME}, 20),
        ("part_orders", {}, 12),
        ("week", {"name": NAME}, 35),
        ("week_day", {"name": NAME, "technician": "dario", "day": MONDAY.isoformat()}, 28),
    ]:
        with django_assert_max_num_queries(most):
            page(client, name, **args) if args else page(client, name)


def way_in_sent(**changes):
    sent = {"act": "way", "way_in": "Left of the barn.", "notice_h": "24", "owner_present": "on"}
    return (
        sent | {"power_from": "Tobias Renn, next door", "power_phone": "+1 202 555 0147"} | changes
    )


def test_getting_in_keeps_who_must_be_home_and_whose_power_it_is(client, manager):
    site = make.site()
    press(client, "way_in", way_in_sent(comes_2="09:00", leaves_2="12:00"), pk=site.pk)

    site.refresh_from_db()
    assert (site.owner_present, site.power_from) == (True, "Tobias Renn, next door")
    hours = site.owner_hours.get()
    assert (hours.weekday, hours.comes, hours.leaves) == (2, time(9), time(12))


def test_getting_in_refuses_half_a_span_and_keeps_what_was_typed(client, manager):
    site = make.site()
    answer = press(client, "way_in", way_in_sent(comes_2="09:00"), status=422, pk=site.pk)

    said = answer.content.decode()
    assert "Enter both times, or neither." in said
    assert "Tobias Renn, next door" in said
    site.refresh_from_db()
    assert site.power_from == ""


def test_the_week_says_to_agree_on_a_day_first_and_an_agreed_time_is_held(client, manager):
    ticket = weeks.ticket(
        due_when_opened_on=MONDAY, site=make.site(lat=44.95, lon=-93.0, owner_present=True)
    )
    said = page(client, "week", name=NAME)
    assert "agree on a day first" in said
    assert reverse("way_in", args=[ticket.site_id]) in said

    sent = {"act": "agreed", "agreed-day": MONDAY.isoformat()}
    press(
        client,
        "way_in",
        sent | {"agreed-comes": "09:00", "agreed-leaves": "12:00"},
        pk=ticket.site_id,
    )

    ticket.refresh_from_db()
    nine = datetime.combine(MONDAY, time(9), tzinfo=ZoneInfo("America/Chicago"))
    assert ticket.promised_from == nine
    assert "agree on a day first" not in page(client, "week", name=NAME)


def test_whose_power_it_is_stands_where_the_work_is(client):
    closing = Closing()
    site = closing.site
    site.power_from, site.power_phone = "Tobias Renn", "+1 202 555 0147"
    site.save()
    closing.stop.route.day = TODAY
    closing.stop.route.save()
    client.force_login(closing.dario)

    assert "Tobias Renn" in page(client, "day_stop", uuid=closing.stop.uuid)
    assert "comes from Tobias Renn" in page(client, "close_ticket", pk=closing.ticket.pk)
    assert "Tobias Renn" in page(client, "system", pk=closing.system.pk)
