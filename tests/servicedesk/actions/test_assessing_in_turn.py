"""The nightly round over all systems, piece by piece."""

from datetime import UTC, datetime, timedelta

import pytest

from servicedesk.actions import assessing
from servicedesk.models import JobBeat
from tests import make

pytestmark = pytest.mark.django_db
NIGHT = datetime(2026, 6, 2, 3, tzinfo=UTC)


@pytest.fixture
def judged(monkeypatch):
    """The systems that were judged, in the order of the pieces."""
    pieces = []
    plain = assessing.assess

    def noting(system_ids, **options):
        pieces.append(sorted(system_ids))
        return plain(system_ids, **options)

    monkeypatch.setattr(assessing, "assess", noting)
    monkeypatch.setattr(assessing, "PIECE", 2)
    return pieces


def test_round_judges_each_system_once_and_the_next_waits_half_a_day(judged):
    ids = sorted(make.system().pk for _ in range(5))

    assessing.assess_in_turn(clock=lambda: NIGHT)
    assessing.assess_in_turn(clock=lambda: NIGHT + timedelta(hours=1))

    assert [pk for piece in judged for pk in piece] == ids
    assert JobBeat.objects.get(name=assessing.BEAT).reached == 0

    assessing.assess_in_turn(clock=lambda: NIGHT + timedelta(hours=13))

    assert [pk for piece in judged for pk in piece] == ids * 2


def test_round_goes_on_where_its_last_turn_ended(judged):
    ids = sorted(make.system().pk for _ in range(5))
    late = iter([NIGHT, NIGHT, NIGHT, *[NIGHT + timedelta(minutes=1)] * 90])

    assessing.assess_in_turn(clock=lambda: next(late))
    assert len(judged) < 3

    assessing.assess_in_turn(clock=lambda: NIGHT + timedelta(minutes=2))

    assert [pk for piece in judged for pk in piece] == ids
