"""Who may open which address and who may press there: every address of the house has its line."""

import pytest
from django.urls import get_resolver, reverse

from customers.kinds import Role
from servicedesk.kinds import AnswerKind, OfficeTaskKind
from servicedesk.models import OfficeTask
from tests import make

pytestmark = pytest.mark.django_db
ALL, OFFICE, MANAGER, NOBODY = "all staff", "office", "manager", "no such door"
WITHIN = {
    ALL: set(Role),
    OFFICE: {Role.MANAGER, Role.OFFICE},
    MANAGER: {Role.MANAGER},
}
OPEN = {
    "sign_in",
    "sign_out",
    "health",
    "start_manager",
    "day_worker",
    "day_manifest",
}  # before anybody has signed in
OF_OWNERS = {  # by a token
    "owner_page",
    "owner_answer",
    "owner_undo",
    "owner_stop_at_one_click",
    "owner_paper",
    "owner_photo",
    "owner_ramp_calendar",
}
OF_CALENDARS = {"calendar_feed"}  # by a token, too
OF_LABELS = {"label_page", "label_reported"}  # whoever stands at a cabinet
MATRIX = {  # who may look, who may press; a technician's own stops are decided stop by stop
    "home": (ALL, ALL),
    "handle_answer": (NOBODY, OFFICE),
    "handle_office_task": (NOBODY, OFFICE),
    "account": (ALL, ALL),
    "change_password": (ALL, ALL),
    "firm_settings": (OFFICE, MANAGER),
    "tolerances": (OFFICE, MANAGER),
    "road_figures": (OFFICE, MANAGER),
    "holds": (OFFICE, OFFICE),
    "days_without_van": (NOBODY, OFFICE),
    "hold": (OFFICE, NOBODY),
    "lift_hold": (NOBODY, OFFICE),
    "tell_of_heat": (NOBODY, OFFICE),  # only a manager's press writes to anybody
    "winters": (OFFICE, NOBODY),
    "customer_winter": (OFFICE, OFFICE),
    "system_winter": (OFFICE, NOBODY),
    "lift_winter_block": (NOBODY, OFFICE),  # by a manager alone, in his own name
    "tick_rule": (NOBODY, OFFICE),
    "record_bank_look": (NOBODY, OFFICE),
    "note_refusal": (NOBODY, OFFICE),
    "end_refusal": (NOBODY, OFFICE),
    "notices": (OFFICE, NOBODY),
    "notice_call": (OFFICE, OFFICE),
    "notice_texts": (OFFICE, MANAGER),
    "ice_rules": (OFFICE, NOBODY),
    "edit_ice_rules": (OFFICE, OFFICE),  # only a manager's press changes them
    "messages": (OFFICE, NOBODY),
    "message": (OFFICE, NOBODY),
    "message_html": (OFFICE, NOBODY),
    "message_again": (NOBODY, OFFICE),
    "message_settled": (NOBODY, OFFICE),
    "systems": (ALL, ALL),
    "new_system": (OFFICE, OFFICE),
    "commissioning": (ALL, NOBODY),
    "begin_commissioning": (NOBODY, OFFICE),
    "commissioning_step": (ALL, ALL),
    "put_in_service": (NOBODY, ALL),
    "photo": (ALL, NOBODY),
    "report": (ALL, NOBODY),  # a technician: of his own visit
    "report_paper": (ALL, NOBODY),
    "new_configuration": (OFFICE, OFFICE),
    "move_system": (OFFICE, OFFICE),
    "system": (ALL, ALL),
    "system_clocks": (ALL, NOBODY),
    "system_readings": (ALL, NOBODY),
    "confirm_baseline": (NOBODY, OFFICE),
    "record_gauge": (ALL, ALL),
    "valve_sheet": (ALL, NOBODY),
    "confirm_cause": (NOBODY, ALL),
    "calendar": (ALL, NOBODY),
    "pond": (ALL, ALL),
    "pond_year": (ALL, NOBODY),
    "see_pond": (ALL, ALL),
    "seasons": (OFFICE, NOBODY),
    "weather": (OFFICE, OFFICE),
    "sighting": (OFFICE, NOBODY),
    "settle_sighting": (NOBODY, MANAGER),
    "strike_sighting": (NOBODY, OFFICE),
    "take_sighting": (NOBODY, OFFICE),
    "exchange_unit": (ALL, ALL),  # a technician: at a site of his own route of today
    "unit_exchanged": (ALL, NOBODY),
    "unit": (ALL, NOBODY),
    "record_state": (OFFICE, OFFICE),
    "redate_state": (OFFICE, OFFICE),
    "restart": (ALL, NOBODY),
    "read_restart": (ALL, ALL),  # a technician: at a site of his own route of today
    "restart_act": (NOBODY, ALL),  # what each press asks is decided press by press
    "day_restart": (ALL, NOBODY),
    "strike_state": (OFFICE, OFFICE),
    "tickets": (ALL, ALL),
    "ticket": (ALL, NOBODY),
    "postpone_ticket": (NOBODY, OFFICE),
    "waive_ticket": (NOBODY, OFFICE),
    "cancel_ticket": (NOBODY, OFFICE),
    "withdraw_decision": (NOBODY, OFFICE),
    "accept_work": (NOBODY, OFFICE),
    "refuse_work": (NOBODY, OFFICE),
    "verify_work": (NOBODY, OFFICE),
    "what_ifs": (OFFICE, NOBODY),
    "new_what_if": (OFFICE, OFFICE),
    "what_if": (OFFICE, NOBODY),
    "what_if_progress": (OFFICE, NOBODY),
    "cancel_what_if": (NOBODY, OFFICE),
    "delete_what_if": (NOBODY, OFFICE),
    "what_if_csv": (OFFICE, NOBODY),
    "stock": (ALL, NOBODY),
    "van": (ALL, ALL),  # a technician writes in his own
    "load_list": (ALL, ALL),  # a technician: his own
    "part_orders": (ALL, OFFICE),
    "part_order": (NOBODY, OFFICE),
    "way_in": (ALL, OFFICE),
    "recalls": (ALL, NOBODY),
    "open_recall": (MANAGER, MANAGER),
    "recall": (ALL, NOBODY),
    "recall_csv": (ALL, NOBODY),
    "close_recall": (NOBODY, MANAGER),
    "recall_outcome": (NOBODY, OFFICE),
    "recall_serial": (NOBODY, OFFICE),
    "calculations": (ALL, NOBODY),
    "calculation": (ALL, NOBODY),
    "tasks": (ALL, ALL),
    "task": (ALL, MANAGER),
    "load_register": (OFFICE, OFFICE),
    "register_template": (OFFICE, NOBODY),
    "check_register": (OFFICE, OFFICE),
    "start": (MANAGER, MANAGER),
    "start_firm": (MANAGER, MANAGER),
    "start_people": (MANAGER, MANAGER),
    "my_day": (ALL, NOBODY),
    "day_stop": (ALL, NOBODY),
    "show_way_in": (NOBODY, ALL),
    "see_claim": (NOBODY, ALL),
    "begin_check_in": (NOBODY, ALL),  # at his own stop
    "longer_check_in": (NOBODY, ALL),  # his own
    "end_check_in": (NOBODY, ALL),
    "resolve_check_in": (NOBODY, OFFICE),
    "labels": (OFFICE, NOBODY),
    "label_sheet": (NOBODY, OFFICE),
    "labels_printed": (NOBODY, OFFICE),
    "replace_label": (OFFICE, OFFICE),
    "see_news": (NOBODY, ALL),  # of his own day
    "close_ticket": (ALL, ALL),
    "ticket_not_done": (ALL, ALL),
    "day_visit": (ALL, ALL),
    "correct_visit": (ALL, ALL),  # a technician: his own, on the day
    "receive_visits": (NOBODY, ALL),
    "receive_photo": (NOBODY, ALL),
    "photos_without_visit": (OFFICE, NOBODY),
    "receive_check_in": (NOBODY, ALL),
    "day_session": (ALL, NOBODY),
    "this_week": (OFFICE, NOBODY),
    "week": (OFFICE, NOBODY),
    "plan_week": (NOBODY, OFFICE),
    "plan_progress": (OFFICE, NOBODY),
    "cancel_plan": (NOBODY, OFFICE),
    "publish_week": (OFFICE, OFFICE),
    "place_ticket": (OFFICE, OFFICE),
    "week_day": (OFFICE, NOBODY),
    "reopen_day": (NOBODY, OFFICE),
    "day_export": (ALL, NOBODY),  # a technician: his own published days
    "calendar_link": (OFFICE, OFFICE),  # and each technician his own
    "repair_week": (OFFICE, OFFICE),
    "repair": (OFFICE, NOBODY),
    "accept_repair": (NOBODY, OFFICE),
    "undo_repair": (NOBODY, OFFICE),
    "place_best": (NOBODY, OFFICE),
    "pull_forward": (OFFICE, OFFICE),
    "hand_changes": (OFFICE, NOBODY),
    "undo_change": (NOBODY, OFFICE),
    "move_stop": (OFFICE, OFFICE),
    "split_stop": (OFFICE, OFFICE),
    "add_to_stop": (OFFICE, OFFICE),
    "keep_stop": (NOBODY, OFFICE),
    "take_off_stop": (NOBODY, OFFICE),
    "drop_stop": (OFFICE, OFFICE),
}
FILLED = {  # what stands in an address; where there is no such record, rights are asked first
    "pk": 1,
    "pond_pk": 1,
    "note_pk": 1,
    "language": "en",
    "uuid": "7a3d2f16-50a5-4a04-8a22-6ff7d6d3a001",
    "kind": "csv",
    "act": "approve",
    "key": "pressure-at-a-depth",
    "digest": "0" * 64,
    "name": "2026-W23",
    "technician": "nobody",
    "day": "2026-06-01",
    "step": "site",
    "form": "gpx",
}


