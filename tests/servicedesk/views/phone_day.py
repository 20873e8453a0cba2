"""A technician's published day, its pages, and what a browser would send of them."""

from html import unescape
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils import timezone

from equipment.kinds import PartRole, PositionKind
from servicedesk.models import Ticket
from tests import make

ZONE = "America/Chicago"


def today():
    return timezone.now().astimezone(ZoneInfo(ZONE)).date()


class Fields(HTMLParser):
    """What a browser would send of the closing form, untouched."""

    def __init__(self, page):
        super().__init__()
        self.data, self.select, self.area = {}, None, None
        self.open = False
        self.feed(page.content.decode())

    def handle_starttag(self, tag, attributes):
        at = dict(attributes)
        if tag == "form":
            self.open = at.get("class") == "steps"
        if not self.open:
            return
        if tag == "input":
            if at.get("type") not in {"radio", "checkbox"} or "checked" in at:
                self.data[at["name"]] = at.get("value") or ""
        elif tag == "select":
            self.select = at["name"]
            self.data[self.select] = ""
        elif tag == "option" and "selected" in at:
            self.data[self.select] = at["value"]
        elif tag == "textarea":
            self.area = at["name"]
            self.data[self.area] = ""

    def handle_data(self, text):
        if self.area:
            self.data[self.area] += text

    def handle_endtag(self, tag):
        if tag == "textarea":
            self.area = None
        if tag == "form":
            self.open = False


class Day:
    """Dario's published route of today, with one filter change at Quill Mere."""

    def __init__(self, client, *, stops=1):
        make.firm(time_zone=ZONE)
        self.client = client
        self.dario = make.user()
        technician = make.technician(user=self.dario, shifts=False)
        self.route = make.route(technician=technician, day=today())
        self.task = make.task(
            slug="filter_change",
            part_roles=[PartRole.FILTER_ELEMENT],
            readings=["pressure", "run_hours"],
        )
        self.stops = [self.add_stop(number) for number in range(1, stops + 1)]
        self.stop, self.ticket = self.stops[0], Ticket.objects.order_by("pk").first()
        client.force_login(self.dario)

    def add_stop(self, number):
        site = make.site(owner=make.contact(phone="+1 202 555 0142").customer, name="Mill Lane")
        system = make.system(site=site, name="Cabinet A")
        make.position(PositionKind.DIFFUSER, system=system, pond=self.pond(site))
        position = make.filter_position(of=system)
        fitted = position.serves.fittings.get().component.type
        make.part_for(fitted, PartRole.FILTER_ELEMENT, part=make.part(number=f"F-12{number}"))
        ticket = make.ticket(at=position, task=self.task, due_when_opened_on=today())
        return make.stop(ticket, route=self.route, number=number)

    def pond(self, site):
        return make.pond(site=site, name="Quill Mere")

    @property
    def address(self):
        return reverse("close_ticket", args=[self.ticket.pk])

    def filled(self, on=None, **changes):
        """The page as opened, with the golden path's answers."""
        data = Fields(self.client.get(self.address, {"on": on} if on else {})).data
        system = f"systems.{self.ticket.system_id}"
        data |= {
            f"{system}.found_running": "yes",
            f"works.{self.ticket.pk}.found.condition": "loaded",
            f"{system}.left.pressure.typed": "6.4",
            f"{system}.left_running": "yes",
        }
        return data | {f"{system}.{name.replace('__', '.')}": v for name, v in changes.items()}


def text(page):
    return unescape(page.content.decode())
