"""A repair that somebody is back from, and what technicians find of it on their phones."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.repairs import what
from servicedesk.actions.routes.repairs.accept import undo
from servicedesk.models import Absence, Route
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.test_repairs import (
    MORNING,
    WEDNESDAY,
    look,
    place,
    publish,
    sick,
    take,
    where,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def people():
    weeks.firm()
    names = ("Dario", "Wen", "Ines")
    return [make.technician(user=make.user(first_name=n, last_name="Lund")) for n in names]


def sites(routes, word):
    return {site for route in routes for site in route.news.get(word, [])}


def test_technician_finds_on_his_phone_what_a_repair_changed_and_nothing_once_it_is_taken_back(
    people,
):
    moved, other = place(people[0]), place(people[1], east=0.2)
    place(people[2], east=0.3)
    publish()
    repair = take(sick(people[0]))
    routes = Route.objects.filter(technician__in=people[1:])

    assert sites(routes, "new") == {moved.site_id}
    assert other.site_id not in sites(routes, "gone")
    undo(repair, by=None, today=WEDNESDAY, now=MORNING)
    assert sites(routes.all(), "new") == sites(routes.all(), "gone") == set()


def test_technician_who_has_read_of_a_repair_hears_that_it_was_taken_back(people):
    moved = place(people[0])
    place(people[1], east=0.2)
    place(people[2], east=0.3)
    publish()
    repair = take(sick(people[0]))
    Route.objects.update(news={})
    undo(repair, by=None, today=WEDNESDAY, now=MORNING)

    assert sites(Route.objects.all(), "gone") == {moved.site_id}


def test_stops_after_the_hour_at_which_somebody_is_back_stay_with_him(people):
    early, late = place(people[0]), place(people[0], east=0.3)
    publish()
    first, second = sorted([early, late], key=lambda ticket: ticket.stops.get().arrive_at)
    back = second.stops.get().arrive_at
    says = what.away(people[0], WEDNESDAY, WEDNESDAY, to_at=back)
    take(look(says))

    assert where(second) == [("Dario", WEDNESDAY)]
    assert first.stops.get().route.technician != people[0] or first.stops.get().arrive_at >= back
    assert Absence.objects.get().to_at is not None
    assert f"back at {back.astimezone(ZoneInfo('America/Chicago')):%H:%M}" in says.says


def test_year_that_was_typed_wrong_is_refused(people):
    with pytest.raises(RouteRefused, match="more than a year away"):
        what.away(people[0], WEDNESDAY, WEDNESDAY.replace(year=2126))


def test_one_day_away_in_its_middle_is_refused_because_only_one_part_is_planned(people):
    noon = MORNING + timedelta(hours=5)
    with pytest.raises(RouteRefused, match="only one part of a day is planned"):
        what.away(people[0], WEDNESDAY, WEDNESDAY, from_at=noon, to_at=noon + timedelta(hours=1))
