"""Winters as they are read: customers, one row for each cabinet, and who has read the notice."""

from collections import defaultdict
from dataclasses import dataclass, field

from django.db.models import Count, Q
from django.utils.translation import gettext as _

from customers.models import Customer, Ownership, Region, Site
from equipment.kinds import GONE, WinterMode
from equipment.models import Position, System
from servicedesk.actions.winter.blocking import with_blocks
from servicedesk.actions.winter.decide import answers_to_begin_with
from servicedesk.actions.winter.known import KnownWinter, known_winters, with_sites
from servicedesk.actions.winter.notices import is_lost, lines_of
from servicedesk.models import NoticeDelivery
from servicedesk.planning.seasons import freezes
from servicedesk.planning.winter.blocks import Block, standing
from servicedesk.planning.winter.deadlines import decide_by
from servicedesk.planning.winter.questions import Option, Pointed, option_pointed_to

STILL_HERE = Q(state_now=None) | ~Q(state_now__in=GONE)


@dataclass
class WinterRow:
    """One cabinet with its waters, as the page of a customer shows it."""

    known: KnownWinter
    pointed: Pointed
    found: tuple[Block, ...]
    left: tuple[Block, ...]
    form: object = None
    errors: list[str] = field(default_factory=list)

    @property
    def system(self):
        return self.known.system

    @property
    def names(self):
        return ", ".join(pond.name for pond in self.known.ponds) or self.system.name

    @property
    def decided(self):
        return self.known.decision.decided if self.known.decision else ""

    @property
    def initial(self):
        decision = self.known.decision
        return answers_to_begin_with(self.known) | {
            "permit": decision.permit if decision else "unknown",
            "permit_note": decision.permit_note if decision else "",
            "decided": self.decided,
            "reason": decision.reason if decision else "",
        }


def systems_of(customer: Customer):
    """The systems in the waters that a customer has, those that are gone left out."""
    owned = Ownership.objects.filter(customer=customer, to_on=None)
    ponds = Position.objects.lying().filter(
        Q(pond__in=owned.values("pond")) | Q(pond__site__in=owned.exclude(site=None).values("site"))
    )
    return System.objects.filter(pk__in=ponds.values("system"))


def winter_rows(systems, *, now) -> list[WinterRow]:
    """Rows in the order of their waters; a bounded number of queries."""
    here = with_sites(systems).with_state(now).filter(STILL_HERE)
    winters = known_winters(here.order_by("site__name", "name", "pk"), now=now)
    winters = [known for known in winters if freezes(known.climate) and known.ponds]
    rows = []
    for known, found in with_blocks(winters, now=now, visit_to_come=True):
        answers = answers_to_begin_with(known)
        lifted = {row.block for row in known.lifted}
        rows.append(WinterRow(known, option_pointed_to(answers), found, standing(found, lifted)))
    return rows


def deadline_of(rows: list[WinterRow]):
    days = [decide_by(row.known.climate, row.known.year) for row in rows]
    return min(filter(None, days), default=None)


def option_words(value: str) -> str:
    return Option(value).label if value in set(Option) else _("open")


def winter_counts(*, now) -> list[dict]:
    """Each customer with systems in water that freezes: how many, and how many are open."""
    systems = with_sites(System.objects.all()).with_state(now).filter(STILL_HERE)
    winters = {
        known.system.pk: known
        for known in known_winters(systems.order_by("pk"), now=now)
        if known.ponds and freezes(known.climate)
    }
    sites = {known.system.site_id for known in winters.values()}
    ponds = {pond.pk for known in winters.values() for pond in known.ponds}
    owners = _owners(sites, ponds)
    by_customer = defaultdict(list)
    for known in winters.values():
        pond = known.ponds[0]
        customer = owners.get(("pond", pond.pk)) or owners.get(("site", pond.site_id))
        if customer:
            by_customer[customer].append(known)
    rows = [_counted(customer, some) for customer, some in by_customer.items()]
    return sorted(rows, key=lambda row: (-row["open"], -row["waiting"], row["customer"].name))


def _owners(sites, ponds):
    owned = Ownership.objects.filter(to_on=None).select_related("customer")
    owned = owned.filter(Q(site__in=sites) | Q(pond__in=ponds))
    return {("pond", o.pond_id) if o.pond_id else ("site", o.site_id): o.customer for o in owned}


def _counted(customer, winters):
    decided = [known.decision.decided if known.decision else "" for known in winters]
    return {
        "customer": customer,
        "systems": len(winters),
        "open": decided.count(""),
        "wishes": sum(1 for k, d in zip(winters, decided, strict=True) if k.wish and not d),
        "shallow": decided.count(WinterMode.RUN_SHALLOW),
        "shut": decided.count(WinterMode.SHUT_DOWN),
        "deep": decided.count(WinterMode.RUN_DEEP),
        "waiting": len(
            {row.pk for known in winters for row in known.deliveries if not row.acknowledged_at}
        ),
    }


def notice_rows(*, everybody=False):
    """Who was told of thin ice, whoever has not acknowledged first, and what became of mails."""
    rows = NoticeDelivery.objects.standing().select_related(
        "contact__customer", "notice__pond__site", "text", "called_by"
    )
    if not everybody:
        rows = rows.filter(acknowledged_at=None)
    rows = list(rows.order_by("acknowledged_at", "notice__pond__name", "contact__name", "pk"))
    lines = lines_of(rows)
    for row in rows:
        row.lines = lines.get(row.pk, [])
        row.shape, row.says = _standing(row)
    return rows


def _standing(row):
    if row.acknowledged_at:
        return "ok", _("By phone") if row.by_phone else _("Acknowledged")
    contact, lines = row.contact, row.lines
    if not contact.email:
        return "late", _("No mail address: phone")
    if contact.address_dead_at or any(is_lost(line) for line in lines):
        return "late", _("Mail did not arrive: phone")
    sent = [line for line in lines if line.message and line.message.sent_at]
    if len(sent) >= 2:
        return "due", _("Two mails, no answer")
    return ("due", _("Mail sent, no answer")) if sent else ("rest", _("Mail waits"))


def notice_counts():
    rows = NoticeDelivery.objects.standing()
    return rows.aggregate(
        told=Count("pk"), acknowledged=Count("pk", filter=Q(acknowledged_at__isnull=False))
    )


def places_with_rules():
    """Regions and the sites that have rules of their own."""
    return (
        Region.objects.select_related("icerules").order_by("name"),
        Site.objects.filter(icerules__isnull=False).select_related("icerules").order_by("name"),
    )
