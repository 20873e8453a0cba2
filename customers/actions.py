"""Who receives mail about a place, and who wants no more of it."""

from collections import defaultdict
from datetime import date, datetime

from django.db import transaction
from django.db.models import Q

from customers.kinds import (
    STOPPABLE_TOPICS,
    ContactRoleKind,
    ContactState,
    CustomerKind,
    MailTopic,
)
from customers.models import Contact, ContactRole, MailStop, Ownership, Pond, SignedLink

DECIDING = frozenset(
    {ContactRoleKind.OWNER, ContactRoleKind.BOARD, ContactRoleKind.PROPERTY_MANAGER}
)
NEAR = frozenset({ContactRoleKind.ON_SITE, ContactRoleKind.CARETAKER})
WARNED = frozenset({ContactRoleKind.NOTICE, ContactRoleKind.EMERGENCY})


class CannotStop(Exception):
    """This kind of mail is part of the service and cannot be switched off."""


class Receivers:
    """The reachable contacts of places on one day, by who owns the place on that day.

    Those who decide (owner, board, property manager) receive. Where a customer has none that
    can be reached, those who are near (on site, caretaker) do. A pond that was sold apart from
    its site goes to the pond's owner. A warning also goes to whoever is near, or asked for it.
    """

    def __init__(self, site_ids, *, on: date):
        self.on = on
        self.owner_by_site, self.owner_by_pond = {}, {}
        about_sites = Q(site__in=site_ids) | Q(pond__site__in=site_ids)
        for owned in Ownership.objects.on_day(on).filter(about_sites).order_by("from_on", "pk"):
            owners, key = (
                (self.owner_by_pond, owned.pond_id)
                if owned.pond_id
                else (self.owner_by_site, owned.site_id)
            )
            owners[key] = owned.customer_id
        self.roles_by_customer = defaultdict(list)
        customers = {*self.owner_by_site.values(), *self.owner_by_pond.values()}
        reachable = Contact.objects.reachable().filter(customer__in=customers)
        held = ContactRole.objects.filter(contact__in=reachable, from_on__lte=on)
        held = held.filter(Q(to_on=None) | Q(to_on__gt=on)).select_related("contact__customer")
        for role in held.order_by("contact_id", "pk"):
            self.roles_by_customer[role.contact.customer_id].append(role)

    def at_hand(self, site_id: int, pond_id: int | None = None) -> list[Contact]:
        """Who can look after something at a place himself: its caretaker, else its owner.

        Never a board or a manager of property; nor an owner who lives elsewhere.
        """
        customer = self.owner_by_pond.get(pond_id) or self.owner_by_site.get(site_id)
        held = [
            role
            for role in self.roles_by_customer.get(customer, ())
            if role.site_id in (None, site_id)
        ]
        chosen = [role for role in held if role.role == ContactRoleKind.CARETAKER] or [
            role
            for role in held
            if role.role == ContactRoleKind.OWNER
            and role.contact.customer.kind != CustomerKind.ABSENT
        ]
        return list({role.contact_id: role.contact for role in chosen}.values())

    def of(self, site_id: int, pond_id: int | None = None, *, warning=False) -> list[Contact]:
        """The contacts for a site, or for one pond of it, each once."""
        customer = self.owner_by_pond.get(pond_id) or self.owner_by_site.get(site_id)
        roles = [
            role
            for role in self.roles_by_customer.get(customer, ())
            if role.site_id in (None, site_id)
        ]
        asked = DECIDING | NEAR | WARNED if warning else DECIDING
        chosen = [role for role in roles if role.role in asked]
        chosen = chosen or [role for role in roles if role.role in NEAR]
        return list({role.contact_id: role.contact for role in chosen}.values())


class People:
    """Everybody with a part in one water on one day, reachable by mail or not.

    Whoever decides, pays, is near or is to be warned under its owner: a neighbour on the shore is
    a contact that is told of danger and pays nothing. `with_roles` names each once.
    """

    PARTS = (*DECIDING, *NEAR, *WARNED, ContactRoleKind.PAYER)

    def __init__(self, pond: Pond, *, on: date):
        owned = Ownership.objects.on_day(on).select_related("customer")
        found = owned.filter(pond=pond).first() or owned.filter(site=pond.site_id).first()
        self.customer = found.customer if found else None
        self.with_roles: dict[Contact, str] = {}
        held = ContactRole.objects.filter(
            Q(site=None) | Q(site=pond.site_id),
            Q(to_on=None) | Q(to_on__gt=on),
            contact__customer=self.customer,
            contact__state=ContactState.ACTIVE,
            role__in=self.PARTS,
            from_on__lte=on,
        )
        for role in held.select_related("contact").order_by("contact_id", "pk"):
            self.with_roles.setdefault(role.contact, role.role)


def stop_mail(contact: Contact, topic: str, *, at: datetime, how: str) -> MailStop:
    """No more reminders about a topic; a second wish changes nothing."""
    if MailTopic(topic) not in STOPPABLE_TOPICS:
        raise CannotStop(f"Mail about {topic.replace('_', ' ')} is part of the service.")
    return MailStop.objects.get_or_create(
        contact=contact, topic=topic, resumed_at=None, defaults={"stopped_at": at, "how": how}
    )[0]


def resume_mail(contact: Contact, topic: str, *, at: datetime) -> bool:
    """Reminders about a topic again; whether they had been stopped."""
    standing = MailStop.objects.filter(contact=contact, topic=topic, resumed_at=None)
    return standing.update(resumed_at=at) > 0


@transaction.atomic
def mark_address_dead(address: str, *, because: str, at: datetime) -> int:
    """Write no more to an address that a mail server says does not exist; how many had it."""
    having = Contact.objects.filter(email__iexact=address, address_dead_at=None)
    return having.update(address_dead_at=at, address_dead_because=because[:250])


def revoke_links(contact: Contact, *, at: datetime) -> int:
    """Take back every link that a contact was sent, as after a sale."""
    return SignedLink.objects.filter(contact=contact, revoked_at=None).update(revoked_at=at)
