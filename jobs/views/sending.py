"""What every page with a form does: one effect per opening, refusals beside their field."""

from __future__ import annotations

from collections.abc import Callable

from django.db import transaction
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.utils import timezone

from jobs.errors import EditedMeanwhile, JobsError, VisitChanged
from jobs.forms import once
from jobs.forms.fields import refusal_of, refuse


def send_once(
    request: HttpRequest, form: BaseForm, work: Callable[[], str]
) -> HttpResponseRedirect | None:
    """Do the work of a valid form and go where it says. None: show the form with what is wrong."""
    try:
        with transaction.atomic():
            location = once.begin(request, now=timezone.now())
            if location is None:
                location = work()
                once.end(request, location)
    except JobsError as refusal:
        refuse(form, refusal)
        return None
    return redirect(location)


def form_page(
    request: HttpRequest, template: str, form: BaseForm, **context: object
) -> HttpResponse:
    """The form as it stands: 200 when opened, 422 when refused, 409 when somebody was faster.

    A form that was sent before, with the same content, leads where the first sending led.
    """
    refusal = refusal_of(form)
    forms = [form, *(part for part in context.values() if isinstance(part, BaseForm))]
    status = 200
    if any(part.is_bound and part.errors for part in forms):
        if earlier := _earlier(request):
            return redirect(earlier)
        status = 409 if isinstance(refusal, EditedMeanwhile | VisitChanged) else 422
    context.update(
        form=form,
        once=request.POST.get(once.FIELD) or once.new_key(),
        differences=refusal.differences if refusal else (),
    )
    return render(request, template, context, status=status)


def _earlier(request: HttpRequest) -> str | None:
    try:
        return once.earlier_answer(request)
    except JobsError:
        return None  # the same key with other content: the form says what is wrong
