"""The first start: manager, firm, people; then the register."""

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from customers import access
from customers.kinds import Role
from customers.models import Firm, User
from servicedesk.actions import setup
from servicedesk.forms.start import ColleagueForm, FirmStartForm, PersonForm

BACKEND = "django.contrib.auth.backends.ModelBackend"
PERSON = {"password", "password_again", "role", "first_name", "last_name", "username", "email"}


@login_not_required
def start(request):
    """Without the link of this machine's terminal nobody gets in; a manager goes on from here."""
    if not setup.manager_exists():
        return render(request, "start/link_wanted.html", status=403)
    if not request.user.is_authenticated:
        return redirect_to_login(request.path)
    _manager_only(request.user)
    return redirect("start_people" if Firm.objects.exists() else "start_firm")


@login_not_required
def start_manager(request, token):
    """The first manager's account, behind the link that the terminal printed."""
    if setup.manager_exists():
        return redirect("start")
    if not setup.opens_start(token):
        return render(request, "start/link_wanted.html", status=403)
    form = PersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            user = setup.make_first_manager(
                form.instance, password=form.cleaned_data["password"], now=timezone.now()
            )
        except setup.SetupRefused as refusal:
            messages.error(request, str(refusal))
            return redirect("sign_in")
        login(request, user, backend=BACKEND)
        return redirect("start_firm")
    return render(request, "start/start_manager.html", {"form": form})


def start_firm(request):
    _manager_only(request.user)
    form = FirmStartForm(request.POST or None, instance=Firm.objects.first())
    if request.method == "POST" and form.is_valid():
        firm = form.save()
        if not request.user.time_zone:
            User.objects.filter(pk=request.user.pk).update(units=firm.units, language=firm.language)
        messages.success(request, _("Kept. Now the people."))
        return redirect("start_people")
    return render(request, "start/start_firm.html", {"form": form})


def start_people(request):
    """Technicians with their shifts, and the office; one after the other."""
    _manager_only(request.user)
    firm = Firm.objects.first()
    if firm is None:
        return redirect("start_firm")
    form = ColleagueForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        form.instance.role = said["role"]
        setup.add_person(
            form.instance,
            password=said["password"],
            firm=firm,
            by=request.user,
            now=timezone.now(),
            from_on=timezone.localdate(),
            **{name: said[name] for name in said if name not in PERSON | {"phone"}},
        )
        messages.success(request, _("%(name)s is added.") % {"name": form.instance})
        return redirect("start_people")
    people = User.objects.filter(is_active=True).order_by("pk")
    context = {"form": form, "people": people, "technicians": Role.TECHNICIAN}
    return render(request, "start/start_people.html", context)


def _manager_only(user):
    if not user.is_authenticated:
        raise Http404
    if not access.is_manager(user):
        raise PermissionDenied
