"""What stands at the ponds: models and schedules can be changed, what happened only read."""

from django import forms
from django.contrib import admin

from customers.admin import ByRole, InlineByRole, ReadOnly, house_admin
from equipment import models


class PartsOfType(InlineByRole):
    model = models.PartFor
    raw_id_fields = ["part"]


class Schedules(InlineByRole):
    model = models.Schedule


@admin.register(models.Part, site=house_admin)
class PartAdmin(ByRole):
    list_display = ["number", "name"]
    search_fields = ["number", "name"]


class ComponentTypeForm(forms.ModelForm):
    """Figures of the nameplate are numbers: a word in their place would stop the judging."""

    FIGURES = ("voltage_v", "turns_at_h", "set_pa", "opening_pa", "slope_pa_per_l_min")

    class Meta:
        fields = forms.ALL_FIELDS
        help_texts = {
            "nameplate": 'Further figures, such as {"voltage_v": 115} for volts of a compressor, '
            '{"turns_at_h": 9999.9} for where an hour meter begins again.'
        }

    def clean_nameplate(self):
        figures = self.cleaned_data["nameplate"] or {}
        if not isinstance(figures, dict):
            raise forms.ValidationError('Write names with their figures, as {"voltage_v": 115}.')
        for name in self.FIGURES:
            value = figures.get(name, 1)
            if isinstance(value, bool) or not isinstance(value, int | float) or value <= 0:
                raise forms.ValidationError(f"{name} is a number over 0, without its unit.")
        return figures


@admin.register(models.ComponentType, site=house_admin)
class ComponentTypeAdmin(ByRole):
    form = ComponentTypeForm
    list_display = ["maker", "model", "kind", "compressor_kind"]
    list_filter = ["kind"]
    search_fields = ["maker", "model"]
    inlines = [PartsOfType]


@admin.register(models.Component, site=house_admin)
class ComponentAdmin(ByRole):
    list_display = ["serial", "type", "state"]
    list_select_related = ["type"]
    list_filter = ["state"]
    search_fields = ["serial", "type__model"]
    raw_id_fields = ["type"]


@admin.register(models.System, site=house_admin)
class SystemAdmin(ByRole):
    list_display = ["key", "name", "site", "installed_on", "winter_mode"]
    list_select_related = ["site"]
    search_fields = ["key", "name", "site__name"]
    raw_id_fields = ["site"]
    inlines = [Schedules]


@admin.register(models.Position, site=house_admin)
class PositionAdmin(ByRole):
    list_display = ["label", "kind", "system", "pond", "use"]
    list_select_related = ["system", "pond"]
    search_fields = ["label", "system__key", "system__name"]
    raw_id_fields = ["system", "pond", "serves"]


@admin.register(models.Gauge, site=house_admin)
class GaugeAdmin(ByRole):
    list_display = ["label", "quantity", "system", "from_on", "to_on"]
    list_select_related = ["system"]
    raw_id_fields = ["system", "component"]


class ConfigurationLines(admin.TabularInline):
    model = models.ConfigurationLine
    extra = 0
    can_delete = False

    def has_view_permission(self, request, obj=None):
        return True

    def has_add_permission(self, request, obj=None):
        return False

    def has_change_permission(self, request, obj=None):
        return False


@admin.register(models.Configuration, site=house_admin)
class ConfigurationAdmin(ReadOnly):
    list_display = ["system", "from_on", "name", "entered_at"]
    list_select_related = ["system"]
    inlines = [ConfigurationLines]


@admin.register(models.Fitting, site=house_admin)
class FittingAdmin(ReadOnly):
    list_display = ["component", "position", "from_on", "to_on"]
    list_select_related = ["component__type", "position"]


@admin.register(models.StateChange, site=house_admin)
class StateChangeAdmin(ReadOnly):
    list_display = ["system", "at", "state", "certainty", "entered_at"]
    list_select_related = ["system"]


@admin.register(models.ReadingSet, site=house_admin)
class ReadingSetAdmin(ReadOnly):
    list_display = ["taken_at", "system", "pond", "moment", "entered_at"]
    list_select_related = ["system", "pond"]


@admin.register(models.Reading, site=house_admin)
class ReadingAdmin(ReadOnly):
    list_display = ["quantity", "value", "typed_value", "typed_unit", "position"]
    list_select_related = ["position"]
    list_filter = ["quantity"]
