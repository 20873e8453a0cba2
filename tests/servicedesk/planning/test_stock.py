"""The arithmetic of stock. Counted by hand in each example; invariants by drawn histories."""

import random
from collections import Counter
from datetime import UTC, date, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from servicedesk.planning.stock import (
    SHELF,
    Arrival,
    Move,
    Wait,
    Wanted,
    share_out,
    stock_of,
    van_room,
    waits_of,
)

DARIO, WEN = 1, 2
ELEMENT, GASKET = 7, 8
MONDAY = date(2026, 11, 30)
TUESDAY, WEDNESDAY, THURSDAY = (MONDAY + timedelta(days=n) for n in (1, 2, 3))


def at(hour):
    return datetime(2026, 11, 30, tzinfo=UTC) + timedelta(hours=hour)


def counted(pieces, hour, holder=DARIO):
    return Move(holder, ELEMENT, pieces, at(hour), counted=True)


def used(pieces, hour, holder=DARIO):
    return Move(holder, ELEMENT, -pieces, at(hour), opens=False)


def moved(pieces, hour, holder=DARIO):
    return Move(holder, ELEMENT, pieces, at(hour))


def test_stock_is_what_was_counted_and_what_came_and_went_since():
    moves = [counted(10, 8), used(2, 10), moved(5, 11), used(1, 12)]

    assert stock_of(moves) == {(DARIO, ELEMENT): 12}


def test_a_use_before_the_count_that_comes_in_after_it_changes_nothing():
    assert stock_of([counted(3, 17), used(2, 10)]) == {(DARIO, ELEMENT): 3}


def test_more_used_than_was_there_reads_below_nought():
    assert stock_of([counted(1, 8), used(3, 9)]) == {(DARIO, ELEMENT): -2}


def test_what_is_used_out_of_a_van_that_nobody_keeps_is_not_booked():
    assert stock_of([used(400, 3)]) == {}


def test_of_two_counts_of_one_instant_the_lesser_holds():
    assert stock_of([counted(4, 8), counted(3, 8)]) == {(DARIO, ELEMENT): 3}


MOVES = st.builds(
    Move,
    st.sampled_from([SHELF, DARIO, WEN]),
    st.sampled_from([ELEMENT, GASKET]),
    st.integers(-5, 9).filter(bool),
    st.integers(0, 6).map(at),
    counted=st.just(False),
    opens=st.booleans(),
) | st.builds(
    Move,
    st.sampled_from([SHELF, DARIO, WEN]),
    st.sampled_from([ELEMENT, GASKET]),
    st.integers(0, 20),
    st.integers(0, 6).map(at),
    counted=st.just(True),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(MOVES, max_size=14), st.randoms(use_true_random=False))
def test_stock_is_right_whatever_the_order_of_entry(moves, order: random.Random):
    mixed = list(moves)
    order.shuffle(mixed)

    assert stock_of(mixed) == stock_of(moves)


@settings(max_examples=150, deadline=None)
@given(st.lists(MOVES, max_size=14))
def test_stock_is_the_ledger_read_instant_by_instant(moves):
    """Against a clerk who reads the ledger once, in the order of the day; a count comes last."""
    opened = {}
    for move in moves:
        if move.opens:
            opened[move.holder] = min(move.at, opened.get(move.holder, move.at))
    clerk = {}
    for move in sorted(moves, key=lambda m: (m.at, m.counted, -m.quantity)):
        key = (move.holder, move.part)
        if move.counted:
            clerk[key] = move.quantity
        elif move.holder in opened and move.at >= opened[move.holder]:
            clerk[key] = clerk.get(key, 0) + move.quantity

    # a part that came and went before it was first counted is on the clerk's list, too
    assert stock_of(moves) == clerk


def test_a_day_takes_from_its_van_then_from_the_shelf_then_what_comes_and_the_rest_is_short():
    stock = {(DARIO, ELEMENT): 2, (SHELF, ELEMENT): 1}
    coming = [Arrival(ELEMENT, 1, WEDNESDAY)]

    (given_,) = share_out([Wanted(DARIO, THURSDAY, ELEMENT, 6)], stock, coming)

    assert (given_.in_van, given_.along, given_.coming, given_.short) == (2, 1, 1, 2)
    assert given_.comes_on == WEDNESDAY