def named():
    patterns = get_resolver().url_patterns
    return {p.name: p for p in patterns if getattr(p, "name", None)}


def address(name):
    wanted = named()[name].pattern.converters
    return reverse(name, kwargs={key: FILLED[key] for key in wanted})


def test_every_address_has_its_line_and_no_line_is_left_over():
    assert set(named()) == set(MATRIX) | OPEN | OF_OWNERS | OF_CALENDARS | OF_LABELS


@pytest.mark.parametrize("role", list(Role))
def test_each_role_opens_and_presses_what_is_its_own_and_nothing_else(client, role):
    make.firm()
    OfficeTask.objects.create(pk=1, kind=OfficeTaskKind.OTHER, text="x", opened_at=make.MORNING)
    make.answer(make.contact(), AnswerKind.CALL_ME, pk=1)
    make.task(pk=1)
    client.force_login(make.user(role))
    wrong = []
    for name, audiences in MATRIX.items():
        for method, audience in zip(("get", "post"), audiences, strict=True):
            status = getattr(client, method)(address(name)).status_code
            allowed = role in WITHIN.get(audience, ())
            if audience == NOBODY:
                fits = status in {403, 405}
            else:
                fits = (status != 403) == allowed and status not in {405, 500}
            if not fits:
                wrong.append((name, method, status, audience))
    assert wrong == []
