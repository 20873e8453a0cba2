"""The technician's pages: what they show, refuse and keep, and what a browser would send."""

import uuid
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from customers.models import SecretLook, SiteSecret
from equipment.kinds import Moment, PartRole
from equipment.models import Part, Reading, ReadingSet
from servicedesk.actions.due import refresh_sites
from servicedesk.models import DueItem, PartUsed, StopTicket, Ticket, Visit, Work
from tests import make
from tests.servicedesk.views.phone_day import ZONE, Day, Fields, text, today

pytestmark = pytest.mark.django_db
QUERIES = [13, 17, 31]  # of the day, a stop, a ticket with its bands; for one row and for three


@pytest.fixture
def day(client):
    return Day(client)


def test_the_day_lists_the_stops_in_driving_order(client):
    day = Day(client, stops=3)
    day.stops[0].number = 9
    day.stops[0].save()

    page = client.get("/day/")

    assert [stop.number for stop in page.context["stops"]] == [2, 3, 9]
    assert "Quill Mere" in text(page)
    assert "Filter change, Cabinet A" in text(page)


def test_a_day_without_a_published_route_says_so(client, day):
    assert "No stops are published for you on this day" in text(client.get("/day/?on=2026-01-02"))

    day.route.published_at = None
    day.route.save()
    assert "No stops are published for you today" in text(client.get("/day/"))


@pytest.mark.parametrize("wrong", ["2026-02-30", "tomorrow", "0001-01-01", "9999-12-31"])
def test_a_day_that_does_not_exist_is_refused_in_a_sentence(client, day, wrong):
    page = client.get("/day/", {"on": wrong})

    assert page.status_code == 400
    assert wrong in text(page)


def test_the_manager_sees_anybodys_day(client, day):
    client.force_login(make.manager())

    assert "Quill Mere" in text(client.get("/day/"))
    assert client.get(reverse("day_stop", args=[day.stop.uuid])).status_code == 200
    assert client.get(day.address).status_code == 200


def test_another_technicians_stop_and_ticket_are_refused_in_a_sentence(client, day):
    client.force_login(make.technician(shifts=False).user)

    for address in [reverse("day_stop", args=[day.stop.uuid]), day.address]:
        page = client.get(address)
        assert page.status_code == 403
        assert "route" in text(page)
    assert "Quill Mere" not in text(client.get("/day/"))


def test_what_does_not_exist_is_not_found(client, day):
    assert client.get(reverse("day_stop", args=[uuid.uuid4()])).status_code == 404
    assert client.get(reverse("close_ticket", args=[999_999])).status_code == 404


def test_a_gate_code_is_shown_on_a_tap_and_the_look_is_kept(client, day):
    secret = SiteSecret.objects.create(
        site=day.stop.site, kind="gate_code", text="4471", entered_at=make.MORNING
    )
    stop = client.get(reverse("day_stop", args=[day.stop.uuid]))
    assert "4471" not in text(stop)
    assert SecretLook.objects.count() == 0

    shown = client.post(reverse("show_way_in", args=[day.stop.uuid]))

    assert "4471" in text(shown)
    look = SecretLook.objects.get()
    assert (look.secret, look.by) == (secret, day.dario)


def test_a_code_that_he_looked_at_stays_on_his_page_until_the_day_is_over(client, day):
    secret = SiteSecret.objects.create(
        site=day.stop.site, kind="gate_code", text="4471", entered_at=make.MORNING
    )
    stop = reverse("day_stop", args=[day.stop.uuid])
    client.post(reverse("show_way_in", args=[day.stop.uuid]))

    assert "4471" in text(client.get(stop))
    assert SecretLook.objects.count() == 1
    client.force_login(make.manager())
    assert "4471" not in text(client.get(stop))
    client.force_login(day.dario)
    SecretLook.objects.update(at=timezone.now() - timedelta(days=1))
    assert "4471" not in text(client.get(stop))
    SecretLook.objects.update(at=timezone.now())
    secret.until_on = today() - timedelta(days=1)
    secret.save()
    assert "4471" not in text(client.get(stop))


def test_a_gate_code_is_not_for_another_day_nor_for_a_colleague(client, day):
    SiteSecret.objects.create(
        site=day.stop.site, kind="gate_code", text="4471", entered_at=make.MORNING
    )
    address = reverse("show_way_in", args=[day.stop.uuid])
    day.route.day = today() - timedelta(days=1)
    day.route.save()
    assert client.post(address).status_code == 403
    assert "day of the visit only" in text(client.get(reverse("day_stop", args=[day.stop.uuid])))

    day.route.day = today()
    day.route.save()
    client.force_login(make.technician(shifts=False).user)
    assert client.post(address).status_code == 403
    assert client.get(address).status_code == 405
    assert SecretLook.objects.count() == 0


