"""What the pages of edited rows share: the version a form was opened with, and conflicts."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse

from jobs.forms.fields import ModelForm, refusal_of
from jobs.workflows.owner_edits import version_of

from .sending import form_page


def opened_version(request: HttpRequest) -> int:
    """The history entry the form was opened at."""
    sent = request.POST.get("seen", "")
    return int(sent) if sent.isascii() and sent.isdigit() else 0


def owned_page(
    request: HttpRequest, template: str, form: ModelForm[Any], **context: object
) -> HttpResponse:
    """After a conflict both values are shown, and saving again is meant."""
    refusal = refusal_of(form)
    conflict = refusal is not None and bool(refusal.differences)
    seen = version_of(form.instance)
    if request.method == "POST" and not conflict:
        seen = opened_version(request)
    return form_page(request, template, form, seen=seen, **context)
