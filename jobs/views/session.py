"""The way in and out, and where each role begins."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import views as auth_views
from django.contrib.auth.forms import AuthenticationForm, PasswordResetForm, SetPasswordForm
from django.contrib.auth.models import User
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils import timezone

from jobs.access import allow, has_role, open_to_all
from jobs.forms.session import AccountForm, NewPasswordForm, SignInForm
from jobs.http import StaffRequest
from jobs.models import StaffProfile
from jobs.pages.licences import own_of
from jobs.workflows import password_asks

from .sign_in_guard import forget_tries, remember_device


@allow()
def home(request: StaffRequest) -> HttpResponse:
    """The office begins at the worklist, a technician at the day."""
    return redirect("worklist" if has_role(request.user, "dispatcher") else "my-day")


class SignIn(auth_views.LoginView):
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """A phone in the basement stays signed in for days; the office does not."""
        response = super().form_valid(form)
        if not has_role(form.get_user(), "dispatcher"):
            self.request.session.set_expiry(settings.TECHNICIAN_SESSION_AGE)
        remember_device(self.request, response, form.get_user())
        return response


class AskNewPassword(auth_views.PasswordResetView):
    form_class = NewPasswordForm
    success_url = reverse_lazy("password-reset-sent")

    def form_valid(self, form: PasswordResetForm) -> HttpResponse:
        password_asks.ask(email=form.cleaned_data["email"], now=timezone.now())
        return redirect(str(self.success_url))


class ChooseNewPassword(auth_views.PasswordResetConfirmView):
    success_url = reverse_lazy("password-reset-complete")

    def form_valid(self, form: SetPasswordForm[User]) -> HttpResponse:
        """Whoever holds the letter is that person: wrong tries end, this device is known."""
        response = super().form_valid(form)
        forget_tries(form.user)
        remember_device(self.request, response, form.user)
        return response


def _open(view: object) -> Callable[..., HttpResponse]:
    return open_to_all(cast("Callable[..., HttpResponse]", view))


sign_in = _open(SignIn.as_view())
sign_out = _open(auth_views.LogoutView.as_view())
password_reset = _open(AskNewPassword.as_view())
password_reset_sent = _open(auth_views.PasswordResetDoneView.as_view())
password_reset_confirm = _open(ChooseNewPassword.as_view())
password_reset_complete = _open(auth_views.PasswordResetCompleteView.as_view())


@allow()
def account(request: StaffRequest) -> HttpResponse:
    profile, _ = StaffProfile.objects.get_or_create(user=request.user)
    form = AccountForm(request.POST or None, instance=profile)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Your settings are kept.")
        return redirect("account")
    context = {"form": form, "licences": own_of(request.user, timezone.now())}
    return render(request, "session/account.html", context)
