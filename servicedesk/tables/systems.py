"""All systems: state, what is due next, when somebody was last there."""

import django_filters
import django_tables2
from django.db.models import Exists, OuterRef, Prefetch, Q, Subquery
from django.db.models.fields.json import KT
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from customers.models import Ownership, Region
from equipment import kinds
from equipment.actions.assessment import DRIFTING
from equipment.condition.verdict import State
from equipment.models import Assessment, Position, System
from servicedesk.models import DueItem, Work
from servicedesk.planning.standing import standing
from servicedesk.templatetags import house

HANDED_OVER_NEXT = {
    kinds.SystemState.PLANNED,
    kinds.SystemState.INSTALLED,
    kinds.SystemState.COMMISSIONING,
}
STATES = {
    "in_service": (_("In service"), frozenset(kinds.SystemState) - kinds.NOT_IN_SERVICE),
    "running": (_("Running"), kinds.RUNNING),
    "off": (
        _("Failed or off"),
        {kinds.SystemState.FAILED, kinds.SystemState.SHUT_OTHER},
    ),
    "winter": (_("At rest (winter)"), {kinds.SystemState.SHUT_WINTER}),
    "not_in_service": (_("Not in service"), kinds.NOT_IN_SERVICE),
}

SAID = {
    State.FINDING: ("due", _("Look at it")),
    DRIFTING: ("drift", _("Drifting")),
    State.MENDED: ("ok", _("Mended")),
    State.NO_FAULT: ("ok", _("In order")),
}


def newest_word():
    """What the newest readings of a system say, in a word: a key of SAID."""
    said = Assessment.objects.filter(system=OuterRef("pk")).order_by("-at", "-pk")
    return Subquery(said.values(word=KT("basis__word"))[:1])


def to_look_at(user):
    """How many systems have readings that ask for somebody to look."""
    systems = System.objects.visible_to(user).annotate(said_word=newest_word())
    return systems.filter(said_word=State.FINDING).count()


def systems_listed(user, *, now, today):
    """Systems with everything a row of the list shows."""
    due = DueItem.objects.filter(system=OuterRef("pk"), paused=False, due_on__isnull=False)
    due = due.order_by("due_on", "pk")
    owners = Ownership.objects.on_day(today)
    site_owner = owners.filter(site=OuterRef("site"))
    pond_owner = owners.filter(
        pond__positions__in=Position.objects.lying(), pond__positions__system=OuterRef("pk")
    ).order_by("pk")
    seen = Work.objects.filter(system=OuterRef("pk"), verified=True).order_by("-done_at")
    return (
        System.objects.visible_to(user)
        .with_state(now)
        .annotate(
            next_task=Subquery(due.values("task__name")[:1]),
            next_opens_on=Subquery(due.values("opens_on")[:1]),
            next_due_on=Subquery(due.values("due_on")[:1]),
            next_closes_on=Subquery(due.values("closes_on")[:1]),
            owner_name=Coalesce(
                Subquery(site_owner.values("customer__name")[:1]),
                Subquery(pond_owner.values("customer__name")[:1]),
            ),
            last_seen_at=Subquery(seen.values("done_at")[:1]),
            said_word=newest_word(),
        )
        .select_related("site", "site__region")
        .prefetch_related(ponds_of_systems())
    )


def ponds_of_systems():
    """Fetches `in_water`: the positions of a system that lie in a pond, with the pond."""
    in_water = Position.objects.lying().select_related("pond").order_by("pk")
    return Prefetch("positions", in_water, to_attr="in_water")