def test_the_fitted_models_part_is_chosen_already_and_the_last_value_stands_beside(client, day):
    seen_at = timezone.now() - timedelta(days=100)
    last = ReadingSet.objects.create(
        system=day.ticket.system, moment=Moment.AS_LEFT, taken_at=seen_at, entered_at=seen_at
    )
    Reading.objects.create(
        set=last, quantity="pressure", value=44_816, typed_value="6.5", typed_unit="psi"
    )

    page = client.get(day.address)

    chosen = f"works.{day.ticket.pk}.parts.{Part.objects.get().pk}"
    assert Fields(page).data[chosen] == "1"
    assert "Last 6.5\u00a0psi on " in text(page)
    assert 'inputmode="decimal"' in text(page)


def test_an_inspection_chooses_no_part_and_reads_the_water_of_the_pond(client, day):
    day.ticket = make.ticket(
        at=day.ticket.system,
        task=make.task(
            slug="annual_inspection",
            place_kind="system",
            position_kind="",
            part_roles=[PartRole.FILTER_ELEMENT],
            readings=["pressure", "oxygen", "line_pressure"],
        ),
    )
    StopTicket.objects.create(stop=day.stop, ticket=day.ticket)
    data = day.filled()
    pond = day.stop.site.ponds.get()

    client.post(day.address, data | {f"ponds.{pond.pk}.oxygen.typed": "8,5"})

    assert PartUsed.objects.count() == 0
    oxygen = Reading.objects.get(quantity="oxygen")
    assert (oxygen.value, oxygen.set.pond, oxygen.set.system) == (8.5, pond, None)


def test_what_a_browser_sends_closes_the_ticket_and_is_shown_as_received(client, day):
    answer = client.post(day.address, day.filled())

    assert answer.status_code == 302
    assert answer.url == reverse("day_visit", args=[Visit.objects.get().uuid])
    assert Work.objects.get().found == {"condition": "loaded"}
    assert PartUsed.objects.get().part.number == "F-121"
    assert Visit.objects.get().stop == day.stop
    assert "1 ticket closed." in text(client.get(answer.url))


def test_a_page_sent_twice_is_one_visit(client, day):
    data = day.filled()
    for _ in range(2):
        assert client.post(day.address, data).status_code == 302

    assert (Visit.objects.count(), PartUsed.objects.count()) == (1, 1)


def test_a_refused_page_comes_back_with_every_value_and_a_sentence_at_the_field(client, day):
    data = day.filled(left__pressure__typed="640", left_running="")
    data |= {"note": "Gate hinge is loose", f"works.{day.ticket.pk}.parts.1": ""}

    page = client.post(day.address, data)

    assert page.status_code == 400
    assert "Pressure must lie between 0 and 150 psi" in text(page)
    assert "Is it running as you leave?" in text(page)
    kept = Fields(page).data
    assert kept["uuid"] == data["uuid"]
    assert kept[f"systems.{day.ticket.system_id}.left.pressure.typed"] == "640"
    assert kept[f"works.{day.ticket.pk}.found.condition"] == "loaded"
    assert kept["note"].strip() == "Gate hinge is loose"
    assert (Visit.objects.count(), Work.objects.count(), Reading.objects.count()) == (0, 0, 0)


def test_not_done_with_a_reason_leaves_the_ticket_open(client, day):
    address = reverse("ticket_not_done", args=[day.ticket.pk])
    data = Fields(client.get(address)).data
    assert client.post(address, data).status_code == 400

    answer = client.post(address, data | {f"works.{day.ticket.pk}.not_done_reason": "weather"})

    assert answer.status_code == 302
    day.ticket.refresh_from_db()
    assert day.ticket.closed_at is None
    assert "Not done" in text(client.get(answer.url))
    assert "Not done" in text(client.get(reverse("day_stop", args=[day.stop.uuid])))


def test_a_stop_of_another_day_is_closed_with_the_time_at_which_he_was_there(client, day):
    monday = today() - timedelta(days=3)
    day.route.day = monday
    day.route.save()
    assert client.get(day.address).status_code == 403
    data = day.filled(on=monday)

    assert "Say when you were here." in text(client.post(day.address, data))

    answer = client.post(day.address, data | {"arrived_at": f"{monday}T09:10"})
    assert answer.status_code == 302
    arrived_at = Visit.objects.get().arrived_at.astimezone(ZoneInfo(ZONE))
    assert arrived_at.isoformat()[:16] == f"{monday}T09:10"


