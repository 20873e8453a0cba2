"""The pages of a handing over: what is typed is kept or comes back, with what to do."""

import re

import pytest

from equipment.models import ConfigurationLine, Reading
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.kinds import Point, Step
from servicedesk.models import Acknowledged, Commissioning, DoubtConfirmed
from tests.servicedesk.actions.commissioning import handing_over as hand
from tests.servicedesk.actions.commissioning.handing_over import NOW
from tests.servicedesk.views.commissioning.pages import address, again, fields, send, text

pytestmark = pytest.mark.django_db


def test_page_says_what_is_missing_and_leads_there(client, dario, system):
    page = text(client.get(address(system)))

    count = re.search(r"(\d+) things are missing before it may go into service\.", page)
    assert int(count.group(1)) > 25
    assert "The way in</a>" in page
    assert address(system, "papers") in page
    assert "Put it into service" not in page


def test_step_keeps_what_was_typed_and_goes_on(client, dario, system):
    answer = send(client, system, "site", way_in="North gate.", point_hazards_looked_for="on")
    assert "whether the public reaches the water" in text(answer)

    answer = again(client, system, "site", answer)

    assert answer.url == address(system, "people")
    system.site.refresh_from_db()
    assert system.site.way_in == "North gate."
    assert Acknowledged.objects.get().by == dario


def test_odd_value_is_asked_about_and_kept_with_the_name_of_who_looked_again(client, dario, system):
    answer = send(client, system, "electrics", cabinet_above_water_m_0="1.5")

    page = text(answer)
    assert answer.status_code == 400
    assert "less than 2 ft (0.6 m) over the highest water known" in page
    assert 'value="1.5"' in page
    assert Commissioning.objects.get().cabinet_above_water_m is None
    again(client, system, "electrics", answer)
    assert Commissioning.objects.get().cabinet_above_water_m == pytest.approx(0.4572)
    row = DoubtConfirmed.objects.get()
    assert (row.by, row.step) == (dario, Step.ELECTRICS)
    assert send(client, system, "electrics").status_code == 302  # asked once


def test_confirming_one_value_does_not_confirm_another(client, dario, system):
    answer = send(client, system, "electrics", hours_per_day="3")
    sure = [key for key, _ in answer.context["questions"]]

    answer = send(client, system, "electrics", hours_per_day="2", sure=sure)

    assert answer.status_code == 400
    assert "2 hours a day are few" in text(answer)


@pytest.mark.parametrize(
    ("step", "typed", "says"),
    [
        ("electrics", {"cabinet_above_water_m_0": "99"}, "between -3.281 and 98.425 ft"),
        ("electrics", {"cabinet_above_water_m_0": "1,250"}, "can be read in two ways"),
        ("electrics", {"hours_per_day": "25"}, "between 0 and 24"),
        ("electrics", {"gfci_tested_on": "2199-01-01"}, "lies ahead"),
        (
            "electrics",
            {"locate_ticket": "26-1", "point_nothing_dug": "on"},
            "so something was dug",
        ),
        ("compressor", {"serial": "P1", "current_a": "90"}, "between 0.1 and 60"),
        ("compressor", {"gauge_full_scale_0": "15"}, "Say which gauge"),
        ("compressor", {"maker": "Brookmade", "model": ""}, "belong together"),
        ("lines", {"depth_m_0": "300"}, "between 0.7 and 196.9 ft"),
        ("lines", {"bore_m_0": "9"}, "between 0.12 and 3.15 in"),
        ("people", {"phone": "+1 202 555 0190"}, "Give the name"),
        ("people", {"name": "Corin Dell"}, "phone number or a mail address"),
        ("start", {"started_at": "2026-05-30T10:00"}, "Before air is started, these are missing"),
        ("readings", {}, "Enter the pressure"),
        ("papers", {"point_talk_given": "on"}, "Say it: it stands beside the point"),
        ("papers", {"winter": "hibernate"}, "hibernate"),
    ],
)
def test_what_cannot_be_right_is_refused_with_a_sentence_and_nothing_is_lost(
    client, dario, system, step, typed, says
):
    sent = fields(client, system, step) | typed
    sent |= {"cabinet_note": "Steel on a slab"} if step == "electrics" else {}

    answer = client.post(address(system, step), sent)

    page = text(answer)
    assert answer.status_code == 400
    assert says in page
    assert step != "electrics" or 'value="Steel on a slab"' in page
    system.refresh_from_db()
    assert system.cabinet_note == ""


def test_pond_depth_must_not_be_less_than_its_mean(client, dario, system):
    pond = hand.read(system).ponds[0]

    answer = send(
        client,
        system,
        "pond",
        **{f"depth_max_m_{pond.pk}_0": "6", f"depth_mean_m_{pond.pk}_0": "9"},
    )

    assert "mean cannot be over the greatest depth" in text(answer)


def test_page_sent_back_unchanged_does_not_round_what_is_stored(client, dario, system):
    hand.lines(system, by=dario, now=NOW)
    plate = hand.read(system).plates[0]
    page = client.get(f"{address(system, 'lines')}?plate={plate.pk}")
    sent = {"plate": plate.pk, "in_use": "on"}
    for field in page.context["form"].visible_fields():
        value, widget = field.value(), field.field.widget
        if hasattr(widget, "decompress"):
            sent |= {f"{field.html_name}_{n}": p for n, p in enumerate(widget.decompress(value))}
        elif not (value is None or field.name.startswith(("photo_", "point_"))):
            sent[field.html_name] = getattr(value, "pk", value)

    answer = client.post(address(system, "lines"), sent)

    assert answer.status_code == 302
    line = ConfigurationLine.objects.get()
    assert (line.depth_m, line.line_length_m, line.bore_m) == (3.4, 60.0, 0.0159)


def test_odd_reading_is_asked_about_and_kept_as_typed(client, dario, system):
    for step in hand.STEPS[: hand.STEPS.index(hand.readings)]:
        step(system, by=dario, now=NOW)
    plate = hand.read(system).plates[0]
    typed = {"pressure_0": "59", f"bubbles_{plate.pk}": "3"}

    answer = send(client, system, "readings", **typed)
    assert answer.status_code == 400
    again(client, system, "readings", answer)

    reading = Reading.objects.get(quantity="pressure")
    assert (reading.typed_value, reading.typed_unit, reading.doubtful) == ("59", "psi", False)
    assert any("59 psi" in row.says for row in DoubtConfirmed.objects.all())


def test_nothing_dug_can_be_taken_back(client, dario, system):
    send(client, system, "electrics", point_nothing_dug="on")
    assert Acknowledged.objects.filter(point=Point.NOTHING_DUG).exists()

    send(client, system, "electrics", back_nothing_dug="on")

    assert not Acknowledged.objects.filter(point=Point.NOTHING_DUG).exists()


def test_each_step_says_its_cautions_and_never_the_one_word(client, dario, system):
    load_task_defaults()
    for step in Step:
        page = text(client.get(address(system, step)))
        assert not re.search(r"\bsafe\b", page, re.IGNORECASE), step
    assert "licensed electrician" in text(client.get(address(system, "electrics")))
    assert "Never alone in a boat" in text(client.get(address(system, "lines")))
    assert "Starting air after a stop" in text(client.get(address(system, "start")))
