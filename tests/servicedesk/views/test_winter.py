"""The pages of winters: a customer's table, what bars a run, notices, calls, words and rules."""

import re
from datetime import UTC, datetime

import pytest
from django.test import Client
from django.urls import reverse

from customers.kinds import ContactRoleKind, Role
from equipment.kinds import WinterMode
from servicedesk.actions.winter.notices import open_notices
from servicedesk.kinds import AnswerKind, HoldKind
from servicedesk.models import (
    Hold,
    IceRules,
    NoticeDelivery,
    NoticeText,
    RefusedNote,
    Reminder,
    WinterDecision,
    WinterLifted,
)
from tests import make

pytestmark = pytest.mark.django_db
SEPTEMBER = datetime(2026, 9, 5, 15, tzinfo=UTC)
QUESTIONS = ("people_on_ice", "signs_refused", "fish_at_risk", "deep_few_fish", "mild_winter")
QUESTIONS += ("cold_sensitive_fish", "waterfowl", "livestock")


@pytest.fixture(autouse=True)
def in_september(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: SEPTEMBER)


@pytest.fixture
def priya(client):
    make.firm(emergency_phone="911")
    user = make.manager(first_name="Priya", last_name="Nand")
    client.force_login(user)
    return user


def pond_with_system(owner, number=1):
    site = make.site(owner=owner, name=f"Site {number}", lat=44.5)
    pond = make.pond(site=site, name=f"Pond {number}")
    system = make.system(site=site, name=f"Cabinet {number}")
    make.position("diffuser", system=system, pond=pond)
    return system, pond


def answered(system, **answers):
    prefix = f"s{system.pk}-"
    given = dict.fromkeys(QUESTIONS, "no") | {"permit": "not_needed"} | answers
    return {prefix + key: value for key, value in given.items()}


def test_answers_are_kept_and_point_to_an_option_that_a_press_decides(client, priya):
    owner = make.customer()
    system, _pond = pond_with_system(owner)
    page = reverse("customer_winter", args=[owner.pk])

    client.post(page, answered(system, fish_at_risk="yes"))
    shown = client.get(page).content.decode()
    client.post(
        page,
        answered(system, fish_at_risk="yes", decided="run_shallow") | {"decided_by": "Ines H."},
    )

    assert "A: run shallow" in shown
    standing = WinterDecision.objects.standing().get()
    assert (standing.decided, standing.decided_by, standing.recorded_by) == (
        "run_shallow",
        "Ines H.",
        priya,
    )
    system.refresh_from_db()
    assert system.winter_mode == WinterMode.RUN_SHALLOW
    assert WinterDecision.objects.count() == 2  # the answers of before stay on record


def test_deciding_otherwise_wants_a_reason_and_loses_nothing_that_was_typed(client, priya):
    owner = make.customer()
    system, _pond = pond_with_system(owner)
    page = reverse("customer_winter", args=[owner.pk])
    typed = answered(system, people_on_ice="yes", decided="run_deep") | {"decided_by": "Ines H."}

    refused = client.post(page, typed | {f"s{system.pk}-permit_note": "Asked the county"})

    assert refused.status_code == 422
    words = refused.content.decode()
    assert "Give the reason" in words
    assert "Asked the county" in words
    assert not WinterDecision.objects.exists()


def test_one_answer_for_all_fills_only_what_is_open(client, priya):
    owner = make.customer()
    first, _ = pond_with_system(owner, 1)
    second, _ = pond_with_system(owner, 2)
    typed = answered(first, people_on_ice="yes") | answered(second, people_on_ice="unknown")

    client.post(reverse("customer_winter", args=[owner.pk]), typed | {"all_people_on_ice": "no"})

    said = {d.system_id: d.answers["people_on_ice"] for d in WinterDecision.objects.all()}
    assert said == {first.pk: "yes", second.pk: "no"}


@pytest.mark.parametrize("ponds", [1, 3])
def test_table_of_a_customer_reads_the_database_the_same_number_of_times(
    client, priya, ponds, django_assert_max_num_queries
):
    owner = make.customer()
    for number in range(ponds):
        pond_with_system(owner, number)
    page = reverse("customer_winter", args=[owner.pk])
    client.get(page)

    with django_assert_max_num_queries(36):
        assert client.get(page).content.count(b"rowgroup") == ponds


@pytest.mark.parametrize("ponds", [1, 3])
def test_lists_of_winters_and_notices_read_the_database_the_same_number_of_times(
    client, priya, ponds, django_assert_max_num_queries
):
    owner = make.customer()
    make.contact(customer=owner, name="Ines Halvorsen")
    systems = [pond_with_system(owner, number)[0] for number in range(ponds)]
    open_notices(systems, now=SEPTEMBER)
    for name in ("winters", "notices"):
        client.get(reverse(name))
        with django_assert_max_num_queries(30):
            assert client.get(reverse(name)).status_code == 200


def test_only_a_manager_lifts_a_block_and_none_lifts_a_missing_permit(client, priya):
    owner = make.customer()
    system, _pond = pond_with_system(owner)
    lift = reverse("lift_winter_block", args=[system.pk])

    refused = client.post(lift, {"block": "permit", "reason": "It is only a form"})
    lifted = client.post(lift, {"block": "notice", "reason": "All of them were here on Friday"})
    office = Client()
    office.force_login(make.user(Role.OFFICE))
    by_office = office.post(lift, {"block": "plan", "reason": "Because"})

    assert refused.status_code == 422
    assert "Nobody can lift this" in refused.content.decode()
    assert lifted.status_code == 302
    assert by_office.status_code == 422
    row = WinterLifted.objects.get()
    assert (row.block, row.by, row.reason) == ("notice", priya, "All of them were here on Friday")


