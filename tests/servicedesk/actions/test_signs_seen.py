"""What a technician saw, heard or smelt stands beside the readings; it never holds him up."""

import pytest

from equipment.kinds import Moment, Sign
from equipment.models import ReadingSet, SignSeen
from servicedesk.forms.words import SEEN
from tests.servicedesk.actions.closings import Closing

pytestmark = pytest.mark.django_db


def kept():
    return {row.sign: row.present for row in SignSeen.objects.all()}


def test_seen_and_looked_for_are_told_apart_and_what_nobody_looked_for_stays_out():
    closing = Closing()
    visit, _ = closing.send(
        SYSTEM__seen__hissing="yes", SYSTEM__seen__knocking="no", SYSTEM__seen__burnt_smell=""
    )

    assert kept() == {Sign.N_HISS: True, Sign.N_KNOCK: False, Sign.FILTER_WET: True}
    beside = SignSeen.objects.first().set
    assert (beside.moment, beside.system) == (Moment.AS_FOUND, closing.system)
    assert beside in visit.reading_sets.all()


def test_a_closing_without_signs_is_taken_as_before():
    Closing().send()

    assert set(kept()) <= {Sign.FILTER_WET}  # how the old filter looked was asked already
    assert ReadingSet.objects.get().moment == Moment.AS_LEFT


def test_the_same_closing_sent_twice_keeps_each_sign_once():
    closing = Closing()
    payload = {"uuid": "7a3d2f16-50a5-4a04-8a22-6ff7d6d3a001", "SYSTEM__seen__hissing": "yes"}
    closing.send(**payload)
    closing.send(**payload)

    assert SignSeen.objects.filter(sign=Sign.N_HISS).count() == 1


@pytest.mark.parametrize(
    ("looked", "sign"),
    [
        ("loaded", {Sign.FILTER_LOADED: True}),
        ("light", {Sign.FILTER_LOADED: False}),
        ("missing", {Sign.FILTER_MISSING: True}),
        ("oily", {}),
    ],
)
def test_how_the_old_filter_looked_is_a_sign_beside_the_readings(looked, sign):
    Closing().send(WORK__found__condition=looked)

    assert kept() == sign


def test_an_answer_that_was_not_offered_comes_back_with_a_sentence_at_its_field():
    assert Closing().refused(SYSTEM__seen__hissing="perhaps") == {
        "SYSTEM.seen.hissing": "Choose one of the answers offered."
    }


def test_every_sign_is_asked_for_once_and_in_words():
    asked = [sign for _, rows in SEEN for sign, _ in rows]

    assert len(asked) == len(set(asked))
    assert all(str(words) and "_" not in str(words) for _, rows in SEEN for _, words in rows)
