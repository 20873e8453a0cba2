"""Records as they lie in the database, for the manager alone.

Settings and parties can be changed here. What was signed, sent, measured, paid or derived can only
be read: it is corrected where it is made, by a new row.
"""

from django import forms
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.core.exceptions import PermissionDenied
from django.shortcuts import redirect

from customers import access
from customers.forms import zone_choices
from customers.models import (
    Contact,
    ContactRole,
    Customer,
    Firm,
    Hazard,
    MailStop,
    OpeningHours,
    Ownership,
    Pond,
    Region,
    SecretLook,
    SignedLink,
    Site,
    Trail,
    User,
)


class HouseAdminSite(admin.AdminSite):
    """The role decides who comes in, not a flag beside it; there is one way to sign in."""

    site_header = site_title = "All records"
    index_title = "Records"

    def has_permission(self, request):
        return request.user.is_authenticated and access.is_manager(request.user)

    def login(self, request, extra_context=None):
        """Reached by whoever is signed in already; nobody else comes past the middleware."""
        if not self.has_permission(request):
            raise PermissionDenied
        return redirect("admin:index")


house_admin = HouseAdminSite(name="admin")


class ByRole(admin.ModelAdmin):
    """Whoever may come in may add and change; nothing is deleted here."""

    list_per_page = 50
    show_full_result_count = False

    def has_module_permission(self, request):
        return access.is_manager(request.user)

    def formfield_for_dbfield(self, field, request, **kwargs):
        """A zone is chosen from those that exist: a wrong one would break every page."""
        if field.name != "time_zone":
            return super().formfield_for_dbfield(field, request, **kwargs)
        return forms.ChoiceField(
            choices=lambda: zone_choices("---"),
            required=not field.blank,
            help_text=field.help_text,
            initial=field.get_default(),
        )

    has_view_permission = has_add_permission = has_change_permission = (
        lambda self, request, obj=None: access.is_manager(request.user)
    )

    def has_delete_permission(self, request, obj=None):
        return False


class ReadOnly(ByRole):
    """Facts and what is derived from them: to be read."""

    def has_add_permission(self, request, obj=None):
        return False

    def has_change_permission(self, request, obj=None):
        return False


class InlineByRole(admin.TabularInline):
    extra = 0

    has_view_permission = has_add_permission = has_change_permission = has_delete_permission = (
        lambda self, request, obj=None: access.is_manager(request.user)
    )


class Roles(InlineByRole):
    model = ContactRole
    raw_id_fields = ["site"]


class Hazards(InlineByRole):
    model = Hazard


class Hours(InlineByRole):
    model = OpeningHours


@admin.register(User, site=house_admin)
class PeopleAdmin(ByRole, UserAdmin):
    list_display = ["username", "first_name", "last_name", "role", "is_active"]
    list_filter = ["role", "is_active"]
    fieldsets = [
        (None, {"fields": ["username", "password", "role", "is_active"]}),
        (
            "Person",
            {
                "fields": [
                    "first_name",
                    "last_name",
                    "email",
                    "phone",
                    "units",
                    "language",
                    "time_zone",
                ]
            },
        ),
    ]
    add_fieldsets = [
        (None, {"fields": ["username", "role", "usable_password", "password1", "password2"]})
    ]


@admin.register(Firm, site=house_admin)
class FirmAdmin(ByRole):
    def has_add_permission(self, request, obj=None):
        return not Firm.objects.exists() and access.is_manager(request.user)


@admin.register(Customer, site=house_admin)
class CustomerAdmin(ByRole):
    list_display = ["key", "name", "kind", "closed_on"]
    list_filter = ["kind"]
    search_fields = ["key", "name"]
    raw_id_fields = ["merged_into"]


@admin.register(Contact, site=house_admin)
class ContactAdmin(ByRole):
    list_display = ["name", "customer", "email", "phone", "state"]
    list_select_related = ["customer"]
    list_filter = ["state"]
    search_fields = ["name", "email", "customer__name"]
    raw_id_fields = ["customer"]
    inlines = [Roles]


@admin.register(Region, site=house_admin)
class RegionAdmin(ByRole):
    list_display = ["name", "ice_on_typical", "ice_out_typical", "dates_note"]


@admin.register(Site, site=house_admin)
class SiteAdmin(ByRole):
    list_display = ["key", "name", "town", "region"]
    list_select_related = ["region"]
    search_fields = ["key", "name", "town"]
    inlines = [Hazards, Hours]


@admin.register(Pond, site=house_admin)
class PondAdmin(ByRole):
    list_display = ["key", "name", "site"]
    list_select_related = ["site"]
    search_fields = ["key", "name", "site__name"]
    raw_id_fields = ["site"]


@admin.register(Ownership, site=house_admin)
class OwnershipAdmin(ByRole):
    list_display = ["customer", "site", "pond", "from_on", "to_on"]
    list_select_related = ["customer", "site", "pond"]
    search_fields = ["customer__name", "site__name", "pond__name"]
    raw_id_fields = ["customer", "site", "pond"]


@admin.register(Trail, site=house_admin)
class TrailAdmin(ReadOnly):
    list_display = ["at", "by", "did", "about"]
    list_select_related = ["by"]
    search_fields = ["about", "did"]


@admin.register(MailStop, site=house_admin)
class MailStopAdmin(ReadOnly):
    list_display = ["contact", "topic", "stopped_at", "resumed_at", "how"]
    list_select_related = ["contact"]


@admin.register(SignedLink, site=house_admin)
class SignedLinkAdmin(ReadOnly):
    list_display = ["contact", "purpose", "about", "made_at", "expires_at", "used_at"]
    list_select_related = ["contact"]
    exclude = ["token_hash"]


@admin.register(SecretLook, site=house_admin)
class SecretLookAdmin(ReadOnly):
    """Who saw a gate code, and when; the code itself is not shown here."""

    list_display = ["at", "by", "site"]
    list_select_related = ["by", "secret__site"]
    fields = ["at", "by", "site"]
    readonly_fields = ["site"]

    @admin.display
    def site(self, look):
        return look.secret.site
