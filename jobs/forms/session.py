"""Forms of the way in: signing in, a new password, the person's own settings."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordResetForm
from django.core.validators import MaxLengthValidator

from jobs.models import StaffProfile

from .fields import ModelForm, choice_of


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": "Name and password do not belong together. Both count capitals.",
        "inactive": "This account is closed. Ask the owner to open it again.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        most = self.fields["username"].max_length  # type: ignore[attr-defined]
        self.fields["username"].validators.append(MaxLengthValidator(most))


class NewPasswordForm(PasswordResetForm):
    """Takes the address only. Whose it is, is looked up later: the time tells nobody anything."""


class AccountForm(ModelForm[StaffProfile]):
    class Meta:
        model = StaffProfile
        fields = ["unit_system", "phone"]
        widgets = {"unit_system": forms.RadioSelect}
        labels = {"unit_system": "Units you type and read", "phone": "Telephone"}
        help_texts = {
            "unit_system": "Figures are kept as they were typed, with their unit.",
            "phone": "Colleagues see it on the day sheet.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice_of(self, "unit_system").choices = StaffProfile.UnitSystem.choices
