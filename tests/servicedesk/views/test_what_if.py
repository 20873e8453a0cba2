"""What if: asking, watching, reading and downloading a comparison, with and without script."""

import csv
import io

import pytest
from django.core.management import call_command

from customers.kinds import Role
from servicedesk.actions.whatif import runs
from servicedesk.kinds import PlanState
from servicedesk.models import WhatIf
from servicedesk.planning.whatif.settings import Interval, Settings
from tests import make

pytestmark = pytest.mark.django_db
NOW = make.MORNING
FOR_BOTH = {"weeks": 52, "iterations": 400, "seed": 1, "per_way": "0.97", "per_hour": "40"}


@pytest.fixture
def office(client):
    make.firm()
    client.force_login(make.user(Role.OFFICE))
    return client


@pytest.fixture
def dario():
    return make.technician(user=make.user(first_name="Dario", last_name="Lund"))


def pond():
    place = make.filter_position()
    place.pond = make.pond(site=place.system.site)
    place.save()
    return make.task(name="Change the filter", every=60, part_roles=["filter_element"])


def played(b, *, weeks=30, words=("More ponds",)):
    asked = runs.ask_what_if(
        "More ponds",
        Settings(),
        b,
        by=None,
        now=NOW,
        words=([], list(words)),
        weeks=weeks,
        iterations=5,
    )
    runs.start_what_ifs(launch=lambda side: call_command("simulate", asked.pk, side=side.side))
    runs.collect_what_ifs(clock=lambda: NOW)
    return asked


def text(answer):
    return answer.content.decode()


def test_empty_list_says_what_may_be_asked(office):
    assert "Nothing was compared yet." in text(office.get("/what-if/"))


def test_changes_are_asked_for_in_words_and_kept(office, dario):
    make.technician()
    task = pond()
    answer = office.post(
        "/what-if/new/",
        FOR_BOTH
        | {
            "b-absent": [dario.pk],
            "b-ponds": "60",
            "b-task_1": task.pk,
            "b-interval_1": "150d",
            "b-shop_lat": "45.1",
            "b-shop_lon": "-93.2",
            "b-full_percent": "90",
        },
    )

    asked = WhatIf.objects.get()
    assert answer.headers["Location"] == f"/what-if/{asked.pk}/"
    a, b = asked.sides.order_by("side")
    assert Settings.from_data(a.changes) == Settings()
    assert Settings.from_data(b.changes) == Settings(
        absent=(str(dario.pk),),
        ponds=60,
        intervals={task.slug: Interval(150, "d")},
        shop=(45.1, -93.2),
        full_percent=90,
    )
    assert b.words == [
        "One technician fewer (Dario Lund)",
        "60 ponds more",
        "Change the filter every 150 days",
        "The shop at 45.1, -93.2",
        "Days filled to 90 %",
    ]
    assert asked.per_km == pytest.approx(0.97 / 1.609344, rel=1e-6)  # asked for by the mile


