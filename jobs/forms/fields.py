"""What Django's forms leave out: words beside a box, fields by their own class, a refusal kept."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from django import forms
from django.http import QueryDict

from jobs.errors import JobsError

if TYPE_CHECKING:
    from django.forms import ModelChoiceField as ModelChoiceField
    from django.forms import ModelForm as ModelForm
    from django.forms import ModelMultipleChoiceField as ModelMultipleChoiceField
else:

    class ModelForm(forms.ModelForm):
        """Takes its model in brackets, as the type checker wants it."""

        def __class_getitem__(cls, model):
            return cls

    class ModelChoiceField(forms.ModelChoiceField):
        """The same for the rows to choose from."""

        def __class_getitem__(cls, model):
            return cls

    class ModelMultipleChoiceField(forms.ModelMultipleChoiceField):
        """The same for several of them."""

        def __class_getitem__(cls, model):
            return cls


def choice_of(form: forms.BaseForm, name: str) -> forms.ChoiceField:
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)
    return field


def rows_of(form: forms.BaseForm, name: str) -> forms.ModelChoiceField[Any]:
    field = form.fields[name]
    assert isinstance(field, forms.ModelChoiceField)
    return field


def put_unit(field: forms.Field, unit: str) -> None:
    """Shown beside the box (templates/parts/_field.html)."""
    field.unit = unit  # type: ignore[attr-defined]


def say_optional(
    form: forms.BaseForm, word: str = "optional", names: Iterable[str] | None = None
) -> None:
    """Shown where a box may stay empty: nobody has to find these out, they are a choice."""
    for name in form.fields if names is None else names:
        form.fields[name].optional = word  # type: ignore[attr-defined]


def say_any(form: forms.BaseForm, names: Iterable[str]) -> None:
    """Questions of a list: each has "any" among its choices, and nothing more is said."""
    for name in names:
        form.fields[name].says_any = True  # type: ignore[attr-defined]


def put_version(form: forms.BaseForm, version: int) -> None:
    """After both values were shown, sending the form again is meant."""
    put_hidden(form, "version", version)


def put_hidden(form: forms.BaseForm, name: str, value: int | str) -> None:
    """In place of what the box brought."""
    assert isinstance(form.data, QueryDict)
    sent = form.data.copy()
    sent[form.add_prefix(name)] = str(value)
    form.data = sent


def refuse(form: forms.BaseForm, refusal: JobsError) -> None:
    """What a workflow refuses stands beside its box, or above the form."""
    form.add_error(refusal.field if refusal.field in form.fields else None, refusal.message)
    form.refusal = refusal  # type: ignore[attr-defined]


def refusal_of(form: forms.BaseForm) -> JobsError | None:
    return getattr(form, "refusal", None)
