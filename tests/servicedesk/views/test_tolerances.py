"""The firm's own figures for judging readings. 1 psi = 6894.757 Pa: NIST SP 811, appendix B.8."""

import pytest
from django.urls import reverse

from customers.models import Firm, Trail
from equipment.actions.assessment import tolerances_of
from equipment.condition.history import Tolerances
from servicedesk.models import JobBeat
from tests import make

pytestmark = pytest.mark.django_db
ADDRESS = reverse("tolerances")
PSI_PA = 6894.757


def test_manager_changes_a_figure_with_a_decimal_comma_and_all_systems_are_judged_again(client):
    make.firm()
    JobBeat.objects.create(name="assess", beat_at=make.MORNING, reached=7)
    client.force_login(make.manager())

    assert client.post(ADDRESS, {"pressure_pa": "0,8", "power_share": "15 %"}).status_code == 302

    now = tolerances_of(Firm.objects.get())
    assert now.pressure_pa == pytest.approx(0.8 * PSI_PA, rel=1e-6)
    assert now.power_share == pytest.approx(0.15)
    assert now.flow_share == Tolerances().flow_share
    beat = JobBeat.objects.get(name="assess")
    assert (beat.reached, beat.beat_at.year) == (0, 1970)
    assert Trail.objects.get().did == "changed the tolerances for readings"


def test_a_figure_out_of_range_comes_back_with_a_sentence_and_nothing_is_changed(client):
    make.firm()
    client.force_login(make.manager())
    page = client.post(ADDRESS, {"pressure_pa": "90"})

    assert page.status_code == 400
    assert "Give a figure from" in page.content.decode()
    assert Firm.objects.get().tolerances == {}


def test_what_is_left_empty_is_the_usual_figure_and_each_says_that_it_is_a_judgement(client):
    make.firm(tolerances={"flow_share": 0.3})
    client.force_login(make.manager())
    shown = client.get(ADDRESS).content.decode()
    assert shown.count("Our judgement, to be confirmed.") == 12
    assert 'value="30"' in shown

    client.post(ADDRESS, {"flow_share": ""})

    assert tolerances_of(Firm.objects.get()) == Tolerances()
