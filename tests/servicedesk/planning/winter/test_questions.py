"""The winter option that answers point to, each combination of answers tried."""

from itertools import product

import pytest

from servicedesk.planning.winter.questions import (
    KEYS,
    Option,
    answers_of_pond,
    option_pointed_to,
)

NO = dict.fromkeys(KEYS, "no")


def every_complete():
    return (dict(zip(KEYS, given, strict=True)) for given in product(("yes", "no"), repeat=9))


@pytest.mark.parametrize(
    ("yes", "option"),
    [
        (["people_on_ice"], Option.SHUT_DOWN),
        (["permit_missing", "fish_at_risk"], Option.SHUT_DOWN),
        (["signs_refused", "waterfowl"], Option.SHUT_DOWN),
        (["fish_at_risk"], Option.RUN_SHALLOW),
        (["deep_few_fish"], Option.SHUT_DOWN),
        (["deep_few_fish", "mild_winter"], Option.RUN_DEEP),
        (["mild_winter"], Option.RUN_DEEP),
        (["mild_winter", "cold_sensitive_fish"], Option.SHUT_DOWN),
        (["waterfowl"], Option.RUN_SHALLOW),
        (["livestock"], None),
        ([], None),
    ],
)
def test_the_first_question_answered_yes_decides(yes, option):
    pointed = option_pointed_to(NO | dict.fromkeys(yes, "yes"))

    assert pointed.option == option
    assert pointed.because


def test_people_on_the_ice_outrank_every_other_answer():
    for answers in every_complete():
        if "yes" in (answers[k] for k in ("people_on_ice", "permit_missing", "signs_refused")):
            assert option_pointed_to(answers).option == Option.SHUT_DOWN


def test_fish_that_need_the_warm_bottom_are_never_stirred_deep():
    for answers in every_complete():
        if answers["cold_sensitive_fish"] == "yes":
            assert option_pointed_to(answers).option != Option.RUN_DEEP


def test_livestock_changes_nothing():
    for answers in every_complete():
        other = "no" if answers["livestock"] == "yes" else "yes"
        ends = {option_pointed_to(answers | {"livestock": one}).option for one in ("yes", other)}
        assert len(ends) == 1


def test_an_unknown_answer_is_asked_as_long_as_it_could_change_the_option():
    for given in product(("yes", "no", "unknown"), repeat=5):
        answers = NO | dict(zip(KEYS, given, strict=False))
        unknown = [key for key in KEYS if answers[key] == "unknown"]
        ends = {
            option_pointed_to(answers | dict(zip(unknown, filled, strict=True))).option
            for filled in product(("yes", "no"), repeat=len(unknown))
        }
        pointed = option_pointed_to(answers)

        assert pointed.option == (ends.pop() if len(ends) == 1 else None)
        assert list(pointed.asks) == unknown


def test_nothing_known_points_nowhere_and_asks_everything():
    pointed = option_pointed_to({})

    assert pointed.option is None
    assert pointed.asks == KEYS


def test_a_misspelt_question_or_answer_is_refused_by_name():
    with pytest.raises(ValueError, match="skaters"):
        option_pointed_to({"skaters": "yes"})
    with pytest.raises(ValueError, match="maybe"):
        option_pointed_to({"waterfowl": "maybe"})


def test_the_register_answers_only_what_it_knows():
    pond = {"past_kill": False, "public_access": None, "has_winter": True, "refused": False}
    shallow = answers_of_pond(depth_max_m=2.0, **pond)
    middling = answers_of_pond(depth_max_m=3.5, **pond)

    assert shallow["fish_at_risk"] == "yes"
    assert middling["fish_at_risk"] == "unknown"
    assert middling["deep_few_fish"] == "no"
    assert shallow["people_on_ice"] == "unknown"
    assert answers_of_pond(depth_max_m=None, **pond | {"public_access": True})["people_on_ice"] == (
        "yes"
    )
