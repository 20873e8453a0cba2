"""What was decided of a winter, who was told of thin ice, and what was seen from the bank."""

from django.conf import settings
from django.db import models
from django.db.models import F, OuterRef, Q, Subquery

from customers.kinds import choices
from customers.models import Contact, Customer, Pond, Region, Site
from customers.models.parties import contact_roles
from equipment.models import System
from equipment.models.systems import winter_modes
from servicedesk import kinds
from servicedesk.models.visits import Photo


def ice_words():
    return choices(kinds.IceSeen)


def permit_words():
    return choices(kinds.PermitStand)


def refusal_kinds():
    return choices(kinds.RefusalKind)


def yes_no_words():
    return choices(kinds.YesNo)


def _by(**more):
    return models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", **more
    )


class WinterDecisionQuerySet(models.QuerySet):
    def standing(self):
        """The newest of each system and winter; the earlier ones stay on record."""
        newest = (
            WinterDecision.objects.filter(system=OuterRef("system"), year=OuterRef("year"))
            .order_by("-recorded_at", "-pk")
            .values("pk")[:1]
        )
        return self.filter(pk=Subquery(newest))


class WinterDecision(models.Model):
    """What becomes of one system in one winter. Rows are added and never changed."""

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="winters")
    year = models.PositiveSmallIntegerField(help_text="In which the winter begins.")
    answers = models.JSONField(default=dict, help_text="yes, no or unknown by question.")
    permit = models.CharField(
        max_length=12, choices=permit_words, default=kinds.PermitStand.UNKNOWN
    )
    permit_note = models.CharField(
        max_length=160, blank=True, help_text="Number and end, or whom you asked and when."
    )
    pointed_to = models.CharField(
        max_length=20, choices=winter_modes, blank=True, help_text="Empty: to nothing."
    )
    pointed_because = models.CharField(max_length=400)
    decided = models.CharField(
        max_length=20, choices=winter_modes, blank=True, help_text="Empty: not decided yet."
    )
    decided_by = models.CharField(max_length=120, blank=True, help_text="The person's name.")
    decided_on = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    recorded_by = _by(null=True, blank=True)
    recorded_at = models.DateTimeField()

    objects = WinterDecisionQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["system", "year", "recorded_at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(decided="")
                | (Q(decided_on__isnull=False) & ~Q(decided_by="") & Q(recorded_by__isnull=False)),
                name="decided_winter_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=Q(decided="") | Q(decided=F("pointed_to")) | ~Q(reason=""),
                name="winter_decided_otherwise_says_why",
            ),
        ]


class WinterLifted(models.Model):
    """A block that a manager lifted by name and reason, for one system and winter."""

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="+")
    year = models.PositiveSmallIntegerField()
    block = models.CharField(max_length=20)
    by = _by()
    reason = models.CharField(max_length=300)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="lifted_block_says_why"),
            models.UniqueConstraint(
                fields=["system", "year", "block"], name="block_is_lifted_once_a_winter"
            ),
        ]


class RefusedNote(models.Model):
    """What was recommended and refused or put off: why, what follows, who said so, asked again."""

    pond = models.ForeignKey(Pond, on_delete=models.PROTECT, related_name="+")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="+")
    year = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=20, choices=refusal_kinds)
    recommended = models.CharField(max_length=300)
    because = models.CharField(max_length=300)
    consequence = models.CharField(max_length=300, help_text="In plain words.")
    price = models.CharField(max_length=80, blank=True)
    put_off = models.BooleanField(default=False, help_text="Off: refused.")
    said_by = models.CharField(max_length=120, help_text="The owner's typed or spoken name.")
    said_on = models.DateField()
    how = models.CharField(max_length=80, help_text="Such as: by link, by phone.")
    noted_by = _by(null=True, blank=True)
    noted_at = models.DateTimeField()
    ask_again_on = models.DateField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True, help_text="The owner agreed after all.")
    ended_by = _by(null=True, blank=True)
    ended_note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_at=None) | ~Q(ended_note=""), name="ended_refusal_says_why"
            ),
        ]


class NoticeText(models.Model):
    """One version of the words about thin ice in one language; a change is a new version."""

    version = models.PositiveSmallIntegerField()
    language = models.CharField(max_length=10)
    text = models.TextField()
    made_by = _by(null=True, blank=True)
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["language", "version"], name="notice_text_has_one_version"
            )
        ]

    def __str__(self):
        return f"{self.language} {self.version}"


