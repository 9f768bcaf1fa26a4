"""Forms about customers, houses and who holds them."""

from __future__ import annotations

import re
from typing import Any, TypeVar

from django import forms
from django.utils import timezone

from equipment.models import Site, SpecialUse
from jobs.models import Customer, SiteTenure
from jobs.models.company import company_day
from jobs.search.find import near_customers, near_sites
from jobs.workflows.edits import Edited
from jobs.workflows.sites import Buyer

from .fields import ModelForm, put_version, rows_of


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self, **attrs: str) -> None:
        super().__init__(format="%Y-%m-%d", attrs=attrs)


class MomentInput(forms.DateTimeInput):
    input_type = "datetime-local"

    def __init__(self, **attrs: str) -> None:
        super().__init__(format="%Y-%m-%dT%H:%M", attrs=attrs)


Row = TypeVar("Row", bound=Edited)


class EditedForm(ModelForm[Row]):
    """A form of a row that counts its versions; carries the version it was opened with."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.fields["version"].initial = self.instance.version
        else:
            del self.fields["version"]

    @property
    def opened_version(self) -> int | None:
        if not self.instance.pk:
            return None
        return self.cleaned_data.get("version") or 0

    def take_newest_version(self) -> None:
        """After both values were shown, saving again is meant."""
        newest = type(self.instance)._default_manager.get(pk=self.instance.pk)
        put_version(self, newest.version)


class CustomerForm(EditedForm[Customer]):
    """`is_another` appears once somebody very like this one is found."""

    is_another = forms.BooleanField(
        required=False, label="I looked: this is somebody else", widget=forms.HiddenInput
    )
    near: list[Customer]

    class Meta:
        model = Customer
        fields = ["kind", "name", "phone", "phone_2", "email", "mail_wanted", "notes"]
        widgets = {"notes": forms.Textarea(attrs={"rows": 2})}
        labels = {"mail_wanted": "Wants mail about visits", "phone": "Telephone"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.near = []
        for name in {"phone", "phone_2"} & set(self.fields):
            self.fields[name].error_messages["invalid"] = (
                "This is no telephone number: write area code and number, such as 518-555-0124."
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.instance.pk or not self.changed_data or cleaned.get("is_another"):
            return cleaned  # who is corrected was looked at when he was entered
        numbers = [re.sub(r"\D", "", str(cleaned.get(name) or "")) for name in ("phone", "phone_2")]
        self.near = near_customers(cleaned.get("name", ""), numbers, cleaned.get("email", ""))
        if self.near:
            self.fields["is_another"].widget = forms.CheckboxInput()
            names = "; ".join(row.name for row in self.near)
            self.add_error(
                "is_another", f"There is somebody like this: {names}. Look, then tick or choose."
            )
        return cleaned


class SiteForm(EditedForm[Site]):
    is_another = forms.BooleanField(
        required=False, label="I looked: this is another house", widget=forms.HiddenInput
    )
    near: list[Site]

    class Meta:
        model = Site
        fields = [
            "street",
            "town",
            "county",
            "region",
            "postcode",
            "parcel",
            "access_notes",
            "gate_code",
            "hazards",
            "drain",
            "has_septic",
            "time_zone",
            "latitude",
            "longitude",
            "is_active",
        ]
        widgets = {
            "access_notes": forms.Textarea(attrs={"rows": 2}),
            "hazards": forms.Textarea(attrs={"rows": 2}),
            "has_septic": forms.NullBooleanSelect,
        }
        labels = {
            "street": "Street and number",
            "has_septic": "Septic system",
            "is_active": "We look after this house",
            "drain": "Drain for backwash",
            "access_notes": "How to get in",
            "time_zone": "Time zone",
            "latitude": "Latitude, degrees north",
            "longitude": "Longitude, degrees east",
        }
        help_texts = {
            "latitude": "Both or neither, for the minutes of driving: 42.5310, for instance.",
            "longitude": "West is negative: -75.5235, for instance.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.near = []
        if not self.instance.pk:
            self.fields.pop("is_active", None)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self._clean_place(cleaned)
        street, town = cleaned.get("street", ""), cleaned.get("town", "")
        moved = {"street", "town"} & set(self.changed_data)
        if not moved or cleaned.get("is_another") or not street or not town:
            return cleaned
        self.near = near_sites(street, town, besides=self.instance.pk)
        if self.near:
            self.fields["is_another"].widget = forms.CheckboxInput()
            names = "; ".join(str(row) for row in self.near)
            self.add_error(
                "is_another", f"There is a house like this: {names}. Look, then tick or open it."
            )
        return cleaned

    def _clean_place(self, cleaned: dict[str, Any]) -> None:
        """One half of a place is none."""
        halves = ("latitude", "longitude")
        if self.errors.keys() & set(halves):
            return
        for one, other in (halves, halves[::-1]):
            if cleaned.get(one) is None and cleaned.get(other) is not None:
                self.add_error(one, "Write both, or leave both empty.")

    def clean_time_zone(self) -> str:
        from zoneinfo import available_timezones

        name: str = self.cleaned_data["time_zone"].strip()
        if name and name not in available_timezones():
            raise forms.ValidationError("Write a zone such as America/Denver, or leave it empty.")
        return name


class HolderForm(forms.Form):
    """In which part and since when a customer holds the house."""

    part = forms.ChoiceField(choices=SiteTenure.Part.choices, label="Holds the house as")
    from_on = forms.DateField(widget=DayInput(), label="Since")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["from_on"].initial = company_day(timezone.now())


#: who usually goes with a sale or a lease; others stay unless it is said
LEAVING = (*SiteTenure.OF_THE_HOUSE, SiteTenure.Part.PAYER)


class HandoverForm(forms.Form):
    """The house is sold, or let to somebody else."""

    on = forms.DateField(widget=DayInput(), label="Changed hands on")
    buyer = forms.ChoiceField(
        choices=Buyer.choices,
        initial=Buyer.OURS,
        required=False,
        widget=forms.RadioSelect,
        label="Who holds it now",
        help_text="Not ours, or nobody knows: nobody there would call us, so our work is not "
        "followed from that day, and the new holder need not be filled in.",
    )
    part = forms.ChoiceField(choices=SiteTenure.Part.choices, label="The new one is")
    ending = forms.ModelMultipleChoiceField(
        queryset=SiteTenure.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Who leaves",
        help_text="Mail about this house to them stops on that day. Who is not ticked stays.",
    )

    def clean_buyer(self) -> str:
        return self.cleaned_data["buyer"] or Buyer.OURS

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        tenures = SiteTenure.objects.of_site(site).filter(until_on=None).select_related("site")
        ending = rows_of(self, "ending")
        ending.queryset = tenures
        ending.initial = [row.pk for row in tenures if row.part in LEAVING]
        self.fields["on"].initial = company_day(timezone.now())


class SpecialUseForm(ModelForm[SpecialUse]):
    class Meta:
        model = SpecialUse
        fields = ["kind", "noted_on", "note"]
        widgets = {"noted_on": DayInput()}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["noted_on"] = company_day(timezone.now())


class ClinicForm(forms.Form):
    whom = forms.CharField(
        max_length=120,
        label="Whom at the clinic did you tell",
        help_text="Name and telephone. Your name and the time are kept with it.",
    )


class EndUseForm(forms.Form):
    ended_on = forms.DateField(widget=DayInput(), label="Ended on")