def test_a_closed_ticket_may_be_closed_again_and_says_that_both_are_looked_at(client, day):
    client.post(day.address, day.filled())

    assert "This ticket was closed before." in text(client.get(day.address))
    answer = client.post(day.address, day.filled())
    assert "The office looks at both." in text(client.get(answer.url))


def test_a_reading_typed_wrong_is_corrected_on_the_same_day_by_a_new_row(client, day):
    address = client.post(day.address, day.filled()).url
    wrong = Reading.objects.get(quantity="pressure")

    refused = client.post(address, {"reading": wrong.pk, "typed": "640", "unit": "psi"})
    assert refused.status_code == 400
    assert "must lie between" in text(refused)

    assert client.post(address, {"reading": wrong.pk, "typed": "6,9", "unit": "psi"}).url == address
    assert Reading.objects.standing().get(quantity="pressure").typed_value == "6,9"
    assert "6,9 psi" in text(client.get(address))


def test_what_was_received_on_another_day_is_corrected_by_the_office_only(client, day):
    address = client.post(day.address, day.filled()).url
    Visit.objects.update(received_at=timezone.now() - timedelta(days=2))
    correction = {
        "reading": Reading.objects.get(quantity="pressure").pk,
        "typed": "6",
        "unit": "psi",
    }

    assert client.post(address, correction).status_code == 403
    client.force_login(make.technician(shifts=False).user)
    assert client.get(address).status_code == 403
    client.force_login(make.manager())
    assert client.post(address, correction).status_code == 302


@pytest.mark.parametrize("number", ["", "x", "999999", "1" * 40])
def test_a_reading_that_the_visit_does_not_have_is_not_found(client, day, number):
    address = client.post(day.address, day.filled()).url
    assert client.post(address, {"reading": number, "typed": "6"}).status_code == 404


@pytest.mark.parametrize(
    ("seen", "verified", "state"), [("yes", True, "accepted"), ("no", False, "refused")]
)
def test_what_the_owner_says_he_did_is_looked_at_on_the_next_stop(
    client, day, seen, verified, state
):
    stop = reverse("day_stop", args=[day.stop.uuid])
    claim = make.work(
        day.ticket.position,
        make.task(slug="filter_check", by_owner=True, name="Filter check"),
        done_at=timezone.now() - timedelta(days=5),
        done_by="owner",
        verified=False,
    )
    refresh_sites([claim.site_id], now=timezone.now())
    item = DueItem.objects.get(task=claim.task)
    assert "Filter check: done by the owner's word." in text(client.get(stop))

    answer = client.post(
        reverse("see_claim", args=[day.stop.uuid]), {"item": item.pk, "seen": seen}
    )

    assert answer.url == stop
    claim.refresh_from_db()
    assert (claim.verified, claim.state) == (verified, state)
    assert "owner's word" not in text(client.get(stop))


def test_one_visit_closes_several_tickets_of_the_stop(client, day):
    other = make.ticket(
        at=day.ticket.system,
        task=make.task(slug="cabinet_check", place_kind="system", position_kind="", name="Cabinet"),
    )

    client.post(day.address, day.filled() | {f"works.{other.pk}.outcome": "done"})

    visit = Visit.objects.get()
    assert set(visit.works.values_list("ticket", flat=True)) == {day.ticket.pk, other.pk}
    assert Ticket.objects.open().count() == 0


def test_names_of_ponds_are_text_and_never_markup(client, monkeypatch):
    monkeypatch.setattr(Day, "pond", lambda self, site: make.pond(site=site, name="<b>Mere</b>"))
    day = Day(client)

    for address in ["/day/", reverse("day_stop", args=[day.stop.uuid]), day.address]:
        assert "<b>Mere</b>" not in client.get(address).content.decode()


@pytest.mark.parametrize("stops", [1, 3])
def test_each_page_reads_the_database_equally_often_for_one_row_and_for_three(
    client, stops, django_assert_max_num_queries
):
    day = Day(client, stops=stops)
    for number in range(stops):
        task = make.task(slug=f"extra-{number}", place_kind="system", position_kind="")
        extra = make.ticket(at=day.ticket.system, task=task)
        StopTicket.objects.create(stop=day.stop, ticket=extra)
    counts = []
    for address in ["/day/", reverse("day_stop", args=[day.stop.uuid]), day.address]:
        with django_assert_max_num_queries(31) as asked:
            assert client.get(address).status_code == 200
        counts.append(len(asked))
    assert counts == QUERIES
