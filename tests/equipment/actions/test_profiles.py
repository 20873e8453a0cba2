"""Profiles of a pond come in as typed: refused, asked about, kept."""

import uuid

import pytest

from equipment.actions.profiles import Probe, ProfileRefused, record_profile
from equipment.models import ProfilePoint, ReadingSet
from tests import make

pytestmark = pytest.mark.django_db


def record(pond, *probes, **fields):
    start = {"taken_at": make.MORNING, "entered_at": make.MORNING, "taken_by": None}
    typed = {"depth_unit": "ft", "temperature_unit": "F"}
    return record_profile(
        pond, probes=[Probe(*probe) for probe in probes], **start | typed | fields
    )


def test_profile_is_kept_in_the_units_it_was_typed_in():
    # 1 ft = 0.3048 m exactly; 77 degF = 25 degC (NIST SP 811)
    record(make.pond(), ("1", "77", "8,2"), ("10", "59", ""))

    kept = list(
        ProfilePoint.objects.order_by("depth_m").values_list(
            "depth_m", "temperature_c", "oxygen_mg_l"
        )
    )
    assert kept[0] == pytest.approx((0.3048, 25, 8.2))
    assert (kept[1][1], kept[1][2]) == (pytest.approx(15), None)


def test_warmer_water_below_is_asked_about_and_kept_once_confirmed():
    pond, probes = make.pond(), [("1", "70", ""), ("10", "75", "")]

    with pytest.raises(ProfileRefused, match="warmer than the water above") as refused:
        record(pond, *probes)
    assert refused.value.question
    assert ReadingSet.objects.count() == 0

    record(pond, *probes, confirmed=True)
    assert ProfilePoint.objects.count() == 2


def test_winter_profile_with_warmer_water_below_is_not_asked_about():
    record(make.pond(), ("1", "34", ""), ("10", "39", ""))

    assert ProfilePoint.objects.count() == 2


@pytest.mark.parametrize(
    ("probes", "says"),
    [
        ([("1", "270", "")], "must lie between"),
        ([("1", "70", ""), ("1", "71", "")], "stands twice"),
        ([("1", "", "")], "needs a temperature or an oxygen"),
        ([("", "70", "")], "At no depth"),
        ([("-2", "70", "")], "without a sign"),
        ([], "needs a temperature"),
    ],
)
def test_profile_that_cannot_be_is_refused_whole_even_when_confirmed(probes, says):
    with pytest.raises(ProfileRefused, match=says) as refused:
        record(make.pond(), *probes, confirmed=True)

    assert not refused.value.question
    assert ReadingSet.objects.count() == 0


def test_same_profile_sent_twice_is_kept_once():
    pond, key = make.pond(), uuid.uuid4()
    for _ in range(2):
        record(pond, ("1", "70", "8"), key=key)

    assert ProfilePoint.objects.count() == 1
