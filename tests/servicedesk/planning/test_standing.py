"""A due day says where it stands, and how late it is for its own tolerance."""

from datetime import date, timedelta

import pytest

from servicedesk.planning.standing import standing

DUE = date(2026, 6, 10)
WINDOW = {"opens_on": date(2026, 5, 20), "due_on": DUE, "closes_on": date(2026, 6, 24)}


@pytest.mark.parametrize(
    ("days", "shape", "words"),
    [
        (-22, "ok", "In order, due in 22 days"),
        (-21, "due", "Due in 21 days"),
        (-1, "due", "Due in 1 day"),
        (0, "due", "Due today"),
        (14, "due", "14 days late, within tolerance"),
        (15, "late", "Overdue 15 days"),
    ],
)
def test_words_follow_the_window(days, shape, words):
    found = standing(DUE + timedelta(days=days), **WINDOW)

    assert (found.shape, found.words) == (shape, words)


def test_lateness_is_a_share_of_the_tolerance():
    assert standing(DUE + timedelta(days=7), **WINDOW).lateness == 0.5
    without = {"opens_on": DUE, "due_on": DUE, "closes_on": DUE}
    assert standing(DUE + timedelta(days=1), **without).lateness == 1


def test_paused_clock_and_missing_day_rank_last():
    assert standing(DUE, **WINDOW, paused=True).words == "At rest"
    assert standing(DUE, opens_on=None, due_on=None, closes_on=None).words == "No due day"
    assert standing(DUE, **WINDOW, paused=True).lateness < standing(DUE, **WINDOW).lateness


def test_ticket_without_a_due_item_is_judged_by_its_day_alone():
    found = standing(DUE + timedelta(days=1), opens_on=None, due_on=DUE, closes_on=None)

    assert found.words == "Overdue 1 day"
