"""What decides about a counted job: read, put right with a reason, lost to sight."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from equipment.models import Site, Train
from jobs.access import allow
from jobs.forms.facts import (
    EndedForm,
    HandoverCorrectionForm,
    JobCancelForm,
    OnAgainForm,
    ReasonForm,
    ReportCorrectionForm,
)
from jobs.http import StaffRequest
from jobs.models import CallbackFact, HandoverFact, Job, LossFact
from jobs.workflows import fact_corrections as workflow
from jobs.workflows.facts import standing_handover
from jobs.workflows.jobs import cancel_job
from jobs.workflows.unreached import follow_no_more, unanswered_at

from .sending import send_once
from .sites import edit_page, house_page


@allow("owner")
def handover_correct(request: StaffRequest, pk: int) -> HttpResponse:
    """Another lead, another day, or no water at all."""
    job = get_object_or_404(HandoverFact.objects.select_related("job__site"), pk=pk).job
    fact = standing_handover(job)
    assert fact
    form = HandoverCorrectionForm(request.POST or None, fact=fact)

    def work() -> str:
        said = form.cleaned_data
        handed = workflow.Handed(said["installer"], None if said["never"] else said["day"])
        workflow.correct_handover(
            job=job, handed=handed, reason=said["reason"], by=request.user, now=timezone.now()
        )
        return _kept(request, job)

    return _correction(request, form, job, "What was wrong about this job", work)


@allow("owner")
def report_correct(request: StaffRequest, pk: int) -> HttpResponse:
    """Another earlier job, or another answer."""
    facts = CallbackFact.objects.select_related("job__site", "job__train", "job__origin")
    job = get_object_or_404(facts, pk=pk).job
    origins = workflow.possible_origins(job)
    form = ReportCorrectionForm(request.POST or None, job=job, origins=origins)

    def work() -> str:
        said, now = form.cleaned_data, timezone.now()
        workflow.correct_report(job=job, **said, by=request.user, now=now)
        return _kept(request, job)

    return _correction(request, form, job, "What was wrong about this report", work)


def _kept(request: StaffRequest, job: Job) -> str:
    messages.success(request, "Kept with your name; what stood before stays readable.")
    return reverse("job-detail", args=[job.pk])


def _correction(
    request: StaffRequest, form: BaseForm, job: Job, title: str, work: Callable[[], str]
) -> HttpResponse:
    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    back, over = reverse("job-detail", args=[job.pk]), f"Job {job.pk}, {job}"
    said = {"title": title, "over": over, "back": back, "button": "Keep the correction"}
    return edit_page(request, form, **said)


@allow("owner")
def loss_withdraw(request: StaffRequest, pk: int) -> HttpResponse:
    """The house or system was never lost."""
    rows = LossFact.objects.select_related("site", "train__site")
    row = get_object_or_404(rows, pk=pk)
    site = row.site or (row.train and row.train.site)
    assert site
    form = ReasonForm(request.POST or None)

    def work() -> str:
        reason = form.cleaned_data["reason"]
        workflow.withdraw_loss(row=row, reason=reason, by=request.user, now=timezone.now())
        messages.success(request, "Its jobs are followed on.")
        return reverse("site-detail", args=[site.pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    title = f"Withdraw: {row.get_how_display()}, {row.day:%-d %B %Y}"
    return house_page(request, form, site, title, button="It was said by mistake")


@allow("dispatcher")
def service_end(request: StaffRequest, pk: int) -> HttpResponse:
    """The customer wants us no more."""
    site = get_object_or_404(Site, pk=pk)
    form = EndedForm(request.POST or None)

    def work() -> str:
        now = timezone.now()
        workflow.end_service(site=site, **form.cleaned_data, by=request.user, now=now)
        messages.success(request, "Noted. What was promised for this house is given up.")
        return reverse("site-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    title = "The customer ended the service"
    return house_page(request, form, site, title, button="It has ended")


@allow("dispatcher")
def site_unreached(request: StaffRequest, pk: int) -> HttpResponse:
    """Nobody of the house answers: it is not followed any more."""
    site = get_object_or_404(Site, pk=pk)
    form = ReasonForm(request.POST or None)

    def work() -> str:
        reason = form.cleaned_data["reason"]
        follow_no_more(site=site, reason=reason, by=request.user, now=timezone.now())
        messages.success(request, "Noted. What was promised for this house is given up.")
        return reverse("site-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    said = {"title": "Nobody can be reached", "lede": f"{unanswered_at(site).said}."}
    return house_page(request, form, site, **said, button="Follow the house no more")


@allow("dispatcher")
def system_off(request: StaffRequest, pk: int) -> HttpResponse:
    """Bypassed or shut down because the customer wants it so; or on again."""
    train = get_object_or_404(Train.objects.select_related("site").standing(), pk=pk)
    is_off = workflow.standing_off(train)
    form: BaseForm = (OnAgainForm if is_off else EndedForm)(request.POST or None)

    def work() -> str:
        turn = workflow.turn_on if is_off else workflow.turn_off
        turn(train=train, **form.cleaned_data, by=request.user, now=timezone.now())
        return reverse("site-detail", args=[train.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    title = "Treated water runs again" if is_off else "Turned off at the customer’s wish"
    button = "It is on" if is_off else "It is off"
    return house_page(request, form, train.site, title, over=train, button=button)


@allow("dispatcher")
def job_cancel(request: StaffRequest, pk: int) -> HttpResponse:
    """Nobody comes for it any more; what the customer reported stays, unless it was an error."""
    job = get_object_or_404(Job.objects.select_related("site"), pk=pk)
    form = JobCancelForm(request.POST or None, job=job)

    def work() -> str:
        cancel_job(job=job, **form.cleaned_data, by=request.user, now=timezone.now())
        messages.success(request, "The job is cancelled.")
        return reverse("site-detail", args=[job.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    title = f"Cancel: {job.get_kind_display()}"
    return house_page(request, form, job.site, title, button="Cancel the job")
