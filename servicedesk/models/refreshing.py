"""The nightly refresh of due items, in parts, and what it need not look at again."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from customers.models import Site

TRIES = 3  # a part that fails so often waits for the next round


class RefreshPartQuerySet(models.QuerySet):
    def under_way(self):
        return self.filter(done_at=None).filter(Q(tries__lt=TRIES) | Q(lease_until__gte=Now()))

    def free(self):
        """Those that nobody has, or whose worker is gone."""
        return self.filter(done_at=None, tries__lt=TRIES).filter(
            Q(lease_by=None) | Q(lease_until__lt=Now())
        )


class RefreshPart(models.Model):
    """Some sites in the order of their keys, refreshed by one worker at a time under a lease."""

    round_at = models.DateTimeField()
    number = models.PositiveIntegerField()
    first_site = models.BigIntegerField()
    last_site = models.BigIntegerField()
    next_site = models.BigIntegerField(help_text="Sites before this one are done.")
    tries = models.PositiveSmallIntegerField(default=0)
    lease_by = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    looked_at = models.PositiveIntegerField(default=0, help_text="Systems computed again.")
    written = models.PositiveIntegerField(default=0, help_text="Due items that changed.")

    objects = RefreshPartQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["round_at", "number"], name="one_part_per_number"),
            models.CheckConstraint(
                condition=Q(next_site__gte=F("first_site")), name="part_goes_on_from_its_first_site"
            ),
        ]


class SiteMark(models.Model):
    """The due items of a site follow from these facts on every day from one to before another.

    Derived, like them: without it the site is computed again.
    """

    site = models.OneToOneField(Site, on_delete=models.CASCADE, primary_key=True, related_name="+")
    facts = models.CharField(max_length=32, help_text="Digest of what they were computed from.")
    items = models.CharField(max_length=32, help_text="Digest of the due items.")
    from_on = models.DateField()
    until_on = models.DateField()
