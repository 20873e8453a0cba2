"""Signing in and out, one's own settings, and those of the firm."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, LogoutView, PasswordChangeView
from django.core.exceptions import PermissionDenied
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _

from customers import access
from customers.forms import AccountForm, FirmForm
from customers.models import Firm


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    template_name = "account/sign_in.html"
    redirect_authenticated_user = True


sign_in = SignIn.as_view()
sign_out = LogoutView.as_view()


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
