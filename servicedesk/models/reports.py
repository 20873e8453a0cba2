"""What the owner is told of a visit, as it was written: a page and a paper from the same facts."""

from django.db import models
from django.db.models import Q

from customers.models import Customer
from servicedesk.models.visits import Visit


class ServiceReportQuerySet(models.QuerySet):
    def current(self):
        """Those that no later version replaces."""
        return self.filter(replaced_at=None)


class ServiceReport(models.Model):
    """One version of the report on a visit, for readers of one language and one set of units.

    Never changed: a correction makes the next version, and this one is marked as replaced.
    """

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="reports")
    customer = models.ForeignKey(
        Customer,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="reports",
        help_text="Whose place it was on the day of the visit; no other reads it.",
    )
    language = models.CharField(max_length=10)
    units = models.CharField(max_length=10)
    version = models.PositiveSmallIntegerField()
    facts = models.JSONField(help_text="Every sentence of the page and of the paper.")
    digest = models.CharField(max_length=64, help_text="Of what the visit says; tells a change.")
    paper = models.FileField(upload_to="reports/", blank=True)
    paper_digest = models.CharField(max_length=64, blank=True, help_text="SHA-256 of the file.")
    fault = models.CharField(max_length=250, blank=True, help_text="Why there is no paper.")
    made_at = models.DateTimeField()
    replaced_at = models.DateTimeField(null=True, blank=True)

    objects = ServiceReportQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["visit", "language", "units", "version"], name="report_version_is_made_once"
            ),
            models.UniqueConstraint(
                fields=["visit", "language", "units"],
                condition=Q(replaced_at=None),
                name="one_report_stands_for_a_visit",
            ),
        ]

    @property
    def paper_name(self):
        """The name under which a reader keeps it."""
        return f"report-{self.visit_id}-{self.version}.pdf"

    def open_paper(self):
        """The PDF, opened; None where there is none."""
        try:
            return self.paper.open("rb") if self.paper else None
        except FileNotFoundError:
            return None
