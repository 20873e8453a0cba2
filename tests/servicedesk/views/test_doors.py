"""Who may open what; and no page carries script or style of its own."""

import re

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import get_resolver, reverse
from django.urls.exceptions import NoReverseMatch

from customers.kinds import Role
from tests import make
from tests.test_promises import promises

pytestmark = pytest.mark.django_db
OPEN_TO_ALL = {"health", "sign_in", "day_worker", "day_manifest"}
OFFICE_ONLY = ["/settings/"]
INLINE = [
    re.compile(r"<script(?![^>]*\bsrc=)(?![^>]*application/json)[^>]*>", re.IGNORECASE),
    re.compile(r"<style\b", re.IGNORECASE),
    re.compile(r"<[a-z][^>]*\sstyle\s*=", re.IGNORECASE),
    re.compile(r"<[a-z][^>]*\son[a-z]+\s*=", re.IGNORECASE),
    re.compile(r"javascript:", re.IGNORECASE),
]


def named_pages():
    """(name, address) of every page of ours whose address needs nothing filled in."""
    for pattern in get_resolver().url_patterns:
        name = getattr(pattern, "name", None)
        try:
            if name:
                yield name, reverse(name)
        except NoReverseMatch:
            continue


def some_pages():
    """The pages that need something filled in, and those of the records."""
    ticket = make.ticket()
    pond = make.pond(site=ticket.site)
    return [
        f"/systems/{ticket.system_id}/",
        f"/ponds/{pond.pk}/",
        f"/tickets/{ticket.pk}/",
        "/admin/",
        "/admin/customers/site/",
        f"/admin/customers/site/{ticket.site_id}/change/",
        "/admin/servicedesk/ticket/",
        "/nowhere/",
    ]


def is_page(answer):
    return answer.headers.get("Content-Type", "").startswith("text/html")


def faults(answer):
    text = answer.content.decode()
    found = [pattern.search(text) for pattern in INLINE]
    return [match.group(0)[:90] for match in found if match]


def test_no_page_carries_script_or_style_of_its_own_or_promises_too_much(client):
    make.firm()
    manager = make.manager()
    looked_at = 0
    for address in [*(address for _, address in named_pages()), *some_pages()]:
        client.force_login(manager)
        answer = client.get(address)
        assert answer.status_code != 500, address
        assert "script-src 'self'" in answer.headers.get("Content-Security-Policy", ""), address
        assert "unsafe" not in answer.headers["Content-Security-Policy"], address
        if is_page(answer):
            looked_at += 1
            assert faults(answer) == [], address
            assert promises(answer.content.decode()) == [], address
    assert looked_at > 12


def test_checker_of_pages_sees_what_it_looks_for():
    class Page:
        content = (
            b'<p style="x"><script>1</script><a onclick="y" href="javascript:z"><style></style>'
        )

    assert len(faults(Page)) == len(INLINE)


def test_nobody_reads_anything_without_signing_in(client):
    make.firm()
    addresses = [(name, address) for name, address in named_pages() if name not in OPEN_TO_ALL]
    assert len(addresses) > 6
    door = reverse("sign_in")
    for name, address in [*addresses, *((page, page) for page in some_pages()[:4])]:
        answer = client.get(address, follow=True)
        sent_to_the_door = answer.redirect_chain and answer.request["PATH_INFO"] == door
        closed = sent_to_the_door or answer.status_code in {401, 403, 404, 405}
        assert closed, f"{name}: {answer.status_code}"


@pytest.mark.parametrize("role", list(Role))
def test_everybody_of_the_firm_reads_systems_and_tickets(client, role):
    client.force_login(make.user(role))
    ticket = make.ticket()

    for address in ("/systems/", f"/systems/{ticket.system_id}/", f"/tickets/{ticket.pk}/"):
        assert client.get(address).status_code == 200


def test_technician_starts_with_his_day_and_stays_out_of_the_office(client):
    client.force_login(make.user())

    assert client.get("/").url == "/day/"
    for address in OFFICE_ONLY:
        assert client.get(address).status_code == 403
    assert client.get("/admin/", follow=True).status_code == 403


def test_office_reads_the_settings_and_only_the_manager_changes_them(client):
    firm = make.firm()
    client.force_login(make.user(Role.OFFICE))

    assert firm.reply_to in client.get("/settings/").content.decode()
    assert client.post("/settings/", {"name": "Other"}).status_code == 403
    assert client.get("/admin/", follow=True).status_code == 403
    firm.refresh_from_db()
    assert firm.name == "Alder & Rill Pond Air"


