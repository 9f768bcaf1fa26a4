"""Booking, moving and ending visits."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.db.models import QuerySet
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from equipment.models import Site
from jobs.access import allow, has_role
from jobs.errors import JobsError
from jobs.forms.fields import put_version
from jobs.forms.visits import (
    AgainForm,
    BookForm,
    CancelForm,
    CloseForm,
    MoveForm,
    NoAccessForm,
    UndoForm,
    WhenForm,
)
from jobs.http import StaffRequest, read_day, row_named
from jobs.models import FollowUp, Job, Visit
from jobs.models.company import company_day
from jobs.pages.clocks import clock_of_form
from jobs.pages.openings import of_booking, of_moving
from jobs.pages.visit import (
    context_of,
    free_on,
    requests_of,
    said_of_booking,
    said_of_move,
    waits_of,
)
from jobs.schedule.working_days import add_working_days
from jobs.workflows import visits as workflow
from jobs.workflows.jobs import open_job
from jobs.workflows.visit_doubts import Planned, must_be_sure
from jobs.workflows.waits import book_waiting

from .acting import send_act, tell_or_say
from .noted import noted
from .sending import form_page, send_once


def visits_for(request: StaffRequest) -> QuerySet[Visit]:
    """Visits this person may open: all for the office, own ones for a technician."""
    rows = Visit.objects.with_job().select_related("booked_by")
    if has_role(request.user, "dispatcher"):
        return rows
    return rows.seen_by_technician(request.user, today=company_day(timezone.now()))


def visit_or_404(request: StaffRequest, pk: int) -> Visit:
    def read() -> Visit:
        visit: Visit = get_object_or_404(visits_for(request), pk=pk)
        return visit

    return noted(request, ("visit", pk), read)


@allow("dispatcher")
def visit_book(request: StaffRequest) -> HttpResponse:
    """A visit for a call (?site=), a promise (?follow_up=) or another one of a job (?job=)."""
    job = row_named(Job.objects.select_related("site"), request.GET.get("job"))
    promise = row_named(FollowUp.objects.with_site(), request.GET.get("follow_up"))
    site = job.site if job else promise.site if promise else None
    site = site or row_named(Site.objects.all(), request.GET.get("site"))
    if site is None:
        raise Http404
    form = _form_to_book(request, site, job, promise)
    work = _booking(request, form, site, job, promise)
    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    about = {"nav": "day", "site": site, "job": job, "promise": promise}
    about["openings"] = of_booking(form, site, job, promise, timezone.now())
    return form_page(request, "visits/book.html", form, **about, **_people_of_day(form, site))


def _form_to_book(
    request: StaffRequest, site: Site, job: Job | None, promise: FollowUp | None
) -> AgainForm | BookForm:
    if job:
        return AgainForm(
            request.POST or None, kind=job.kind, site=site, initial=_asked_day(request)
        )
    initial = {**_asked_day(request), **_from_promise(promise)}
    initial.setdefault("kind", request.GET.get("kind", Job.Kind.SERVICE))
    return BookForm(
        request.POST or None, site=site, is_promised=promise is not None, initial=initial
    )


def _asked_day(request: StaffRequest) -> dict[str, object]:
    """?on=2026-06-24, else the next working day."""
    asked = read_day(request.GET.get("on"))
    return {"day": asked or add_working_days(company_day(timezone.now()), 1)}


def _from_promise(promise: FollowUp | None) -> dict[str, object]:
    if promise is None:
        return {}
    return {
        "kind": promise.terms.job_kind or Job.Kind.SERVICE,
        "train": promise.train_id,
        "minutes": promise.terms.minutes,
        "symptom": promise.reason,
        "day": max(promise.due_on, company_day(timezone.now())),
    }


def _booking(
    request: StaffRequest,
    form: AgainForm | BookForm,
    site: Site,
    job: Job | None,
    promise: FollowUp | None,
) -> Callable[[], str]:
    """Open the job unless there is one, and book its visit: one transaction."""

    def opened(now: datetime) -> Job:
        if job:
            return job
        assert isinstance(form, BookForm)
        wanted, train = form.wanted(is_promised=promise is not None), form.cleaned_data["train"]
        return open_job(site=site, train=train, wanted=wanted, by=request.user, now=now)

    def work() -> str:
        now, data, held = timezone.now(), form.cleaned_data, form.held()
        work = (job.kind, job.train) if job else (data["kind"], data["train"])
        must_be_sure(held=held, planned=Planned(site, *work), agreed=data["sure"], now=now)
        visit = book_waiting(
            what=form.waits(),
            job=opened(now),
            held=held,
            note=data["note"],
            status=data.get("status") or Visit.Status.CONFIRMED,
            follow_ups=[promise] if promise else (),
            by=request.user,
            now=now,
        )
        messages.success(request, said_of_booking(visit, now))
        return reverse("visit-detail", args=[visit.pk])

    return work


def _people_of_day(form: WhenForm, site: Site) -> dict[str, object]:
    day = read_day(form["day"].value()) or company_day(timezone.now())
    return {**free_on(day), "clock": clock_of_form(site, day)}


@allow("dispatcher")
def visit_free(request: StaffRequest) -> HttpResponse:
    """Who is free on ?day=, for the table beside the form."""
    day = read_day(request.GET.get("day"))
    if day is None:
        raise BadRequest("Say the day as 2026-06-24.")
    return render(request, "visits/_free.html", free_on(day))


@allow("dispatcher")
def visit_callback(request: StaffRequest, pk: int) -> HttpResponse:
    """The callback question for the system and day chosen so far."""
    site, promised = get_object_or_404(Site, pk=pk), request.GET.get("promised") == "1"
    form = BookForm(request.GET, site=site, is_promised=promised)
    form.errors.clear()
    return render(request, "visits/_callback.html", {"form": form})


@allow()
def visit_detail(request: StaffRequest, pk: int) -> HttpResponse:
    visit = visit_or_404(request, pk)
    is_office = has_role(request.user, "dispatcher")
    context = context_of(visit, now=timezone.now()) | {"me": request.user}
    return render(request, "visits/visit.html", {**context, "nav": "day", "is_office": is_office})


@allow("dispatcher")
def visit_move(request: StaffRequest, pk: int) -> HttpResponse:
    visit = visit_or_404(request, pk)
    asked = requests_of(visit)
    form = MoveForm(request.POST or None, visit=visit, initial={"seen": asked["newest"]})

    def work() -> str:
        now, typed, held = timezone.now(), form.cleaned_data, form.held()
        planned = Planned(visit.job.site, visit.job.kind, moving=visit)
        must_be_sure(held=held, planned=planned, agreed=typed["sure"], now=now)
        known = {name: typed[name] for name in ("version", "seen")}
        moved = workflow.move_visit(visit=visit, held=held, by=request.user, now=now, **known)
        messages.success(request, said_of_move(visit, moved))
        return reverse("visit-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    if form.is_overtaken:
        visit = visit_or_404(request, pk)
        put_version(form, visit.version)
    about = {"visit": visit, "nav": "day", **asked, **_people_of_day(form, visit.job.site)}
    about["openings"] = of_moving(form, visit, timezone.now())
    about |= waits_of(visit, timezone.now())
    return form_page(request, "visits/move.html", form, **about)


@allow("dispatcher")
def visit_cancel(request: StaffRequest, pk: int) -> HttpResponse:
    visit = visit_or_404(request, pk)
    asked = requests_of(visit)
    form = CancelForm(request.POST or None, initial={"seen": asked["newest"]})

    def work() -> str:
        typed, now = form.cleaned_data, timezone.now()
        workflow.cancel_visit(visit=visit, by=request.user, now=now, **typed)
        return reverse("visit-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    about = {"visit": visit, "nav": "day", **asked, **waits_of(visit, timezone.now())}
    return form_page(request, "visits/cancel.html", form, **about)


def _acted(
    request: StaffRequest, pk: int, act: Callable[..., object], said: str = ""
) -> HttpResponse:
    """One press on the page of a visit: done and said, or why not."""
    visit = visit_or_404(request, pk)
    try:
        act(visit=visit, by=request.user, now=timezone.now())
    except JobsError as refusal:
        messages.error(request, refusal.message)
    else:
        if said:
            messages.success(request, said)
    return redirect("visit-detail", pk)


@require_POST
@allow("dispatcher")
def visit_confirm(request: StaffRequest, pk: int) -> HttpResponse:
    """A time that was only held is firm."""
    said = "Confirmed. Below stands whether the customer is told."
    return _acted(request, pk, workflow.confirm_visit, said)


@require_POST
@allow("dispatcher")
def visit_propose(request: StaffRequest, pk: int) -> HttpResponse:
    """Ask the customer by mail whether the time held would suit."""
    said = "The customer is asked by mail; a yes confirms the visit."
    return _acted(request, pk, workflow.propose_visit, said)


@require_POST
@allow()
def visit_arrive(request: StaffRequest, pk: int) -> HttpResponse:
    """Stamp the arrival; pressing twice keeps the first time."""
    tell_or_say(request, "arrive", {}, visit=visit_or_404(request, pk))
    return redirect("visit-detail", pk)


@require_POST
@allow()
def visit_set_out(request: StaffRequest, pk: int) -> HttpResponse:
    tell_or_say(request, "set-out", {}, visit=visit_or_404(request, pk))
    return redirect("visit-detail", pk)


@allow()
def visit_undo(request: StaffRequest, pk: int) -> HttpResponse:
    """Set out or arrived by mistake."""
    visit = visit_or_404(request, pk)
    form = UndoForm(request.POST or None)
    return _told(request, form, "arrive-undo", visit, "visits/undo.html")


@allow()
def visit_no_access(request: StaffRequest, pk: int) -> HttpResponse:
    visit = visit_or_404(request, pk)
    form = NoAccessForm(request.POST or None)
    return _told(request, form, "no-access", visit, "visits/no_access.html")


@allow()
def visit_close(request: StaffRequest, pk: int) -> HttpResponse:
    visit = visit_or_404(request, pk)
    form = CloseForm(request.POST or None, visit=visit)
    return _told(request, form, "visit-close", visit, "visits/close.html")


def _told(
    request: StaffRequest, form: BaseForm, kind: str, visit: Visit, template: str
) -> HttpResponse:
    """The form of one act on a visit; it leads back to the visit."""
    where = reverse("visit-detail", args=[visit.pk])
    if sent := send_act(request, form, kind, where, visit=visit):
        return sent
    return form_page(request, template, form, visit=visit)
