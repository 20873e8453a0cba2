"""Who hands over what."""

import pytest

from tests import make
from tests.servicedesk.actions.commissioning import handing_over as hand


@pytest.fixture
def dario(client, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    make.firm()
    user = make.user(first_name="Dario", last_name="Lund")
    client.force_login(user)
    return user


@pytest.fixture
def system():
    return hand.planned()