def test_refused_settings_keep_what_was_typed_and_change_nothing(client):
    firm = make.firm()
    client.force_login(make.manager())
    page = client.get("/settings/")
    typed = {k: v for k, v in page.context["form"].initial.items() if v is not None}
    answer = client.post("/settings/", typed | {"road_factor": "0.2", "name": "New name"})

    assert "never shorter than the straight line" in answer.content.decode()
    assert 'value="New name"' in answer.content.decode()
    firm.refresh_from_db()
    assert firm.name == "Alder & Rill Pond Air"


def test_what_does_not_exist_is_not_found(client):
    client.force_login(make.manager())

    for address in ("/systems/999/", "/ponds/999/", "/tickets/999/", "/nowhere/"):
        answer = client.get(address)
        assert answer.status_code == 404
        assert "There is nothing here" in answer.content.decode()


def test_person_without_an_active_account_is_sent_to_the_door(client):
    user = make.manager()
    client.force_login(user)
    user.is_active = False
    user.save()

    assert client.get("/systems/").status_code == 302


def test_name_and_password_open_the_door_and_five_wrong_ones_shut_it(client):
    make.firm()
    user = make.manager()
    right = {"username": user.username, "password": "a long enough one"}
    assert client.post("/accounts/login/", right).url == "/"
    assert client.post("/accounts/logout/").status_code == 302
    for _attempt in range(5):
        answer = client.post("/accounts/login/", right | {"password": "wrong"})

    assert answer.status_code == 429
    assert "Too many wrong passwords" in answer.content.decode()
    assert client.post("/accounts/login/", right).status_code == 429


def test_own_units_and_zone_are_kept(client):
    user = make.user()
    client.force_login(user)
    typed = {
        "first_name": "Dario",
        "units": "metric",
        "language": "en",
        "time_zone": "Europe/Paris",
    }

    assert client.post("/account/", typed).status_code == 302
    user.refresh_from_db()
    assert (user.units, user.time_zone) == ("metric", "Europe/Paris")
    assert client.post("/account/", typed | {"time_zone": "Mars/Base"}).status_code == 200


def test_records_of_what_happened_can_only_be_read(client):
    client.force_login(make.manager())
    ticket = make.ticket()
    page = f"/admin/servicedesk/ticket/{ticket.pk}/change/"

    assert client.get(page).status_code == 200
    assert client.post(page, {"because": "x"}).status_code == 403
    assert client.post(f"/admin/servicedesk/ticket/{ticket.pk}/delete/").status_code == 403
    assert client.get("/admin/servicedesk/ticket/add/").status_code == 403


def test_zone_that_does_not_exist_cannot_be_entered_anywhere(client):
    client.force_login(make.manager())
    site = make.site()
    page = client.get(f"/admin/customers/site/{site.pk}/change/")
    typed = {k: v for k, v in page.context["adminform"].form.initial.items() if v is not None}
    for formset in page.context["inline_admin_formsets"]:
        typed |= {f"{formset.formset.prefix}-TOTAL_FORMS": 0}
        typed |= {f"{formset.formset.prefix}-INITIAL_FORMS": 0}

    answer = client.post(
        f"/admin/customers/site/{site.pk}/change/", typed | {"time_zone": "Mars/X"}
    )
    assert answer.status_code == 200
    site.refresh_from_db()
    assert site.time_zone == "America/Chicago"
    moved = client.post(f"/admin/customers/site/{site.pk}/change/", typed | {"town": "Sorrel"})
    assert moved.status_code == 302


@pytest.mark.parametrize("name", ["400", "403", "404", "405", "500", "403_csrf", "locked_out"])
def test_page_of_a_fault_needs_nothing_and_says_what_to_do(name):
    page = render_to_string(f"{name}.html")

    assert "<h1>" in page
    assert 'href="/"' in page


def test_fault_of_ours_is_told_without_its_details(client, monkeypatch):
    def broken(*_):
        raise ValueError("secret detail")

    monkeypatch.setattr("servicedesk.views.systems.states_of", broken)
    client.force_login(make.manager())
    client.raise_request_exception = False
    answer = client.get(f"/systems/{make.system().pk}/")

    assert answer.status_code == 500
    page = answer.content.decode()
    assert "Something went wrong on our side" in page
    assert "secret detail" not in page


def test_form_without_its_token_changes_nothing():
    make.firm()
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(make.manager())
    answer = strict.post("/account/", {"first_name": "Other"})

    assert answer.status_code == 403
    assert "This page was open too long" in answer.content.decode()


def test_who_signs_in_again_after_pressing_a_button_reads_that_nothing_was_done(client):
    manager = make.manager()
    pressed = reverse("plan_week", args=["2026-W48"])
    door = client.post(pressed)
    assert door.url == f"/accounts/login/?next={pressed}"

    client.force_login(manager)
    answer = client.get(pressed)

    assert (answer.status_code, answer["Allow"]) == (405, "POST")
    assert "what you pressed was not done" in answer.content.decode()