class SystemFilter(django_filters.FilterSet):
    """What the list of systems can be narrowed by; `today` comes from the door."""

    text = django_filters.CharFilter(method="by_text", label=_("Customer, pond, site or number"))
    state = django_filters.ChoiceFilter(
        method="by_state",
        label=_("State"),
        choices=lambda: [(key, words) for key, (words, _states) in STATES.items()],
        empty_label=_("All"),
    )
    region = django_filters.ModelChoiceFilter(
        field_name="site__region",
        queryset=Region.objects.order_by("name"),
        label=_("Region"),
        empty_label=_("All"),
    )
    due = django_filters.ChoiceFilter(
        method="by_due",
        label=_("Due"),
        choices=[("overdue", _("Overdue")), ("open", _("Due or overdue"))],
        empty_label=_("All"),
    )

    said = django_filters.ChoiceFilter(
        method="by_said",
        label=_("Readings"),
        choices=lambda: [(word, words) for word, (_shape, words) in SAID.items()],
        empty_label=_("All"),
    )

    def __init__(self, *args, today, **kwargs):
        self.on_day = today
        super().__init__(*args, **kwargs)

    def by_said(self, systems, _name, key):
        return systems.filter(said_word=key)

    def by_text(self, systems, _name, text):
        owned = Ownership.objects.on_day(self.on_day).filter(customer__name__icontains=text)
        in_pond = Position.objects.filter(
            Q(pond__name__icontains=text) | Q(pond__in=owned.filter(site=None).values("pond"))
        )
        return systems.filter(
            Q(key__icontains=text)
            | Q(name__icontains=text)
            | Q(site__key__icontains=text)
            | Q(site__name__icontains=text)
            | Q(site__town__icontains=text)
            | Q(site__in=owned.filter(pond=None).values("site"))
            | Q(pk__in=in_pond.values("system"))
        )

    def by_state(self, systems, _name, key):
        return systems.filter(state_now__in=STATES[key][1])

    def by_due(self, systems, _name, key):
        field = "closes_on__lt" if key == "overdue" else "opens_on__lte"
        items = DueItem.objects.filter(system=OuterRef("pk"), paused=False, **{field: self.on_day})
        return systems.filter(Exists(items))


class SystemTable(django_tables2.Table):
    place = django_tables2.Column(
        verbose_name=_("Pond and system"), accessor="name", order_by=("site__name", "name")
    )
    owner_name = django_tables2.Column(verbose_name=_("Customer"), default="")
    state_now = django_tables2.Column(verbose_name=_("State"), empty_values=())
    said_word = django_tables2.Column(verbose_name=_("Readings"), empty_values=())
    next_due_on = django_tables2.Column(verbose_name=_("Next due"), empty_values=())
    last_seen_at = django_tables2.Column(verbose_name=_("Last work"), default="")

    caption = _("Systems")

    class Meta:
        order_by = ("place",)
        empty_text = _("No system fits this. Take a filter away, or import your register.")

    def __init__(self, *args, today, **kwargs):
        self.on_day = today
        super().__init__(*args, **kwargs)

    def render_place(self, record):
        return format_html(
            '<a href="/systems/{}/">{}</a> '
            '<span class="quiet">{}, <span class="nobr">{}</span></span>',
            record.pk,
            house.cabinet(record, [position.pond for position in record.in_water]),
            record.site.name,
            record.key,
        )

    def render_state_now(self, record):
        if record.state_now not in HANDED_OVER_NEXT:
            return house.state_tag(record.state_now)
        return format_html(
            '{} <a href="{}" aria-label="{}">{}</a>',
            house.state_tag(record.state_now),
            reverse("commissioning", args=[record.pk]),
            gettext("Commissioning of %s") % record.key,
            gettext("Commissioning"),
        )

    def render_said_word(self, record):
        """What the newest readings say, in a word; the page of the system says the rest."""
        shape, word = SAID.get(record.said_word, ("rest", gettext("Not read yet")))
        return format_html('<span class="nobr">{}</span>', house.tag(shape, word))

    def render_next_due_on(self, record):
        if record.next_due_on is None:
            return gettext("nothing planned")
        found = standing(
            self.on_day,
            opens_on=record.next_opens_on,
            due_on=record.next_due_on,
            closes_on=record.next_closes_on,
        )
        return format_html(
            '{} {} <span class="quiet nobr">{}</span>',
            house.tag(found.shape, found.words),
            record.next_task,
            house.day(record.next_due_on),
        )

    def render_last_seen_at(self, value):
        return format_html('<span class="nobr">{}</span>', house.local_day(value))
