"""The office dates a state anew; the technician does not."""

import pytest

from customers.kinds import Role
from equipment.models import StateChange
from servicedesk.actions.states import record_state
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def change():
    make.firm()
    return record_state(
        make.system(), at=make.MORNING, state="failed", now=make.MORNING, reason="no air"
    )


def test_state_dated_anew_stands_at_its_new_moment_in_the_sites_time(client, change):
    client.force_login(make.manager())
    address = f"/states/{change.pk}/redate/"
    assert 'value="2026-06-01T10:00"' in client.get(address).content.decode()

    typed = {"at": "2026-05-28T07:30", "reason": "the owner heard it stop"}
    answer = client.post(address, typed)

    assert answer.url == f"/systems/{change.system_id}/"
    stands = StateChange.objects.standing().get(state="failed")
    assert (stands.at.isoformat(), stands.corrects) == ("2026-05-28T12:30:00+00:00", change)
    again = client.post(address, typed)
    assert again.status_code == 400
    assert "corrected before" in again.content.decode()


@pytest.mark.parametrize("typed", [{"at": "", "reason": "x"}, {"at": "2026-05-28T07:30"}])
def test_state_is_dated_anew_with_a_moment_and_a_reason_only(client, change, typed):
    client.force_login(make.manager())

    assert client.post(f"/states/{change.pk}/redate/", typed).status_code == 400
    assert not StateChange.objects.filter(corrects=change).exists()


def test_technician_dates_no_state_anew(client, change):
    client.force_login(make.user(Role.TECHNICIAN))

    assert client.get(f"/states/{change.pk}/redate/").status_code == 403
