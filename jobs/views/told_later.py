"""The office looks at what phones told and was not applied."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.access import allow
from jobs.forms.told_later import NotedForm
from jobs.http import StaffRequest
from jobs.models import Act
from jobs.pages.told_later import rows_of
from jobs.workflows.acts import note_act

from .sending import form_page, send_once

#: more than these nobody reads at once
SHOWN = 100


@allow("dispatcher")
@require_safe
def told_later(request: StaffRequest) -> HttpResponse:
    waiting = Act.objects.waiting()
    rows = rows_of(waiting.with_answer()[:SHOWN])
    context = {"rows": rows, "total": waiting.count(), "nav": "worklist"}
    return render(request, "records/told_later.html", context)


@allow("dispatcher")
def told_noted(request: StaffRequest, pk: int) -> HttpResponse:
    """Somebody has looked: what becomes of it, under a name."""
    act = get_object_or_404(Act.objects.with_answer().filter(answer__isnull=False), pk=pk)
    form = NotedForm(request.POST or None)

    def work() -> str:
        words = form.cleaned_data["words"]
        note_act(act=act, words=words, by=request.user, now=timezone.now())
        return reverse("told-later")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    (row,) = rows_of([act])
    return form_page(request, "records/told_noted.html", form, row=row, nav="worklist")
