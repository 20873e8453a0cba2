"""Who pays, and whom we write to."""

from django.db import models
from django.db.models import F, Q

from customers import kinds


def customer_kinds():
    return kinds.choices(kinds.CustomerKind)


def contact_roles():
    return kinds.choices(kinds.ContactRoleKind)


def contact_states():
    return kinds.choices(kinds.ContactState)


def mail_topics():
    return kinds.choices(kinds.MailTopic)


class Customer(models.Model):
    """Who pays: a person, a farm, an association, a course with forty ponds."""

    key = models.CharField(max_length=40, unique=True, help_text="The firm's own number.")
    name = models.CharField(max_length=160, db_index=True)
    kind = models.CharField(
        max_length=20, choices=customer_kinds, default=kinds.CustomerKind.RESIDENT
    )
    note = models.TextField(blank=True)
    closed_on = models.DateField(null=True, blank=True, help_text="No longer served from this day.")
    merged_into = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    def __str__(self):
        return self.name


class ContactQuerySet(models.QuerySet):
    def reachable(self):
        return self.filter(state=kinds.ContactState.ACTIVE, address_dead_at=None).exclude(email="")

    def with_role(self, *roles, on):
        """Contacts that hold one of these roles on a day."""
        held = Q(roles__role__in=roles, roles__from_on__lte=on)
        still = Q(roles__to_on=None) | Q(roles__to_on__gt=on)
        return self.filter(held & still).distinct()


class Contact(models.Model):
    """A person we write to or phone, on behalf of a customer."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="contacts")
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True, db_index=True)
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField(max_length=10, default="en")
    time_zone = models.CharField(max_length=64, default="America/Chicago")
    units = models.CharField(max_length=10, default=kinds.Units.US)
    state = models.CharField(
        max_length=20, choices=contact_states, default=kinds.ContactState.ACTIVE
    )
    address_dead_at = models.DateTimeField(null=True, blank=True)
    address_dead_because = models.CharField(max_length=250, blank=True)
    note = models.TextField(blank=True)

    objects = ContactQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["customer", "email"],
                condition=~Q(email=""),
                name="one_contact_per_address_and_customer",
            )
        ]

    def __str__(self):
        return self.name


class ContactRole(models.Model):
    """What a contact is to us, from a day to a day; for everything or for one site."""

    contact = models.ForeignKey(Contact, on_delete=models.CASCADE, related_name="roles")
    role = models.CharField(max_length=20, choices=contact_roles)
    site = models.ForeignKey(
        "customers.Site", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    from_on = models.DateField()
    to_on = models.DateField(null=True, blank=True, help_text="The first day without the role.")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(to_on=None) | Q(to_on__gt=F("from_on")),
                name="contact_role_ends_after_it_begins",
            )
        ]


class MailStop(models.Model):
    """A contact's wish to get no more reminders about a topic, until taken back."""

    contact = models.ForeignKey(Contact, on_delete=models.CASCADE, related_name="mail_stops")
    topic = models.CharField(max_length=30, choices=mail_topics)
    stopped_at = models.DateTimeField()
    resumed_at = models.DateTimeField(null=True, blank=True)
    how = models.CharField(max_length=60, blank=True)  # link in a mail, phone, office

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["contact", "topic"],
                condition=Q(resumed_at=None),
                name="one_mail_stop_per_contact_and_topic",
            )
        ]


class SignedLink(models.Model):
    """A link in a mail: opaque, for one purpose and one thing, with an end.

    Only the hash of the token is kept, so a copy of the database opens nothing.
    """

    token_hash = models.CharField(max_length=64, unique=True)
    contact = models.ForeignKey(Contact, on_delete=models.CASCADE, related_name="links")
    purpose = models.CharField(max_length=40)
    about = models.CharField(max_length=60, blank=True)  # such as "ticket:118"
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("made_at")), name="link_ends_after_it_is_made"
            )
        ]
