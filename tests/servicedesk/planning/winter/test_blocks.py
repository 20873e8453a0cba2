"""What stands in the way of a winter run: every combination, and each input made worse."""

from dataclasses import replace
from itertools import product

import pytest

from servicedesk.planning.winter.blocks import (
    NEVER,
    BlockName,
    Ice,
    Permit,
    Plan,
    Seen,
    WinterFacts,
    blocks,
    standing,
)

BEST = WinterFacts(
    permit=Permit.NOT_NEEDED,
    people_on_ice=Seen.NO,
    leak=Seen.NO,
    ice=Ice.NONE,
    marking_placed=Seen.YES,
    acknowledged=True,
    oxygen_mg_l=8.0,
    stopped_with_ice=Seen.NO,
    owner_told=True,
    signs_seen=True,
    plan=Plan.RUN,
)
WORSE = {  # each input, from the mildest to the worst
    "ice": (Ice.NONE, Ice.FORMING, Ice.COVERED, Ice.UNKNOWN),
    "people_on_ice": (Seen.NO, Seen.YES, Seen.UNKNOWN),
    "marking_placed": (Seen.YES, Seen.UNKNOWN, Seen.NO),
    "oxygen_mg_l": (8.0, 4.0, 3.9, 0.5, None),
    "stopped_with_ice": (Seen.NO, Seen.YES, Seen.UNKNOWN),
    "owner_told": (True, False),
    "signs_seen": (True, False),
    "permit": (Permit.NOT_NEEDED, Permit.IN_HAND, Permit.MISSING, Permit.UNKNOWN),
    "leak": (Seen.NO, Seen.YES, Seen.UNKNOWN),
    "acknowledged": (True, False),
    "refused": (False, True),
    "may_run_after_refusal": (True, False),
    "plan": (Plan.RUN, Plan.UNDECIDED, Plan.SHUT_DOWN),
    "authority_open": ((), ("Inspect every 7 days.",)),
    "authority_asks": (frozenset(), frozenset({BlockName.NOTICE, BlockName.MARKING})),
    "visit_to_come": (True, False),
}
OF_THE_ICE = ("ice", "people_on_ice", "marking_placed", "oxygen_mg_l", "stopped_with_ice")
OF_THE_ICE += ("owner_told", "signs_seen", "visit_to_come")
OF_THE_PLAN = tuple(name for name in WORSE if name not in OF_THE_ICE)
WORST = replace(BEST, **{name: steps[-1] for name, steps in WORSE.items()})


def every(names, rest):
    """Every combination of some inputs, each with one more input made one step worse."""
    for given in product(*(range(len(WORSE[name])) for name in names)):
        facts = replace(rest, **{n: WORSE[n][i] for n, i in zip(names, given, strict=True)})
        for name, step in zip(names, given, strict=True):
            for worse in WORSE[name][step + 1 : step + 2]:
                yield facts, replace(facts, **{name: worse})


def names(found):
    return {block.name for block in found}


@pytest.mark.parametrize("rest", [BEST, WORST, replace(BEST, ice=Ice.COVERED)])
@pytest.mark.parametrize("group", [OF_THE_ICE, OF_THE_PLAN])
def test_making_any_input_worse_never_unblocks(group, rest):
    """The inputs about the ice and those about the plan share no rule but whether there is ice."""
    for facts, worse in every(group, rest):
        before, after = blocks(facts), blocks(worse)
        assert names(before) <= names(after)
        assert names(standing(before, set(BlockName))) <= names(standing(after, set(BlockName)))


@pytest.mark.parametrize("rest", [BEST, WORST])
@pytest.mark.parametrize("group", [OF_THE_ICE, OF_THE_PLAN])
def test_no_name_lifts_a_missing_permit_people_on_the_ice_or_a_leak(group, rest):
    for facts, _worse in every(group, rest):
        found = blocks(facts)
        assert names(found) & NEVER == names(standing(found, set(BlockName))) & NEVER


def test_nothing_stands_in_the_way_where_all_is_known_and_good():
    assert blocks(BEST) == ()
    assert blocks(replace(BEST, ice=Ice.COVERED)) == ()


@pytest.mark.parametrize(
    ("change", "name", "overridable"),
    [
        ({"permit": Permit.MISSING}, BlockName.PERMIT, False),
        ({"permit": Permit.UNKNOWN}, BlockName.PERMIT, False),
        ({"people_on_ice": Seen.YES, "ice": Ice.COVERED}, BlockName.PEOPLE, False),
        ({"leak": Seen.YES}, BlockName.LEAK, False),
        ({"authority_open": ("Signs at the access.",)}, BlockName.AUTHORITY, False),
        ({"refused": True}, BlockName.REFUSED, False),
        ({"refused": True, "may_run_after_refusal": True}, BlockName.REFUSED, True),
        ({"ice": Ice.FORMING, "marking_placed": Seen.NO}, BlockName.MARKING, True),
        ({"acknowledged": False}, BlockName.NOTICE, True),
        ({"ice": Ice.COVERED, "oxygen_mg_l": 3.0}, BlockName.OXYGEN, True),
        ({"ice": Ice.COVERED, "oxygen_mg_l": None}, BlockName.OXYGEN, True),
        (
            {"ice": Ice.COVERED, "stopped_with_ice": Seen.YES, "owner_told": False},
            BlockName.OWNER_TOLD,
            True,
        ),
        (
            {"ice": Ice.COVERED, "stopped_with_ice": Seen.YES, "signs_seen": False},
            BlockName.SIGNS_SEEN,
            True,
        ),
        ({"plan": Plan.UNDECIDED}, BlockName.PLAN, True),
        (
            {"acknowledged": False, "authority_asks": frozenset({BlockName.NOTICE})},
            BlockName.NOTICE,
            False,
        ),
    ],
)
def test_each_thing_in_the_way_is_named_alone(change, name, overridable):
    (block,) = blocks(replace(BEST, **change))

    assert (block.name, block.overridable) == (name, overridable)
    assert block.says


def test_what_nobody_knows_blocks_as_the_worse_does():
    assert names(blocks(WinterFacts())) >= {
        BlockName.PERMIT,
        BlockName.PEOPLE,
        BlockName.LEAK,
        BlockName.NOTICE,
        BlockName.OXYGEN,
        BlockName.SIGNS_SEEN,
    }


def test_a_stop_with_ice_on_is_said_to_leave_the_most_dangerous_ice():
    stopped = replace(BEST, ice=Ice.COVERED, stopped_with_ice=Seen.YES, signs_seen=False)

    assert "the most dangerous ice there is" in blocks(stopped)[0].says
