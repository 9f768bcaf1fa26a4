"""Who takes each visit of somebody who is away, and who was told on the telephone: one form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from django import forms
from django.contrib.auth.models import User
from django.http import QueryDict
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from jobs.errors import VisitChanged
from jobs.models import Customer, Giving, Visit
from jobs.workflows.giving import MEANWHILE, Choice
from jobs.workflows.telling import Call

from .fields import refuse, say_optional

ALONE, LEAVE = "alone", ""
NOBODY_YET = "Nobody yet: it stays on the worklist"


class Offer(Protocol):
    @property
    def value(self) -> str: ...

    @property
    def said(self) -> str: ...


class Asked(Protocol):
    """A visit with who could take it, best first."""

    visit: Visit
    contact: Customer | None
    is_left: bool

    @property
    def options(self) -> Sequence[Offer]: ...


class TakeField(forms.ChoiceField):
    """A time that was offered before is taken too: the workflow says whether it is still free."""

    def valid_value(self, value: Any) -> bool:
        return True


class GiveForm(forms.Form):
    """Four boxes for each visit: who takes it, and who was told by telephone."""

    def __init__(
        self,
        *args: Any,
        rows: Sequence[Asked],
        people: Mapping[int, User],
        leave: str = NOBODY_YET,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.leave = leave
        self.visits, self.people = [row.visit for row in rows], people
        for row in rows:
            self._ask(row)
        say_optional(self, "kept where they were told")

    def _ask(self, row: Asked) -> None:
        visit, options = row.visit, [(offer.value, offer.said) for offer in row.options]
        house = f"{row.contact or visit.job.site}"
        self.fields[f"take_{visit.pk}"] = TakeField(
            choices=[*options, (LEAVE, self.leave)],
            widget=forms.RadioSelect,
            required=False,
            initial=options[0][0] if options and not row.is_left else LEAVE,
            label=f"Who takes {house}",
        )
        self.fields[f"version_{visit.pk}"] = forms.IntegerField(
            widget=forms.HiddenInput, initial=visit.version
        )
        phones = [phone.as_national for phone in row.contact.phones] if row.contact else []
        self.fields[f"whom_{visit.pk}"] = forms.CharField(
            max_length=120,
            required=False,
            initial=row.contact.name if row.contact else "",
            label="Adult who was told",
        )
        self.fields[f"number_{visit.pk}"] = forms.CharField(
            max_length=30, required=False, initial=phones[0] if phones else "", label="Number"
        )
        self.fields[f"told_{visit.pk}"] = forms.BooleanField(
            required=False, label="Told by telephone, and said it back"
        )

    def boxes(self, visit: Visit) -> dict[str, forms.BoundField]:
        names = ("take", "version", "whom", "number", "told")
        return {name: self[f"{name}_{visit.pk}"] for name in names}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for visit in self.visits:
            taken = cleaned.get(f"take_{visit.pk}") or LEAVE
            if taken and taken != ALONE and self._read(taken) is None:
                self.add_error(f"take_{visit.pk}", "Choose one of those offered.")
            if cleaned.get(f"told_{visit.pk}") and not taken:
                self.add_error(f"told_{visit.pk}", "Choose who comes, then tell them.")
        return cleaned

    def _read(self, value: str) -> tuple[User, Any] | None:
        number, _, moment = value.partition("|")
        who = self.people.get(int(number)) if number.isdigit() else None
        starts_at = parse_datetime(moment) if moment else None
        if who is None or starts_at is None or timezone.is_naive(starts_at):
            return None
        return who, starts_at

    def choices(self) -> list[Choice]:
        """What was chosen; refused where a visit that stood on the page is not here any more."""
        shown = {name.partition("_")[2] for name in self.data if name.startswith("version_")}
        if shown != {str(visit.pk) for visit in self.visits}:
            raise VisitChanged(MEANWHILE)
        return [choice for visit in self.visits if (choice := self._choice(visit))]

    def _choice(self, visit: Visit) -> Choice | None:
        data = self.cleaned_data
        taken = data[f"take_{visit.pk}"] or LEAVE
        if not taken:
            return None
        who, starts_at = self._read(taken) or (None, visit.starts_at)
        call = None
        if data[f"told_{visit.pk}"]:
            whom, number = (data[f"{name}_{visit.pk}"] for name in ("whom", "number"))
            call = Call(whom, number, read_back=True)
        return Choice(visit.pk, data[f"version_{visit.pk}"], who, starts_at, call)

    def renew(self, refusal: VisitChanged) -> None:
        """Sending it again is meant for the visits as they stand now."""
        assert isinstance(self.data, QueryDict)
        sent = self.data.copy()
        for name in [name for name in sent if name.startswith("version_")]:
            del sent[name]
        for visit in self.visits:
            sent[f"version_{visit.pk}"] = str(visit.version)
        self.data = sent
        self.full_clean()
        refuse(self, refusal)


class BackForm(forms.Form):
    """The person comes after all: which visits are theirs again."""

    back = forms.MultipleChoiceField(
        widget=forms.CheckboxSelectMultiple, required=False, label="Comes again to"
    )

    def __init__(self, *args: Any, givings: Sequence[Giving], **kwargs: Any) -> None:
        kwargs["initial"] = {"back": [str(row.pk) for row in givings]}
        super().__init__(*args, **kwargs)
        self.givings = {str(row.pk): row for row in givings}
        say_optional(self, "take the tick off what stays as it is")
        field = self.fields["back"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [(pk, _said(row)) for pk, row in self.givings.items()]

    def chosen(self) -> list[Giving]:
        return [self.givings[pk] for pk in self.cleaned_data["back"]]


def _said(giving: Giving) -> str:
    begins, now = (timezone.localtime(at) for at in (giving.starts_before, giving.visit.starts_at))
    return (
        f"{giving.visit.job.site}, {begins:%A %-d %B %Y, %H:%M} "
        f"(now {giving.visit.lead.get_full_name()}, {now:%A %H:%M})"
    )
