"""The form before chlorine is poured: at each house who was told, and what its water must suit."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from django import forms

from equipment.models import ResultTold, Site, SpecialUse
from jobs.errors import BadEntry
from jobs.fieldwork.facts_beside import Poured
from jobs.models import Customer
from jobs.workflows.pouring import BOXES
from jobs.workflows.telling import Adult

from .fields import say_optional
from .samples import KnowsForm

How = ResultTold.How
SAID_AT_EACH = (
    "Nobody drinks, cooks, washes or waters animals until one of us calls; pails of water are "
    "drawn before anything is poured."
)
NOT_TOLD = "A voice mail or a note at the door is not told."
NOT_ASKED = "Ask before anything is poured."


@dataclass(frozen=True)
class House:
    """One house on the well: who is called there, and its boxes."""

    site: Site
    person: Customer | None
    fields: list[forms.BoundField]
    is_here: bool

    def offers(self) -> list[dict[str, str]]:
        """One press says who was told and how: by the way that is usual for this house first."""
        if self.person is None:
            return []
        here = self._offer("here", How.DOOR)
        called = [phone.as_national for phone in self.person.phones]
        calls = [self._offer(f"on {number}", How.TELEPHONE, number) for number in called]
        return [here, *calls] if self.is_here else [*calls, here]

    def _offer(self, where: str, how: str, number: str = "") -> dict[str, str]:
        """What the press is called, and what it puts into which boxes."""
        name = self.person.name if self.person else ""
        said = {"whom": name, "how": str(how), "number": number, "read_back": True}
        puts = {box_of(part, self.site): value for part, value in said.items()}
        return {"label": f"{name} is told {where} and said it back", "puts": json.dumps(puts)}


class PouringForm(forms.Form):
    """What is asked at each house on the well; the fields end with its number.

    What has happened is kept with what is missing of it: pressed on a phone and told later, or in
    already.
    """

    is_in_already = forms.BooleanField(
        required=False,
        label="The chlorine is in already",
        help_text="Then it is kept as it happened, also where nobody was told: tell them now.",
    )

    def __init__(
        self,
        *args: Any,
        houses: list[Site],
        poured: Iterable[Poured] = (),
        has_happened: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.houses, self.has_happened = houses, has_happened
        known = {row.house: row for row in poured}
        self.fields["is_in_already"].initial = bool(known)
        for at, site in enumerate(houses):
            uses = SpecialUse.objects.filter(site=site, ended_on=None)
            self.fields[f"uses-{site.pk}"] = forms.MultipleChoiceField(
                required=False,
                choices=SpecialUse.Kind.choices,
                widget=forms.CheckboxSelectMultiple,
                label="Asked for, and found here",
                initial=[use.kind for use in uses],
            )
            asked = forms.BooleanField(required=False, label="Asked here for each of these")
            self.fields[f"asked-{site.pk}"] = asked
            self._ask_who_was_told(site, known.get(site.pk), is_here=at == 0)
            needed = [f"{box}-{site.pk}" for box in ("told", "how")]
            say_optional(self, "before it is poured", names=needed)
            say_optional(self, "of a call", names=[f"number-{site.pk}"])

    def _ask_who_was_told(self, site: Site, known: Poured | None, *, is_here: bool) -> None:
        """As of every result that is told; at the house of the visit mostly face to face."""
        for name, box in BOXES.items():
            field = deepcopy(KnowsForm.base_fields[name])
            field.required = False
            field.initial = getattr(known, name) if known else None
            self.fields[f"{box}-{site.pk}"] = field
        whom, how = self.fields[f"told-{site.pk}"], self.fields[f"how-{site.pk}"]
        whom.label, whom.help_text = "Adult who was told", SAID_AT_EACH
        how.help_text = NOT_TOLD
        if is_here and not (known and known.how):
            how.initial = How.DOOR.value

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("is_in_already") or self.has_happened:
            return cleaned
        for site in self.houses:
            if not cleaned.get(f"asked-{site.pk}"):
                self.add_error(f"asked-{site.pk}", NOT_ASKED)
            try:
                self._adult(site, cleaned).check()
            except BadEntry as refusal:
                self.add_error(box_of(refusal.field, site), refusal.message)
        return cleaned

    def _adult(self, site: Site, cleaned: dict[str, Any]) -> Adult:
        """A page kept by a phone from before asks for the name alone."""
        is_asked = f"number-{site.pk}" in self.data
        said = {name: cleaned.get(f"{box}-{site.pk}") or "" for name, box in BOXES.items()}
        return Adult(
            said["whom"],
            said["how"] if is_asked else "",
            said["number"],
            bool(said["read_back"]),
            is_asked,
        )

    def told(self) -> dict[int, Adult]:
        return {site.pk: self._adult(site, self.cleaned_data) for site in self.houses}

    def not_asked(self) -> list[Site]:
        """Houses where nobody asked what their water must suit."""
        return [site for site in self.houses if not self.cleaned_data[f"asked-{site.pk}"]]

    def uses(self) -> dict[Site, list[str]]:
        return {site: self.cleaned_data[f"uses-{site.pk}"] for site in self.houses}

    def groups(self, people: Mapping[int, Customer]) -> list[House]:
        """Each house with who is called there, by number of the house."""
        return [
            House(
                site,
                people.get(site.pk),
                [self[f"{name}-{site.pk}"] for name in ("uses", "asked", *BOXES.values())],
                is_here=at == 0,
            )
            for at, site in enumerate(self.houses)
        ]


def box_of(name: str, site: Site) -> str:
    """The box of a house where a part of a telling is typed."""
    return f"{BOXES[name]}-{site.pk}"
