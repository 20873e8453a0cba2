"""Pages that lead on: what may have been meant, and what asks for a look."""

from datetime import timedelta

import pytest
from django.utils import timezone

from equipment.models import Assessment
from servicedesk.forms.commissioning.measures import MeasureField
from servicedesk.kinds import Clock, Mark
from servicedesk.models import Rhythm, Route, Stop
from tests import make

pytestmark = pytest.mark.django_db


def judged(system, word, *, days_ago):
    at = timezone.now() - timedelta(days=days_ago)
    Assessment.objects.create(system=system, at=at, because="", basis={"word": word})


def test_pond_that_nobody_finds_is_answered_with_ponds_that_are_called_alike(client):
    client.force_login(make.manager())
    system, near = make.system(), make.pond(name="Mill Pond")
    make.pond(name="Heron Pool")

    answer = client.post(
        f"/systems/{system.pk}/move/", {"pond": "mill po", "at": "2026-11-20T09:00"}
    )

    said = answer.context["form"].errors["pond"][0]
    assert near.key in said
    assert "Mill Pond" in said
    assert "Heron" not in said


def test_who_moved_a_system_is_told_to_which_pond_and_site(client):
    client.force_login(make.manager())
    system, there = make.system(), make.pond(name="Mill Pond")
    at = f"{timezone.now() - timedelta(days=1):%Y-%m-%dT%H:%M}"

    page = client.post(
        f"/systems/{system.pk}/move/", {"pond": "mill pond", "at": at}, follow=True
    ).content.decode()

    assert f"Moved to {there}, {there.site}. It goes into service" in page


def test_system_goes_to_a_pond_of_somebody_else_only_with_a_tick_that_names_both(client):
    client.force_login(make.manager())
    mine, theirs = make.contact().customer, make.contact().customer
    system = make.system(site=make.site(owner=mine))
    there = make.pond(site=make.site(owner=theirs), name="Mill Pond")
    at = f"{timezone.now() - timedelta(days=1):%Y-%m-%dT%H:%M}"
    address, asked = f"/systems/{system.pk}/move/", {"pond": there.key, "at": at}
    page = client.post(address, asked)

    assert page.status_code == 400
    assert f"It goes from {mine} to {theirs}" in page.content.decode()
    done = client.post(address, asked | {"sure": "on"}, follow=True)
    assert "Moved to" in done.content.decode()


def test_pond_with_no_likeness_sends_to_the_register(client):
    client.force_login(make.manager())
    system = make.system()

    answer = client.post(f"/systems/{system.pk}/move/", {"pond": "zzz", "at": "2026-11-20T09:00"})

    assert "load the register" in answer.context["form"].errors["pond"][0]


@pytest.mark.parametrize(
    ("published", "said"),
    [((True, True), ", published"), ((True, False), "partly published"), ((False,), "not publis")],
)
def test_first_page_says_of_a_week_whether_days_of_it_are_drafts(client, published, said):
    client.force_login(make.manager())
    for is_published in published:
        route = Route.objects.create(
            technician=make.technician(),
            day=timezone.localdate(),
            published_at=timezone.now() if is_published else None,
        )
        at = timezone.now()
        Stop.objects.create(route=route, site=make.site(), number=1, arrive_at=at, leave_at=at)

    assert said in " ".join(client.get("/").content.decode().split())


def test_first_page_counts_systems_by_what_their_newest_readings_say(client):
    client.force_login(make.manager())
    wrong, mended = make.system(), make.system()
    judged(wrong, "finding", days_ago=3)
    judged(mended, "finding", days_ago=3)
    judged(mended, "mended", days_ago=1)

    page = client.get("/")

    assert page.context["to_look_at"] == 1
    assert 'href="/systems/?said=finding">1 system<' in page.content.decode()
    listed = client.get("/systems/?said=finding").content.decode()
    assert f'href="/systems/{wrong.pk}/"' in listed
    assert f'href="/systems/{mended.pk}/"' not in listed


def test_task_that_several_events_call_for_says_so_once(client):
    client.force_login(make.manager())
    task = make.task(clock=Clock.EVENT, every=None, unit="")
    Rhythm.objects.create(task=task, number=2, clock=Clock.EVENT, mark=Mark.JUDGEMENT)
    Rhythm.objects.create(task=task, number=3, clock=Clock.CAL, every=30, unit="d", mark=task.mark)

    page = client.get("/tasks/").content.decode()

    assert ">when something calls for it or 30 days</td>" in page


def test_stored_depth_is_asked_in_feet_that_a_tape_shows_and_left_alone_stays_as_it_was():
    field = MeasureField("length", low=0.2, high=60)
    field.read_in("us", 3.658)

    typed = field.widget.decompress(3.658)

    assert typed == ["12", "ft"]  # 12.001 ft
    assert field.compress(typed) == 3.658
