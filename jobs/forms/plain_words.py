"""What a box says when it cannot take what was typed: in plain words, the same everywhere.

Django's own sentences speak of values and characters to whoever wrote the form.
"""

from __future__ import annotations

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordResetForm, SetPasswordForm
from django.core import validators

NEEDED = "This is needed."


def speak_plainly() -> None:
    """Called once, when the application gets ready."""
    validators.MinValueValidator.message = "At least %(limit_value)s, please."
    validators.MaxValueValidator.message = "At most %(limit_value)s, please."
    letters = "%(limit_value)d letters, please; these are %(show_value)d."
    validators.MaxLengthValidator.message = f"At most {letters}"
    validators.MinLengthValidator.message = f"At least {letters}"
    forms.Field.default_error_messages["required"] = NEEDED
    forms.IntegerField.default_error_messages["invalid"] = "Write a whole number, such as 12."
    forms.FloatField.default_error_messages["invalid"] = "Write a number, such as 7.5."
    forms.DecimalField.default_error_messages["invalid"] = "Write a number, such as 120.50."
    validators.DecimalValidator.messages |= {
        "max_decimal_places": "At most %(max)s places after the point, please.",
        "max_digits": "At most %(max)s digits, please.",
    }
    forms.DateField.default_error_messages["invalid"] = "Write a day, such as 2026-06-24."
    forms.TimeField.default_error_messages["invalid"] = "Write a time, such as 13:30."
    forms.DateTimeField.default_error_messages["invalid"] = "Write a day and a time."
    for form in (AuthenticationForm, PasswordResetForm, SetPasswordForm):  # made before us
        for box in form.base_fields.values():
            box.error_messages["required"] = NEEDED
    for field in (
        forms.ChoiceField,
        forms.MultipleChoiceField,
        forms.ModelChoiceField,
        forms.ModelMultipleChoiceField,
    ):
        field.default_error_messages["invalid_choice"] = "Choose one of those offered."
    forms.ModelMultipleChoiceField.default_error_messages["invalid_pk_value"] = (
        "Choose one of those offered."
    )
