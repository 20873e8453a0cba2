"""The pages of a handing over: what is typed is kept or comes back, with what to do."""

import re
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from customers.kinds import Role
from equipment.kinds import PositionKind, SystemState
from equipment.models import Component, Configuration, ConfigurationLine, Position, Reading, System
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.kinds import Point, Step
from servicedesk.models import Acknowledged, Commissioning, DoubtConfirmed, Photo
from tests import make
from tests.servicedesk.actions.commissioning import handing_over as hand
from tests.servicedesk.actions.commissioning.handing_over import NOW

pytestmark = pytest.mark.django_db


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


def address(system, step=""):
    return f"/systems/{system.pk}/commissioning/{f'{step}/' if step else ''}"


def fields(client, system, step):
    """What the page of a step holds, as a browser would send it back."""
    form = client.get(address(system, step)).context["form"]
    sent = {}
    for field in form.visible_fields():
        value, widget = field.value(), field.field.widget
        if hasattr(widget, "decompress"):
            parts = value if isinstance(value, list) else widget.decompress(value)
            sent |= {f"{field.html_name}_{n}": part for n, part in enumerate(parts)}
        elif not (field.name.startswith("photo_") or value is None or value is False):
            sent[field.html_name] = getattr(value, "pk", value)
    return sent


def send(client, system, step, **typed):
    """Sends a step's page with what is on it, changed by `typed`."""
    return client.post(address(system, step), fields(client, system, step) | typed)


def text(answer):
    return re.sub(r"\s+", " ", answer.content.decode())


def jpeg(name="phone.jpg"):
    return SimpleUploadedFile(name, hand.picture().getvalue(), "image/jpeg")


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


def again(client, system, step, answer, **typed):
    """Looks again at every question of a page that came back, and sends it once more."""
    assert answer.status_code == 400
    sure = [key for key, _ in answer.context["questions"]]
    bound = {k: v for k, v in answer.context["form"].data.items() if k != "sure"}
    return client.post(address(system, step), bound | typed | {"sure": sure})


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


def test_photo_is_kept_even_where_the_rest_of_the_page_is_wrong(client, dario, system):
    answer = send(client, system, "electrics", hours_per_day="25", photo_cabinet_open=jpeg())

    assert answer.status_code == 400
    photo = Photo.objects.get()
    assert (photo.kind, photo.by, photo.commissioning.system) == ("cabinet_open", dario, system)
    assert Path(photo.file.path).read_bytes()[:3] == b"\xff\xd8\xff"


def test_file_that_is_no_photo_is_refused_beside_its_field(client, dario, system):
    file = SimpleUploadedFile("plan.pdf", b"%PDF-1.7", "application/pdf")

    answer = send(client, system, "electrics", photo_cabinet_open=file)

    assert "as JPEG, PNG or WebP" in text(answer)
    assert not Photo.objects.exists()


def test_photo_is_shown_to_the_firms_people_alone(client, dario, system):
    photo = hand.show(system, "boil", by=dario)
    url = f"/photos/{photo.uuid}/"

    shown = client.get(url)
    assert b"".join(shown.streaming_content)[:3] == b"\xff\xd8\xff"
    assert (shown.status_code, shown["Content-Type"]) == (200, "image/jpeg")
    assert "private" in shown["Cache-Control"]
    assert shown["X-Content-Type-Options"] == "nosniff"
    client.logout()
    assert client.get(url).status_code == 302


def test_photo_whose_file_is_gone_is_not_found(client, dario, system):
    photo = hand.show(system, "boil", by=dario)
    Path(photo.file.path).unlink()

    assert client.get(f"/photos/{photo.uuid}/").status_code == 404


def test_new_model_of_compressor_joins_the_register(client, dario, system):
    answer = send(
        client,
        system,
        "compressor",
        model="",
        maker="Quillworks",
        model_name="V-3",
        compressor_kind="vane",
        pressure_max_pa_0="10",
        serial="V77",
        point_no_hour_meter="on",
    )

    assert answer.status_code == 302
    unit = hand.read(system).compressor.component
    assert (str(unit.type), unit.serial) == ("Quillworks V-3", "V77")
    assert unit.type.pressure_max_pa == pytest.approx(68_948, abs=1)


def test_unit_from_the_shelf_is_the_same_unit_with_its_hours(client, dario, system):
    kind = hand.read(system).compressor.component.type
    shelf = make.component(type=kind, serial="P900", hours_before=4200)

    send(client, system, "compressor", serial="p900", hours_before="4200")

    assert hand.read(system).compressor.component == shelf
    assert Component.objects.filter(type=kind).count() == 1


def test_number_that_sits_elsewhere_is_asked_about(client, dario, system):
    kind = hand.read(system).compressor.component.type
    make.fit(make.component(type=kind, serial="P901"), make.position())

    answer = send(client, system, "compressor", serial="P901")

    assert "Two units of one number do exist" in text(answer)


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


def test_one_button_puts_a_complete_system_into_service(client, dario, system):
    hand.complete(system)
    page = client.get(address(system))
    assert "Put it into service" in text(page)

    at = timezone.localtime(NOW, page.context["sheet"].zone)
    System.objects.update(installed_on=hand.INSTALLED_ON)
    answer = client.post(
        f"{address(system)}in-service/",
        {"at": f"{at:%Y-%m-%dT%H:%M}", "state": SystemState.RUNNING},
    )

    assert answer.status_code == 302
    record = Commissioning.objects.get()
    assert (record.in_service_by, record.in_service_at) == (dario, NOW)
    assert "by the word of Dario Lund" in text(client.get(address(system)))
    assert client.get(address(system, "site")).url == address(system)