def test_what_comes_after_the_day_does_not_help_it():
    (one,) = share_out([Wanted(DARIO, TUESDAY, ELEMENT, 1)], {}, [Arrival(ELEMENT, 1, WEDNESDAY)])

    assert (one.coming, one.short) == (0, 1)


def test_the_shelf_is_given_away_once_to_the_earlier_day():
    wanted = [Wanted(WEN, MONDAY, ELEMENT, 1), Wanted(DARIO, TUESDAY, ELEMENT, 1)]

    first, second = share_out(wanted, {(SHELF, ELEMENT): 1}, [])

    assert (first.wanted.holder, first.along, second.short) == (WEN, 1, 1)


WANTS = st.builds(
    Wanted,
    st.sampled_from([DARIO, WEN]),
    st.sampled_from([MONDAY, TUESDAY, WEDNESDAY]),
    st.sampled_from([ELEMENT, GASKET]),
    st.integers(1, 6),
)
STOCK = st.dictionaries(
    st.tuples(st.sampled_from([SHELF, DARIO, WEN]), st.sampled_from([ELEMENT, GASKET])),
    st.integers(-3, 8),
)
COMING = st.lists(
    st.builds(
        Arrival,
        st.sampled_from([ELEMENT, GASKET]),
        st.integers(1, 5),
        st.sampled_from([None, MONDAY, WEDNESDAY]),
    ),
    max_size=4,
)


@settings(max_examples=150, deadline=None)
@given(st.lists(WANTS, max_size=8), STOCK, COMING)
def test_nothing_is_given_twice_and_nothing_lies_idle_while_a_day_is_short(wanted, stock, coming):
    shared = share_out(wanted, stock, coming)

    taken, along, arrived = Counter(), Counter(), Counter()
    for one in shared:
        assert one.in_van + one.along + one.coming + one.short == one.wanted.quantity
        taken[one.wanted.holder, one.wanted.part] += one.in_van
        along[one.wanted.part] += one.along
        arrived[one.wanted.part] += one.coming
    for (holder, part), pieces in taken.items():
        assert pieces <= max(0, stock.get((holder, part), 0))
    for part, pieces in along.items():
        there = max(0, stock.get((SHELF, part), 0))
        assert pieces <= there
        assert pieces == there or not any(g.short for g in shared if g.wanted.part == part)
    for part, pieces in arrived.items():
        assert pieces <= sum(one.quantity for one in coming if one.part == part and one.on)


def test_work_waits_for_the_delivery_when_what_is_here_goes_to_earlier_work():
    needs = [(118, {ELEMENT: 1}), (119, {ELEMENT: 1})]

    waits = waits_of(needs, {ELEMENT: 1}, [Arrival(ELEMENT, 4, WEDNESDAY)])

    assert waits == {119: Wait(WEDNESDAY, ((ELEMENT, 1),))}


def test_work_waits_for_the_last_of_its_parts():
    coming = [Arrival(ELEMENT, 1, TUESDAY), Arrival(GASKET, 1, WEDNESDAY)]

    waits = waits_of([(118, {ELEMENT: 1, GASKET: 1})], {}, coming)

    assert waits[118].on == WEDNESDAY


def test_a_delivery_without_a_day_makes_the_wait_one_without_a_day():
    coming = [Arrival(ELEMENT, 1, None), Arrival(GASKET, 1, WEDNESDAY)]

    assert waits_of([(118, {ELEMENT: 1, GASKET: 1})], {}, coming)[118].on is None


def test_what_nobody_ordered_waits_for_nothing():
    assert waits_of([(118, {ELEMENT: 1})], {}, [Arrival(GASKET, 1, WEDNESDAY)]) == {}


def test_room_is_that_of_the_parts_and_of_a_unit_to_lend():
    assert van_room([(2, 1), (1, 3)], ["torch"]) == 5
    assert van_room([(1, 1)], ["loaner"]) == 9
    assert van_room([], ["boat", "boat kit"]) == 0
