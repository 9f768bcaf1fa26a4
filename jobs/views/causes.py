"""The owner looks at the causes of closed callbacks, and decides open questions."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from jobs.access import allow
from jobs.forms.causes import CauseForm, QuestionForm
from jobs.http import StaffRequest
from jobs.models import Job
from jobs.models.company import company_day
from jobs.reports.callbacks import GROUPS
from jobs.reports.edit_history import changes_of
from jobs.workflows import causes as workflow

from .sending import form_page, send_once

ROWS = 100
FORM = require_http_methods(["GET", "HEAD", "POST"])
WITH_ALL = (
    "site",
    "train",
    "installer",
    "cause_by",
    "cause_reviewed_by",
    "origin__installer",
    "origin__site",
)


@allow("owner")
@require_safe
def cause_review(request: StaffRequest) -> HttpResponse:
    rows = Job.objects.select_related(*WITH_ALL).exclude(status=Job.Status.CANCELLED)
    closed = rows.filter(
        callback_answer=Job.CallbackAnswer.YES, status=Job.Status.COMPLETED
    ).order_by("completed_at", "pk")
    waiting = closed.filter(cause_reviewed_at=None)
    context = {
        "nav": "callbacks",
        "to_review": waiting[:ROWS],
        "waiting": waiting.count(),
        "questions": rows.filter(callback_answer=Job.CallbackAnswer.NOT_SURE).order_by(
            "reported_on", "pk"
        )[:ROWS],
        "reviewed": closed.exclude(cause_reviewed_at=None).order_by("-cause_reviewed_at")[:20],
        "today": company_day(timezone.now()),
    }
    return render(request, "reports/cause_review.html", context)


@allow("owner")
@FORM
def cause_decide(request: StaffRequest, pk: int) -> HttpResponse:
    callback = get_object_or_404(Job.objects.select_related(*WITH_ALL), pk=pk)
    form = CauseForm(request.POST or None, callback=callback)

    def work() -> str:
        workflow.review_cause(
            callback=callback, **form.cleaned_data, by=request.user, now=timezone.now()
        )
        messages.success(request, "The cause is kept with your name.")
        return reverse("cause-review")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(
        request,
        "reports/cause_decide.html",
        form,
        nav="callbacks",
        callback=callback,
        group=GROUPS.get(callback.cause_group),
        today=company_day(timezone.now()),
        visits=callback.visits.select_related("lead", "helper").order_by("starts_at"),
        changes=changes_of(callback, only=("cause", "cause_note", "callback_answer")),
    )


@allow("owner")
@FORM
def question_settle(request: StaffRequest, pk: int) -> HttpResponse:
    job = get_object_or_404(Job.objects.select_related(*WITH_ALL), pk=pk)
    form = QuestionForm(request.POST or None)

    def work() -> str:
        workflow.settle_question(job=job, **form.cleaned_data, by=request.user, now=timezone.now())
        messages.success(request, "Decided.")
        return reverse("cause-review")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(
        request,
        "reports/question_settle.html",
        form,
        nav="callbacks",
        job=job,
        today=company_day(timezone.now()),
    )