class ThinIceNotice(models.Model):
    """The notice about one water for one winter, to whoever has a part in it under one owner."""

    pond = models.ForeignKey(Pond, on_delete=models.PROTECT, related_name="notices")
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, help_text="Who owns the water; a new owner: anew."
    )
    year = models.PositiveSmallIntegerField()
    occasion = models.CharField(max_length=40, default="season", help_text="season, or restart:7")
    opened_at = models.DateTimeField()
    lapses_on = models.DateField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["pond", "customer", "year", "occasion"], name="one_notice_per_occasion"
            )
        ]


class NoticeDeliveryQuerySet(models.QuerySet):
    def standing(self):
        return self.filter(notice__ended_at=None, ended_at=None)

    def unacknowledged(self):
        return self.standing().filter(acknowledged_at=None)


class NoticeDelivery(models.Model):
    """One person and one notice. Acknowledged is a typed name or a call on record, nothing less."""

    notice = models.ForeignKey(ThinIceNotice, on_delete=models.PROTECT, related_name="deliveries")
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="notices")
    role = models.CharField(max_length=20, choices=contact_roles)
    text = models.ForeignKey(NoticeText, on_delete=models.PROTECT, help_text="The words he got.")
    made_at = models.DateTimeField()
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    acknowledged_name = models.CharField(max_length=120, blank=True)
    by_phone = models.BooleanField(default=False)
    called_at = models.DateTimeField(null=True, blank=True)
    called_by = _by(null=True, blank=True)
    call_note = models.CharField(max_length=200, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True, help_text="No part in the water now.")

    objects = NoticeDeliveryQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["notice", "contact"], name="one_delivery_per_notice_and_contact"
            ),
            models.CheckConstraint(
                condition=Q(acknowledged_at=None) | ~Q(acknowledged_name=""),
                name="acknowledged_notice_has_a_name",
            ),
            models.CheckConstraint(
                condition=Q(by_phone=False)
                | Q(
                    called_at__isnull=False, called_by__isnull=False, acknowledged_at__isnull=False
                ),
                name="notice_by_phone_says_who_called",
            ),
        ]


class BankLook(models.Model):
    """What somebody saw of ice, signs and people, standing on the bank."""

    pond = models.ForeignKey(Pond, on_delete=models.PROTECT, related_name="bank_looks")
    at = models.DateTimeField()
    by = _by(null=True, blank=True)
    ice = models.CharField(max_length=10, choices=ice_words)
    people_on_ice = models.CharField(max_length=10, choices=yes_no_words)
    signs_standing = models.CharField(max_length=10, choices=yes_no_words)
    marking_placed = models.CharField(max_length=10, choices=yes_no_words)
    photo = models.ForeignKey(
        Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)
    entered_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["pond", "at"])]


class IceRules(models.Model):
    """What the local authority asks about open water in ice: words and a list, nothing computed.

    For a region, or for one site, which goes before its region. Where there is none, the local
    authority is to be asked.
    """

    region = models.OneToOneField(Region, on_delete=models.PROTECT, null=True, blank=True)
    site = models.OneToOneField(Site, on_delete=models.PROTECT, null=True, blank=True)
    sign_rule = models.TextField(blank=True)
    inspection_days = models.PositiveSmallIntegerField(null=True, blank=True)
    permit = models.CharField(max_length=10, choices=yes_no_words, default=kinds.YesNo.UNKNOWN)
    checklist = models.JSONField(default=list, blank=True)
    no_choice = models.JSONField(
        default=list, blank=True, help_text="Blocks that the authority leaves nobody to lift."
    )
    asked = models.CharField(
        max_length=200, blank=True, help_text="Who was asked, when, and what they said."
    )
    source = models.CharField(max_length=300, blank=True)
    changed_by = _by(null=True, blank=True)
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(region=None, site__isnull=False) | Q(site=None, region__isnull=False),
                name="ice_rules_of_a_region_or_a_site",
            )
        ]


class RuleTick(models.Model):
    """One line of the authority's list that is dealt with, for one water and winter."""

    pond = models.ForeignKey(Pond, on_delete=models.PROTECT, related_name="+")
    year = models.PositiveSmallIntegerField()
    line = models.CharField(max_length=200)
    by = _by()
    at = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["pond", "year", "line"], name="rule_is_ticked_once_a_winter"
            )
        ]
