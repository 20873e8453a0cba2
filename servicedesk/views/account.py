"""Signing in and out, one's own settings, and those of the firm."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, LogoutView, PasswordChangeView
from django.core.exceptions import PermissionDenied
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _

from customers import access
from customers.forms import AccountForm, FirmForm
from customers.models import Firm
from equipment.actions.assessment import tolerances_of
from servicedesk.actions.tolerances import set_tolerances
from servicedesk.forms.tolerances import TolerancesForm


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    template_name = "account/sign_in.html"
    redirect_authenticated_user = True


class SignOut(LogoutView):
    """The page that follows takes the day off the phone, wherever the button stood."""

    def get_success_url(self):
        return f"{reverse('sign_in')}?left=yes"


sign_in = SignIn.as_view()
sign_out = SignOut.as_view()


class ChangePassword(PasswordChangeView):
    template_name = "account/change_password.html"
    success_url = reverse_lazy("account")

    def form_valid(self, form):
        messages.success(self.request, _("Your password is changed."))
        return super().form_valid(form)


change_password = ChangePassword.as_view()


def account(request):
    form = AccountForm(request.POST or None, instance=request.user)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, _("Kept."))
        return redirect("account")
    return render(request, "account/account.html", {"form": form})


def firm_settings(request):
    """The firm's settings: everybody of the office reads them, the manager changes them."""
    if not access.is_office(request.user):
        raise PermissionDenied
    form = FirmForm(request.POST or None, instance=Firm.objects.first())
    if request.method == "POST":
        if not access.is_manager(request.user):
            raise PermissionDenied
        if form.is_valid():
            form.save()
            messages.success(request, _("Kept. Due days and routes follow at their next round."))
            return redirect("firm_settings")
    return render(request, "account/firm_settings.html", {"form": form})


def tolerances(request):
    """The figures by which readings are judged: the office reads them, the manager changes them."""
    if not access.is_office(request.user):
        raise PermissionDenied
    now = tolerances_of(Firm.objects.first())
    form = TolerancesForm(request.POST or None, now=now, reader_units=request.user.units)
    if request.method == "POST":
        if not access.is_manager(request.user):
            raise PermissionDenied
        if form.is_valid():
            set_tolerances(form.cleaned_data, by=request.user, now=timezone.now())
            messages.success(request, _("Kept. All systems are judged again."))
            return redirect("tolerances")
    status = 400 if form.errors else 200
    return render(request, "account/tolerances.html", {"form": form}, status=status)
