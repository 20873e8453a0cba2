"""The season page, a pond's year, what is seen from the bank, and the weather of regions."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.urls import reverse

from customers.kinds import Role, Units
from equipment.kinds import PositionKind, SystemState, WinterMode
from equipment.models import ProfilePoint, ReadingSet
from servicedesk.actions import due
from servicedesk.actions.capacity import season_now
from servicedesk.kinds import Clock, ObservationKind
from servicedesk.models import DayWeather, DueItem, Observation
from servicedesk.tables.seasons import basis, headline, season_sheet
from tests import make

pytestmark = pytest.mark.django_db
OCTOBER = datetime(2026, 10, 5, 15, tzinfo=UTC)
QUERIES_OF_A_PAGE = 3  # session, reader, firm
ON, OUT = ObservationKind.ICE_ON, ObservationKind.ICE_OUT


@pytest.fixture
def office(client):
    make.firm()
    client.force_login(make.user(Role.OFFICE, units=Units.US))
    return client


@pytest.fixture
def manager(client):
    make.firm()
    client.force_login(make.manager())
    return client


@pytest.fixture
def work():
    condition = {"winter_modes": [WinterMode.SHUT_DOWN]}
    fields = {"clock": Clock.SEASON, "every": None, "unit": "", "place_kind": "system"}
    for season in ("winter", "spring"):
        task = make.task(season=season, early_days=0, late_days=0, minutes=60, **fields)
        task.rhythms.update(condition=condition)


def served_pond(region, **fields):
    pond = make.pond(site=make.site(region=region))
    system = make.system(site=pond.site, winter_mode=WinterMode.SHUT_DOWN, **fields)
    make.position(PositionKind.DIFFUSER, system=system, pond=pond)
    return pond


def text(response):
    return response.content.decode()


def hours_a_day(hours):
    person = make.technician(shifts=False)
    for weekday in range(1, 8):
        person.shifts.create(
            weekday=weekday,
            starts=time(8),
            ends=time(8 + hours),
            lunch_min=0,
            from_on=date(2020, 1, 1),
        )


def test_ponds_that_miss_the_ice_are_counted_in_a_sentence_and_named(office, work):
    make.firm(day_full_percent=100)
    region = make.region()
    for _ in range(30):
        served_pond(region)
    hours_a_day(2)  # one at ponds: the window has fourteen days
    due.refresh_all(now=OCTOBER)

    found = season_now(now=OCTOBER)

    assert (found.season, found.capacity.jobs, found.capacity.person_days) == ("winter", 30, 14)
    assert headline(found) == "At this pace 16 ponds will miss ice-on."
    assert "Jobs left: 30, with 30 hours" in basis(found)
    sheet = season_sheet(now=OCTOBER, season="", reader_units="us")
    assert (sheet.rows[0].not_open, sheet.missing_count, len(sheet.missing)) == (30, 16, 16)
    assert "<svg" in sheet.chart


def test_region_shows_how_its_ponds_stand_and_what_is_not_decided(office, work):
    region = make.region(name="Lake country")
    for _ in range(4):
        served_pond(region)
    undecided = make.filter_position(make.system(site=make.site(region=region))).system
    make.task()
    due.refresh_all(now=OCTOBER)
    item = DueItem.objects.filter(task__season="winter").first()
    at = datetime(2026, 11, 5, 15, tzinfo=UTC)
    make.work(item.system, item.task, done_at=at)
    now = datetime(2026, 11, 6, 15, tzinfo=UTC)
    due.refresh_all(now=now)

    sheet = season_sheet(now=now, season="winter", reader_units="us")

    (row,) = sheet.rows
    assert (row.soon, row.done, row.late, row.undecided) == (3, 1, 0, 1)
    assert undecided.winter_mode == WinterMode.UNDECIDED


def test_season_page_shows_weather_as_a_hint_and_never_as_permission(office, work):
    region = make.region(name="Lake country")
    served_pond(region)
    today = datetime.now(UTC).date()
    for back in range(60):
        DayWeather.objects.create(
            region=region, on=today - timedelta(days=back), mean_c=-10, entered_at=OCTOBER
        )

    page = text(office.get(reverse("seasons")))

    assert "Still water far from bubbles may have grown 0 to" in page
    assert "Nobody goes onto the ice of a pond with air." in page


@pytest.mark.parametrize("rows", [1, 4])
def test_season_page_asks_the_database_the_same_number_of_times(
    rows, office, work, django_assert_num_queries
):
    for _ in range(rows):
        region = make.region()
        pond = served_pond(region)
        Observation.objects.create(
            site=pond.site,
            pond=pond,
            kind=OUT,
            seen_on=datetime.now(UTC).date(),
            by=make.user(),
            entered_at=OCTOBER,
        )
    hours_a_day(8)
    due.refresh_all(now=datetime.now(UTC))
    with django_assert_num_queries(17 + QUERIES_OF_A_PAGE):
        office.get(reverse("seasons"))


def test_what_somebody_sees_from_the_bank_is_kept_and_moves_the_plan(client, work):
    make.firm()
    client.force_login(make.user(Role.TECHNICIAN))
    pond = served_pond(make.region())
    page = text(client.get(reverse("see_pond", args=[pond.pk])))
    assert "Do not step onto the ice" in page

    today = datetime.now(UTC).date() - timedelta(days=1)
    said = {"kind": "layered", "seen_on": today.isoformat(), "note": "by profile"}
    response = client.post(reverse("see_pond", args=[pond.pk]), said, follow=True)

    assert "Kept. The plan follows it." in text(response)
    assert "by profile" in text(response)
    assert Observation.objects.get().by.role == Role.TECHNICIAN


def test_day_to_come_is_refused_beside_what_was_typed(office):
    pond = served_pond(make.region())
    ahead = (datetime.now(UTC).date() + timedelta(days=9)).isoformat()

    response = office.post(
        reverse("see_pond", args=[pond.pk]),
        {"kind": "mixed", "seen_on": ahead, "note": "typed words"},
    )

    assert response.status_code == 400
    assert "at most a year back" in text(response)
    assert "typed words" in text(response)


def test_page_goes_back_to_the_stop_and_to_no_other_house(office):
    pond = served_pond(make.region())
    yesterday = datetime.now(UTC).date() - timedelta(days=1)
    said = {"kind": "mixed", "seen_on": yesterday.isoformat()}
    url = reverse("see_pond", args=[pond.pk])

    assert office.post(f"{url}?back=/day/", said).url == "/day/"
    assert office.post(f"{url}?back=https://example.com/", said).url == f"/ponds/{pond.pk}/year/"


def test_manager_confirms_ice_that_came_back_and_the_office_takes_days_for_neighbours(manager):
    region = make.region()
    pond, near = served_pond(region), served_pond(region)
    waiting = Observation.objects.create(
        site=pond.site,
        pond=pond,
        kind=ON,
        seen_on=date(2026, 4, 9),
        by=make.user(),
        entered_at=OCTOBER,
        waits=True,
    )
    page = text(manager.get(reverse("sighting", args=[waiting.pk])))
    assert "Ice came back after an ice-out" in page
    manager.post(reverse("settle_sighting", args=[waiting.pk]), {"word": "holds"})
    page = text(manager.get(reverse("sighting", args=[waiting.pk])))
    assert near.name in page

    response = manager.post(
        reverse("take_sighting", args=[waiting.pk]), {"pond": [near.pk]}, follow=True
    )

    assert "Taken for 1 pond." in text(response)
    manager.post(reverse("strike_sighting", args=[waiting.pk]))
    assert not Observation.objects.standing().exists()


def test_year_of_a_pond_shows_ice_windows_states_and_profiles(office, work):
    pond = served_pond(make.region())
    set_ = ReadingSet.objects.create(
        pond=pond, taken_at=datetime(2026, 8, 3, 15, tzinfo=UTC), entered_at=OCTOBER
    )
    for depth, warm, oxygen in ((0, 25, 8), (2, 18, 3), (4, 14, None)):
        ProfilePoint.objects.create(set=set_, depth_m=depth, temperature_c=warm, oxygen_mg_l=oxygen)

    page = text(office.get(reverse("pond_year", args=[pond.pk]), {"winter": 2026}))

    assert "2026/2027" in page
    assert "usual in the region" in page
    assert "Ice usually forms about 5 December" in page
    assert page.count('<svg viewBox="0 0 260') == 2
    assert office.get(reverse("pond_year", args=[pond.pk]), {"winter": "x"}).status_code == 404


def test_year_of_a_pond_without_winter_says_so_and_a_southern_one_is_a_calendar_year(office):
    mild = served_pond(make.region(has_winter=False, ice_on_typical="", ice_out_typical=""))
    south = make.pond(site=make.site(region=make.region(), lat=-44.0))

    assert "Ponds do not freeze here" in text(office.get(reverse("pond_year", args=[mild.pk])))
    page = text(office.get(reverse("pond_year", args=[south.pk]), {"winter": 2026}))
    assert "</span> 2026<span>" in page


@pytest.mark.parametrize("rows", [1, 3])
def test_year_of_a_pond_asks_the_database_the_same_number_of_times(
    rows, office, django_assert_num_queries
):
    pond = served_pond(make.region())
    for _ in range(rows):
        system = make.system(site=pond.site, state=SystemState.FAILED)
        make.position(PositionKind.DIFFUSER, system=system, pond=pond)
    with django_assert_num_queries(6 + QUERIES_OF_A_PAGE):
        office.get(reverse("pond_year", args=[pond.pk]))


def test_weather_file_with_bad_lines_comes_back_to_be_mended_in_place(office):
    region = make.region(name="Lake country")
    make.system(site=make.site(region=region))
    lines = "date,mean_c\n2026-11-04,cold\n2026-11-05,-3\n"

    response = office.post(reverse("weather"), {"region": region.pk, "text": lines})

    assert response.status_code == 422
    assert "Line 2:" in text(response)
    assert "2026-11-04,cold" in text(response)
    assert not DayWeather.objects.exists()

    mended = {"region": region.pk, "text": lines.replace("cold", "-1")}
    response = office.post(reverse("weather"), mended, follow=True)
    assert "2 days were written." in text(response)
    assert DayWeather.objects.count() == 2
