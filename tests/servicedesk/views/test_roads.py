"""Road factor and speed of each region: what is used, what it rests on, and by hand."""

import pytest
from django.urls import reverse

from customers.models import Region
from tests import make

pytestmark = pytest.mark.django_db
ADDRESS = reverse("road_figures")
MILE_KM = 1.609344  # NIST SP 811, appendix B.8


@pytest.fixture
def hills(client):
    make.firm(road_factor=1.3, speed_km_h=55)
    client.force_login(make.manager(units="us"))
    return make.region(name="Hills", learned_speed_km_h=40 * MILE_KM, speed_drives=31)


def test_page_says_what_each_figure_rests_on(client, hills):
    page = client.get(ADDRESS).content.decode()

    assert "learned from 31 drives" in page
    assert 'data-label="Speed, mi/h">40 ' in page
    assert "1.30" in page
    assert "the firm's" in page


def test_manager_sets_a_figure_by_hand_in_his_own_unit_and_takes_it_out_again(client, hills):
    names = [f"factor-{hills.pk}", f"speed-{hills.pk}"]
    client.post(ADDRESS, dict(zip(names, ["1,55", "30"], strict=True)))
    hills.refresh_from_db()
    assert hills.road_factor == 1.55
    assert hills.speed_km_h == pytest.approx(30 * MILE_KM)
    assert "by hand" in client.get(ADDRESS).content.decode()

    client.post(ADDRESS, dict(zip(names, ["", ""], strict=True)))
    hills.refresh_from_db()
    assert (hills.road_factor, hills.speed_km_h) == (None, None)


@pytest.mark.parametrize(
    ("factor", "speed", "says"),
    [("0.9", "", "from 1 to 3"), ("", "3", "from 3.11 to 80.8"), ("x", "", "not a number")],
)
def test_figure_out_of_range_comes_back_with_a_sentence(client, hills, factor, speed, says):
    page = client.post(ADDRESS, {f"factor-{hills.pk}": factor, f"speed-{hills.pk}": speed})

    assert page.status_code == 400
    assert says in page.content.decode()
    assert Region.objects.get().road_factor is None


def test_office_reads_and_does_not_press(client, hills):
    client.force_login(make.user("office"))

    assert "The service manager changes these." in client.get(ADDRESS).content.decode()