def test_incomplete_system_is_not_put_into_service_by_whoever_knows_the_address(
    client, dario, system
):
    answer = client.post(
        f"{address(system)}in-service/", {"at": "2026-06-01T12:00", "state": "running"}
    )

    assert answer.status_code == 400
    assert Commissioning.objects.open().exists()


def test_office_plans_a_system_by_the_name_of_its_pond(client, dario):
    client.force_login(make.user(Role.OFFICE))
    pond = make.pond(name="Sedge Pond")
    sent = {"key": "A-7", "name": "", "installed_on": "2027-04-01", "pond": "sedge pond"}

    answer = client.post("/systems/new/", sent)

    system = System.objects.get(key="A-7")
    assert answer.url == address(system)
    assert (system.name, system.site) == ("Sedge Pond", pond.site)
    twin = make.pond(name="Sedge Pond")
    answer = client.post("/systems/new/", sent | {"key": "A-8"})
    assert f"{twin.key} (" in text(answer)


def test_system_of_the_register_is_handed_over_once_somebody_begins_the_record(client, dario):
    old = make.system(state=SystemState.INSTALLED)
    running = make.system()

    assert "Begin the record" not in text(client.get(address(old)))  # a technician looks
    client.force_login(make.manager())
    assert "without a commissioning record" in text(client.get(address(running)))
    client.post(f"{address(old)}begin/")
    client.post(f"{address(running)}begin/")

    assert [record.system for record in Commissioning.objects.all()] == [old]


def test_lists_lead_to_what_is_handed_over(client, dario, system):
    client.force_login(make.manager())

    assert address(system) in text(client.get("/systems/"))
    first = text(client.get("/"))
    assert "Being handed over" in first
    assert "things are missing before it may go into service" in first
    assert address(system) in text(client.get(f"/systems/{system.pk}/"))


def test_first_page_asks_as_much_for_one_handing_over_as_for_ten(client, dario, system):
    client.force_login(make.manager())

    def asked():
        with CaptureQueriesContext(connection) as queries:
            assert client.get("/").status_code == 200
        return len(queries)

    hand.complete(system, leaving_out=[hand.papers])
    one = asked()
    for number in range(9):
        hand.complete(hand.planned(key=f"B-{number}"), leaving_out=[hand.papers])

    assert asked() == one <= 40


def test_record_asks_no_more_for_ten_plates_than_for_one(client, dario, system):
    hand.complete(system)

    def asked():
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address(system)).status_code == 200
        return len(queries)

    one = asked()
    sheet = hand.read(system)
    for number in range(9):
        plate = make.position(
            PositionKind.DIFFUSER, system=system, pond=sheet.ponds[0], label=f"E{number}"
        )
        ConfigurationLine.objects.create(
            configuration=sheet.configuration, position=plate, depth_m=2
        )

    assert asked() == one <= 30


def test_each_step_says_its_cautions_and_never_the_one_word(client, dario, system):
    load_task_defaults()
    for step in Step:
        page = text(client.get(address(system, step)))
        assert not re.search(r"\bsafe\b", page, re.IGNORECASE), step
    assert "licensed electrician" in text(client.get(address(system, "electrics")))
    assert "Never alone in a boat" in text(client.get(address(system, "lines")))
    assert "Starting air after a stop" in text(client.get(address(system, "start")))


def test_office_begins_a_configuration_and_leaves_alone_what_did_not_change(client, dario, system):
    client.force_login(make.manager())
    hand.lines(system, by=dario, now=NOW)
    plate = hand.read(system).plates[0]
    url = f"/systems/{system.pk}/configuration/"
    form = client.get(url).context["form"]
    sent = {"name": "winter shallow", "because": "plates raised", "settles": "on"}
    sent["from_on"] = f"{hand.INSTALLED_ON + timedelta(days=3):%Y-%m-%d}"
    for name in form.ASKED:
        field = form[f"{name}_{plate.pk}"]
        widget = field.field.widget
        if hasattr(widget, "decompress"):
            parts = widget.decompress(field.value())
            sent |= {f"{field.html_name}_{n}": part for n, part in enumerate(parts)}
        else:
            sent[field.html_name] = field.value()
    sent |= {f"in_use_{plate.pk}": "on", f"check_valve_at_{plate.pk}": "diffuser"}

    refused = client.post(url, sent)
    assert "Nothing differs" in text(refused)
    answer = client.post(url, sent | {f"depth_m_{plate.pk}_0": "4"})

    assert answer.status_code == 302
    new = Configuration.objects.latest("from_on").lines.get()
    assert (new.depth_m, new.line_length_m, new.bore_m) == (pytest.approx(1.2192), 60.0, 0.0159)


def test_office_moves_a_system_and_both_ponds_tell_where_it_is(client, dario):
    client.force_login(make.manager())
    system = make.system()
    old, new = make.pond(site=system.site, name="Mill Pond"), make.pond(name="Heron Pond")
    make.position(PositionKind.DIFFUSER, system=system, pond=old, label="D1")
    at = timezone.localtime(timezone.now() - timedelta(hours=3), ZoneInfo(system.site.time_zone))

    answer = client.post(
        f"/systems/{system.pk}/move/", {"pond": new.key, "at": f"{at:%Y-%m-%dT%H:%M}"}
    )

    assert answer.url == address(system)
    assert Position.objects.lying().get(system=system).pond == new
    assert system.key in text(client.get(f"/ponds/{new.pk}/"))
    assert '<span class="water">Heron Pond</span>' in text(client.get(f"/systems/{system.pk}/"))
