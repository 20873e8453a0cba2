"""Open tickets, worst harm first, and within a tier the one that is latest for its tolerance."""

import django_filters
import django_tables2
from django.db.models import F, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce
from django.utils.html import format_html
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from customers.models import Region
from equipment.models import Position
from servicedesk.kinds import HARM_ORDER
from servicedesk.models import DueItem, StopTicket, Ticket
from servicedesk.models.tasks import harms
from servicedesk.planning.standing import standing
from servicedesk.templatetags import house


def tickets_listed(user):
    """Open tickets with their due day as it is now, and the day they are planned on."""
    due = DueItem.objects.filter(
        place_key=OuterRef("place_key"), task=OuterRef("task"), occasion=OuterRef("occasion")
    )
    stops = StopTicket.objects.filter(ticket=OuterRef("pk")).order_by("-stop__arrive_at")
    water = Position.objects.lying().filter(system=OuterRef("system")).order_by("pk")
    return (
        Ticket.objects.open()
        .visible_to(user)
        .annotate(
            due_on=Coalesce(Subquery(due.values("due_on")[:1]), F("due_when_opened_on")),
            opens_on=Subquery(due.values("opens_on")[:1]),
            closes_on=Subquery(due.values("closes_on")[:1]),
            paused=Subquery(due.values("paused")[:1]),
            planned_on=Subquery(stops.values("stop__route__day")[:1]),
            pond_name=Coalesce(F("pond__name"), Subquery(water.values("pond__name")[:1])),
        )
    )


def rows_of(tickets, today):
    """One dict a ticket, with standing and rank; sorted as the firm wants to read them."""
    rows = list(
        tickets.values(
            "pk",
            "due_on",
            "opens_on",
            "closes_on",
            "paused",
            "planned_on",
            "pond_name",
            "task__name",
            "task__harm",
            "task__crew",
            "task__needs_boat",
            "position__label",
            "system__name",
            "site__name",
        )
    )
    for row in rows:
        row["standing"] = standing(
            today,
            opens_on=row["opens_on"],
            due_on=row["due_on"],
            closes_on=row["closes_on"],
            paused=bool(row["paused"]),
        )
        row["rank"] = (HARM_ORDER[row["task__harm"]], -row["standing"].lateness, row["pk"])
    return sorted(rows, key=lambda row: row["rank"])


class TicketFilter(django_filters.FilterSet):
    text = django_filters.CharFilter(method="by_text", label=_("Pond, site, system or task"))
    harm = django_filters.ChoiceFilter(
        field_name="task__harm", label=_("Harm"), choices=harms, empty_label=_("All")
    )
    due = django_filters.ChoiceFilter(
        method="by_due",
        label=_("Due"),
        choices=[("overdue", _("Overdue")), ("today", _("Due today or late"))],
        empty_label=_("All"),
    )
    planned = django_filters.ChoiceFilter(
        method="by_planned",
        label=_("On a route"),
        choices=[("yes", _("Yes")), ("no", _("No"))],
        empty_label=_("All"),
    )
    region = django_filters.ModelChoiceFilter(
        field_name="site__region",
        queryset=Region.objects.order_by("name"),
        label=_("Region"),
        empty_label=_("All"),
    )

    def __init__(self, *args, today, **kwargs):
        self.on_day = today
        super().__init__(*args, **kwargs)

    def by_text(self, tickets, _name, text):
        return tickets.filter(
            Q(task__name__icontains=text)
            | Q(site__name__icontains=text)
            | Q(system__name__icontains=text)
            | Q(system__key__icontains=text)
            | Q(pond_name__icontains=text)
        )

    def by_due(self, tickets, _name, key):
        if key == "overdue":
            return tickets.filter(closes_on__lt=self.on_day)
        return tickets.filter(due_on__lte=self.on_day)

    def by_planned(self, tickets, _name, key):
        return tickets.filter(planned_on__isnull=key == "no")


class TicketTable(django_tables2.Table):
    place = django_tables2.Column(
        verbose_name=_("Ticket"), empty_values=(), order_by=("pond_name", "site__name")
    )
    standing = django_tables2.Column(verbose_name=_("Due"), order_by=("due_on",))
    harm = django_tables2.Column(verbose_name=_("Harm"), accessor="task__harm", order_by=("rank",))
    needs = django_tables2.Column(verbose_name=_("Needs"), empty_values=(), orderable=False)
    planned_on = django_tables2.Column(verbose_name=_("On a route"), empty_values=())

    caption = _("Open tickets")

    class Meta:
        empty_text = _(
            "No open ticket fits this. Tickets open by themselves when the window of a task opens."
        )

    def render_place(self, record):
        system = record["system__name"]
        where = [system if system != record["pond_name"] else "", record["position__label"]]
        return format_html(
            '<a href="/tickets/{}/">{}{}{}</a> <span class="quiet">{}{}</span>',
            record["pk"],
            house.water(record["pond_name"]) if record["pond_name"] else "",
            " " if record["pond_name"] else "",
            record["task__name"],
            record["site__name"],
            "".join(f", {part}" for part in where if part),
        )

    def render_standing(self, record):
        found = record["standing"]
        return format_html(
            '{} <span class="quiet nobr">{}</span>',
            house.tag(found.shape, found.words),
            house.day(record["due_on"]),
        )

    def render_needs(self, record):
        needs = []
        if record["task__crew"] > 1:
            needs.append(gettext("two people"))
        if record["task__needs_boat"]:
            needs.append(gettext("boat"))
        return ", ".join(needs)

    def render_planned_on(self, value):
        return format_html('<span class="nobr">{}</span>', house.day(value))
