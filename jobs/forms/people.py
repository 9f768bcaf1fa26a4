"""Forms of the staff: accounts, roles."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.contrib.auth.validators import UnicodeUsernameValidator
from phonenumber_field.formfields import PhoneNumberField

from jobs.access import ROLES
from jobs.workflows.people import Person

from .fields import say_optional

ROLE_WORDS = {
    "technician": "Technician: own visits and their sites",
    "dispatcher": "Dispatcher: customers, sites, visits, follow-ups, mail",
    "owner": "Owner: everything, with reports, rules and people",
}


class PersonForm(forms.Form):
    first_name = forms.CharField(max_length=150, label="First name")
    last_name = forms.CharField(max_length=150, label="Last name", required=False)
    email = forms.EmailField(label="Mail address", help_text="The link to a password goes there.")
    phone = PhoneNumberField(
        label="Telephone", required=False, region="US", help_text="Stands on the day sheet."
    )
    roles = forms.MultipleChoiceField(
        label="Roles",
        widget=forms.CheckboxSelectMultiple,
        choices=[(role, ROLE_WORDS[role]) for role in ROLES],
        error_messages={"required": "Choose at least one role."},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        say_optional(self)
        self.fields["phone"].error_messages["invalid"] = (
            "This is no telephone number: write area code and number, such as 518-555-0124."
        )

    def person(self) -> Person:
        facts = {name: said for name, said in self.cleaned_data.items() if name != "username"}
        return Person(**facts)


class NewPersonForm(PersonForm):
    username = forms.CharField(
        max_length=150,
        label="Name to sign in with",
        validators=[UnicodeUsernameValidator()],
        widget=forms.TextInput(attrs={"autocapitalize": "none", "autocomplete": "off"}),
        help_text="Letters, digits and @ . + - _; it cannot be changed later.",
    )
    field_order = ["first_name", "last_name", "username", "email", "phone", "roles"]


class ChangePersonForm(PersonForm):
    def __init__(self, *args: Any, person: User, **kwargs: Any) -> None:
        profile = getattr(person, "profile", None)
        kwargs["initial"] = {
            "first_name": person.first_name,
            "last_name": person.last_name,
            "email": person.email,
            "phone": profile.phone if profile else "",
            "roles": [group.name for group in person.groups.all()],
        }
        super().__init__(*args, **kwargs)
