"""The firm's work: people and rules can be changed, what happened or was derived only read."""

from django.contrib import admin

from customers.admin import ByRole, InlineByRole, ReadOnly, house_admin
from servicedesk import models
from servicedesk.forms.start import LEVELS


class Shifts(InlineByRole):
    model = models.Shift


class Absences(InlineByRole):
    model = models.Absence


@admin.register(models.Technician, site=house_admin)
class TechnicianAdmin(ByRole):
    list_display = ["user", "skill", "licensed_electrician", "boat", "active"]
    list_select_related = ["user"]
    inlines = [Shifts, Absences]

    def formfield_for_choice_field(self, db_field, request, **options):
        if db_field.name == "skill":
            options["choices"] = LEVELS
        return super().formfield_for_choice_field(db_field, request, **options)


@admin.register(models.Hold, site=house_admin)
class HoldAdmin(ByRole):
    list_display = ["kind", "site", "region", "from_on", "to_on", "reason"]
    list_select_related = ["site", "region"]
    raw_id_fields = ["site", "by"]


class Rhythms(admin.TabularInline):
    model = models.Rhythm
    extra = 0
    can_delete = False

    def has_view_permission(self, request, obj=None):
        return True

    def has_add_permission(self, request, obj=None):
        return False

    def has_change_permission(self, request, obj=None):
        return False


@admin.register(models.Task, site=house_admin)
class TaskAdmin(ReadOnly):
    """Defaults of the trade; the firm's own figures stand beside them as overrides."""

    list_display = ["name", "place_kind", "harm", "skill", "minutes", "mark", "active"]
    list_filter = ["harm", "place_kind", "active"]
    search_fields = ["name", "slug"]
    inlines = [Rhythms]


@admin.register(models.Caution, site=house_admin)
class CautionAdmin(ReadOnly):
    list_display = ["slug", "text", "mark"]


def read_only(model, *columns, related=()):
    """A list to look things up in."""
    made = type(
        f"{model.__name__}Admin",
        (ReadOnly,),
        {"list_display": list(columns), "list_select_related": list(related) or False},
    )
    house_admin.register(model, made)


read_only(
    models.Override, "task", "field", "value", "from_on", "by", "reason", related=["task", "by"]
)
read_only(models.DueItem, "task", "place_key", "due_on", "because", related=["task"])
read_only(
    models.Decision, "task", "place_key", "kind", "until_on", "reason", "by", related=["task", "by"]
)
read_only(models.Ticket, "task", "place_key", "opened_at", "closed_at", "end", related=["task"])
read_only(models.OfficeTask, "kind", "text", "opened_at", "handled_at")
read_only(
    models.Visit, "site", "technician", "arrived_at", "left_at", related=["site", "technician"]
)
read_only(models.Work, "task", "place_key", "done_at", "outcome", "state", related=["task"])
read_only(models.Defect, "sign", "site", "seen_at", "mended_at", related=["site"])
read_only(models.PartUsed, "part", "quantity", "visit", related=["part", "visit"])
read_only(models.Route, "technician", "day", "published_at", related=["technician__user"])
read_only(models.PlanRun, "week", "state", "asked_at", "says")
read_only(models.Reminder, "contact", "topic", "period", "owed_at", related=["contact"])
read_only(models.OwnerAnswer, "contact", "kind", "recorded_at", "handled_at", related=["contact"])
read_only(models.JobBeat, "name", "beat_at", "says")


@admin.register(models.Message, site=house_admin)
class MessageAdmin(ReadOnly):
    list_display = ["subject", "to_address", "topic", "state", "sent_at"]
    list_filter = ["state", "topic"]
    exclude = ["frozen"]
