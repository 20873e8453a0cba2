import json
from datetime import UTC, datetime
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def filter_():
    filter_ = make.filter_position()
    make.work(filter_, make.task(), done_at=datetime(2026, 8, 3, 18, tzinfo=UTC))
    return filter_


def printed(*arguments):
    out = StringIO()
    call_command("due", *arguments, stdout=out)
    return out.getvalue()


def test_due_prints_day_window_and_reason(filter_):
    text = printed("--on", "2026-11-25")

    assert "2026-12-01  2026-11-10 to 2026-12-15" in text
    assert "120 running days since the filter change of 3 August 2026." in text
    assert "1 due by 2026-12-16" in text


def test_due_looks_as_far_ahead_as_asked_and_tells_programs_in_json(filter_):
    assert json.loads(printed("--on", "2026-11-25", "--days", "5", "--json")) == []

    rows = json.loads(printed("--on", "2026-11-25", "--days", "130", "--json"))

    assert [row["due_on"] for row in rows] == ["2026-12-01", "2027-03-31"]
    assert rows[0]["place"] == f"{filter_.system.name}, {filter_.label}"
    assert rows[0]["place_key"] == f"position:{filter_.pk}"


@pytest.mark.parametrize(
    ("arguments", "says"), [(["--on", "25.11.2026"], "is no date"), (["--days", "-1"], "between")]
)
def test_due_refuses_what_makes_no_sense(arguments, says):
    with pytest.raises(CommandError, match=says) as caught:
        printed(*arguments)

    assert caught.value.returncode == 2