def test_two_equal_settings_are_sent_back(office):
    answer = office.post("/what-if/new/", FOR_BOTH)

    assert answer.status_code == 422
    assert "Both settings are the same." in text(answer)
    assert not WhatIf.objects.exists()


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"b-interval_1": "150d"}, "go together"),
        ({"b-shop_lat": "45"}, "both latitude and longitude"),
        ({"b-ponds": "-3"}, "greater than or equal to 0"),
        ({"a-factor": "0"}, "greater than or equal to 0.1"),
        ({"weeks": "0", "b-ponds": "1"}, "greater than or equal to 1"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(office, fields, said):
    answer = office.post("/what-if/new/", FOR_BOTH | fields)

    assert answer.status_code == 422
    assert said in text(answer)


def test_year_without_anybody_is_sent_back(office, dario):
    fields = FOR_BOTH | {"b-absent": [dario.pk]}

    assert "let one stay, or add one" in text(office.post("/what-if/new/", fields))
    assert office.post("/what-if/new/", fields | {"b-added": "1"}).status_code == 302


@pytest.mark.parametrize(
    ("typed", "said"), [("soon", "is no interval"), ("90h", "is counted in d: use one of these")]
)
def test_interval_that_does_not_fit_its_task_is_explained(office, typed, said):
    fields = {"b-task_1": pond().pk, "b-interval_1": typed}

    assert said in text(office.post("/what-if/new/", FOR_BOTH | fields))


@pytest.mark.parametrize(("typed", "is_doubted"), [("3d", True), ("x7", True), ("150d", False)])
def test_interval_far_from_todays_is_asked_about_once(office, typed, is_doubted):
    fields = FOR_BOTH | {"b-task_1": pond().pk, "b-interval_1": typed}
    answer = office.post("/what-if/new/", fields)

    assert (answer.status_code == 422) == is_doubted
    if is_doubted:
        assert f"I mean {typed}" in text(answer)
        assert office.post("/what-if/new/", fields | {"b-sure_1": "on"}).status_code == 302


def test_result_stands_as_sentence_pictures_tables_and_assumptions(office, dario):
    pond()
    asked = played(Settings(ponds=2))
    page = text(office.get(f"/what-if/{asked.pk}/"))

    assert "More ponds: 0 late tasks in 30 weeks instead of 0" in page
    assert "30 simulated weeks from Mon 1 Jun 2026" in page
    assert page.count("<figure") == 3
    assert "<desc>Pairs of bars, one pair a month. June 2026: A" in page
    assert "filter element" in page
    assert "All that is planned is done on its day." in page
    assert "hx-get" not in page
    assert f'href="/what-if/{asked.pk}/months.csv"' in page


def test_csv_holds_every_month_as_plain_numbers(office, dario):
    pond()
    asked = played(Settings(absent=(str(dario.pk),)))
    answer = office.get(f"/what-if/{asked.pk}/months.csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))

    paid = [row for row in rows if row["Measure"] == "Paid time"]
    assert [float(row["B"]) for row in paid] == [0] * len(paid)
    assert [row["Difference"] for row in paid] == [f"-{row['A']}" for row in paid]
    assert len({row["Month"] for row in rows}) == 7


def test_progress_is_shown_and_can_be_stopped(office):
    asked = runs.ask_what_if("x", Settings(), Settings(ponds=1), by=None, now=NOW)
    page = text(office.get(f"/what-if/{asked.pk}/"))
    assert 'http-equiv="refresh"' in page  # without script
    assert "Both settings are being simulated" in page

    side = runs.take_side(asked.pk, "a")
    runs.go_on(side, read_percent=100)
    piece = text(office.get(f"/what-if/{asked.pk}/progress/", headers={"HX-Request": "true"}))
    assert "A: 0 of 52 weeks." in piece

    office.post(f"/what-if/{asked.pk}/cancel/")
    asked.refresh_from_db()
    assert asked.cancel_asked_at
    assert "Stopping" in text(office.get(f"/what-if/{asked.pk}/progress/"))


def test_page_loads_anew_when_the_year_is_over(office):
    asked = runs.ask_what_if("x", Settings(), Settings(ponds=1), by=None, now=NOW)
    runs.cancel_what_if(asked, now=NOW)
    address = f"/what-if/{asked.pk}/progress/"

    assert office.get(address, headers={"HX-Request": "true"}).headers["HX-Refresh"] == "true"
    assert office.get(address).headers["Location"] == f"/what-if/{asked.pk}/"
    assert "nothing to compare" in text(office.get(f"/what-if/{asked.pk}/"))


def test_comparison_is_deleted_once_it_is_over(office):
    asked = runs.ask_what_if("x", Settings(), Settings(ponds=1), by=None, now=NOW)
    office.post(f"/what-if/{asked.pk}/delete/")
    assert WhatIf.objects.exists()

    WhatIf.objects.update(state=PlanState.DONE)
    office.post(f"/what-if/{asked.pk}/delete/")
    assert not WhatIf.objects.exists()


@pytest.mark.parametrize("rows", [1, 3])
def test_list_reads_the_database_the_same_for_one_and_three(
    rows, office, django_assert_max_num_queries
):
    for _ in range(rows):
        runs.ask_what_if("x", Settings(), Settings(ponds=1), by=make.manager(), now=NOW)
    with django_assert_max_num_queries(8):
        office.get("/what-if/")