def test_refusal_bars_the_run_until_the_owner_agrees(client, priya):
    owner = make.customer()
    system, pond = pond_with_system(owner)
    page = reverse("system_winter", args=[system.pk])

    client.post(
        reverse("note_refusal", args=[system.pk, pond.pk]),
        {
            "kind": "signs",
            "recommended": "Signs on the bank",
            "because": "People skate there",
            "said_by": "Ines H.",
            "said_on": "2026-09-04",
            "how": "by phone",
        },
    )
    barred = client.get(page).content.decode()
    note = RefusedNote.objects.get()
    client.post(reverse("end_refusal", args=[system.pk, note.pk]), {"why": "Ines takes the signs"})

    assert "The owner refuses signs" in barred
    assert "The owner refuses signs" not in client.get(page).content.decode()
    note.refresh_from_db()
    assert (note.noted_by, note.ended_note) == (priya, "Ines takes the signs")


def test_look_from_the_bank_is_kept_at_the_time_of_the_site(client, priya):
    system, pond = pond_with_system(make.customer())
    look = {"ice": "covered", "people_on_ice": "no", "signs_standing": "yes"}
    look |= {"marking_placed": "yes", "at": "2026-09-05T09:00", "note": "Fog"}

    client.post(reverse("record_bank_look", args=[system.pk, pond.pk]), look)
    later = client.post(
        reverse("record_bank_look", args=[system.pk, pond.pk]), look | {"at": "2026-09-06T09:00"}
    )

    assert pond.bank_looks.get().at == datetime(2026, 9, 5, 14, tzinfo=UTC)
    assert later.status_code == 422
    assert "still to come" in later.content.decode()


def test_call_is_recorded_with_who_spoke_and_when(client, priya):
    owner = make.customer()
    make.contact(customer=owner, name="Ines Halvorsen", phone="+1 202 555 0111")
    system, _pond = pond_with_system(owner)
    open_notices([system], now=SEPTEMBER)
    row = NoticeDelivery.objects.get()

    listed = client.get(reverse("notices")).content.decode()
    client.post(
        reverse("notice_call", args=[row.pk]),
        {"name": "Ines Halvorsen", "called_at": "2026-09-05T10:00", "note": ""},
    )

    assert "+1 202 555 0111" in listed
    row.refresh_from_db()
    assert (row.acknowledged_name, row.by_phone, row.called_by) == ("Ines Halvorsen", True, priya)
    assert row.acknowledged_at == SEPTEMBER
    assert "Nobody is waited for" in client.get(reverse("notices")).content.decode()


def test_new_words_are_a_new_version_and_promise_nothing(client, priya):
    page = reverse("notice_texts", args=["en"])
    before = client.get(page).context["in_force"]
    longer = before.text + "\n\nAsk before you let guests onto the shore."

    refused = client.post(page, {"text": before.text + "\n\nThe far side is safe."})
    client.post(page, {"text": longer})

    assert refused.status_code == 422
    assert "“safe” promises" in refused.content.decode()
    assert list(NoticeText.objects.values_list("version", flat=True).order_by("version")) == [1, 2]
    assert NoticeText.objects.get(version=1).text == before.text


def test_line_of_the_local_rules_bars_until_it_is_ticked(client, priya):
    system, _pond = pond_with_system(make.customer())
    region = make.region()
    system.site.region = region
    system.site.save()
    line = "Signs at each access."

    client.post(
        reverse("edit_ice_rules", args=["region", region.pk]),
        {"permit": "yes", "checklist": line, "no_choice": ["notice"], "asked": "County, 1 Sep"},
    )
    page = reverse("system_winter", args=[system.pk])
    barred = client.get(page).content.decode()
    client.post(reverse("tick_rule", args=[system.pk]), {"line": line})

    assert IceRules.objects.get().checklist == [line]
    assert f"The local authority asks: {line}" in barred
    assert f"The local authority asks: {line}" not in client.get(page).content.decode()


def test_where_no_rules_are_entered_the_local_authority_is_to_be_asked(client, priya):
    make.region(name="Lake country")

    words = client.get(reverse("ice_rules")).content.decode()

    assert "Ask the local authority" in words
    assert "does not apply near an aerator" in words


def test_manager_writes_to_owners_under_a_heat_hold(client, priya):
    owner = make.customer()
    make.contact(customer=owner, name="Ines Halvorsen")
    system, _pond = pond_with_system(owner)
    make.due_item(make.ticket(at=system))
    hold = Hold.objects.create(
        kind=HoldKind.HEAT,
        site=system.site,
        from_on="2026-09-05",
        to_on="2026-09-08",
        reason="Hot and still",
    )

    client.post(reverse("tell_of_heat", args=[hold.pk]))
    client.post(reverse("tell_of_heat", args=[hold.pk]))

    assert Reminder.objects.filter(topic="heat_advisory").count() == 1


def test_owners_wish_stands_beside_the_row(client, priya):
    owner = make.customer()
    ines = make.contact(customer=owner, name="Ines Halvorsen", role=ContactRoleKind.OWNER)
    system, _pond = pond_with_system(owner)
    make.answer(
        ines,
        AnswerKind.WINTER_SHUT,
        said={"systems": [system.pk]},
        recorded_at=SEPTEMBER,
    )

    words = re.sub(
        r"\s+", " ", client.get(reverse("customer_winter", args=[owner.pk])).content.decode()
    )

    assert "B: shut down and drain" in words
    assert "Ines Halvorsen" in words
