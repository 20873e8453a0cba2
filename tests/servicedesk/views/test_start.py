"""The first start: one link, one manager, then firm and people."""

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from customers.kinds import Role
from customers.models import Firm, User
from servicedesk.actions import setup
from servicedesk.models import Shift, Technician
from tests import make

pytestmark = pytest.mark.django_db
PASSWORD = "coot under the willow"
MANAGER = {"first_name": "Priya", "last_name": "Nand", "username": "priya"}
MANAGER |= {"password": PASSWORD, "password_again": PASSWORD}
FIRM = {"name": "Alder & Rill", "phone": "+1 202 555 0100", "reply_to": "office@example.com"}
FIRM |= {"language": "en", "time_zone": "America/Chicago", "units": "us"}
FIRM |= {"shop_lat": "44.5", "shop_lon": "-94.2"}
COLLEAGUE = {"role": "technician", "first_name": "Dario", "last_name": "Lund", "username": "dario"}
COLLEAGUE |= {"password": PASSWORD, "password_again": PASSWORD, "skill": "technician"}
COLLEAGUE |= {"weekdays": [1, 2, 3], "starts": "07:30", "ends": "16:00", "lunch_min": 30}


@pytest.fixture
def link():
    setup.TOKEN.unlink(missing_ok=True)
    yield setup.start_address("")
    setup.TOKEN.unlink(missing_ok=True)


def test_token_is_for_the_owner_of_the_machine_alone(link):
    assert setup.TOKEN.stat().st_mode & 0o777 == 0o600
    assert setup.start_address("") == link


def test_command_prints_the_link_until_there_is_a_manager(link, capsys):
    call_command("start_link")
    assert capsys.readouterr().out.strip().endswith(link)

    make.manager()
    with pytest.raises(CommandError, match="has its manager already"):
        call_command("start_link")


@pytest.mark.parametrize("address", ["/start/", "/start/guessed-token-guessed/"])
def test_stranger_without_the_link_makes_no_manager(client, link, address):
    assert client.get(address).status_code == 403
    assert client.post(address, MANAGER).status_code == 403
    assert not User.objects.exists()


def test_firm_is_led_from_the_link_to_its_register(client, link):
    assert client.post(link, MANAGER).url == reverse("start_firm")
    assert client.post(reverse("start_firm"), FIRM).url == reverse("start_people")
    assert client.post(reverse("start_people"), COLLEAGUE).status_code == 302

    manager, technician = User.objects.order_by("pk")
    assert (manager.role, technician.role) == (Role.MANAGER, Role.TECHNICIAN)
    assert Firm.objects.get().shop_lat == 44.5
    assert Technician.objects.get().user == technician
    assert list(Shift.objects.values_list("weekday", flat=True)) == [1, 2, 3]
    page = client.get(reverse("start_people")).content.decode()
    assert reverse("load_register") in page
    assert client.get("/start/").url == reverse("start_people")


def test_link_is_used_up_by_the_first_manager(client, link):
    client.post(link, MANAGER)
    client.logout()

    again = client.post(link, MANAGER | {"username": "second"})

    assert (again.status_code, again.url) == (302, "/start/")
    assert User.objects.count() == 1
    assert not setup.TOKEN.exists()
    with pytest.raises(setup.SetupRefused):
        setup.make_first_manager(User(username="third"), password=PASSWORD, now=make.MORNING)


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ({"password": "short", "password_again": "short"}, "at least 12 characters"),
        ({"password": "priyanandpriya", "password_again": "priyanandpriya"}, "too similar"),
        ({"password_again": "something else"}, "two passwords differ"),
    ],
)
def test_weak_or_unlike_passwords_are_refused(client, link, cells, says):
    words = {"username": "priyanandpriya"} if "priyanand" in str(cells) else {}
    answer = client.post(link, MANAGER | words | cells)

    assert says in answer.content.decode()
    assert not User.objects.exists()


def test_colleague_whose_day_ends_before_it_starts_is_refused(client):
    make.firm()
    client.force_login(make.manager())

    answer = client.post(reverse("start_people"), COLLEAGUE | {"ends": "07:00", "weekdays": []})

    page = answer.content.decode()
    assert "ends before it starts" in page
    assert "Tick the days" in page
    assert User.objects.count() == 1


@pytest.mark.parametrize("name", ["start_firm", "start_people"])
def test_only_the_manager_sets_up(client, name):
    make.firm()
    client.force_login(make.user(Role.OFFICE))

    assert client.get(reverse(name)).status_code == 403


def test_licence_is_ticked_and_bars_nobody_from_other_work(client):
    make.firm()
    client.force_login(make.manager())
    page = client.get(reverse("start_people")).content.decode()
    assert '<option value="electrician"' not in page

    alone = client.post(reverse("start_people"), COLLEAGUE | {"skill": "electrician"})
    assert alone.status_code == 200
    assert not Technician.objects.exists()

    client.post(reverse("start_people"), COLLEAGUE | {"licensed_electrician": "on"})
    technician = Technician.objects.get()
    assert (technician.skill, technician.licensed_electrician) == ("technician", True)
    page = client.get(f"/admin/servicedesk/technician/{technician.pk}/change/").content.decode()
    assert '<option value="electrician"' not in page
    assert "Mon 07:30 to 16:00" in page


def test_manager_whose_start_broke_off_finds_the_way_on(client, link):
    make.manager()
    assert client.get(link).url == reverse("start")
    assert client.get(reverse("start")).url == f"{reverse('sign_in')}?next={reverse('start')}"

    client.force_login(User.objects.get())
    assert f'href="{reverse("start")}"' in client.get("/").content.decode()

    make.firm()
    assert f'href="{reverse("start")}"' not in client.get("/").content.decode()
