"""A call as it is taken, what waits for an answer, and calls that were kept."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import BaseForm
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from equipment.models import Site
from jobs.access import allow
from jobs.fieldwork.cautions import DEFERS
from jobs.forms.call_desk import Desk, kept_as_typed, opened, typed_again
from jobs.forms.phone_calls import AnswerForm, CallForm, TakeBackForm
from jobs.http import StaffRequest, row_named
from jobs.models import PhoneCall
from jobs.models.company import company_day
from jobs.pages import phone_calls as page
from jobs.pages.visit import said_of_booking
from jobs.workflows import phone_calls as workflow
from jobs.workflows.sites import create_site
from jobs.workflows.visit_doubts import Planned, must_be_sure

from .sending import form_page, send_once

#: buttons that end the call, or keep it as it stands
ENDS = {"visit": "visit", "note": "note", "keep": ""}
#: calls on one page of the list
ROWS = 50


@allow("dispatcher")
def call_new(request: StaffRequest) -> HttpResponse:
    """One page from the first word to the visit; ?call= goes on with one that was kept open."""
    if request.method != "POST":
        return _desk_page(request, Desk(_opened(request), timezone.now()), says_errors=False)
    typed, does = request.POST.copy(), request.POST.get("do", "")
    if does.startswith(("house-", "for-")):  # taken from a list of near ones
        typed["house"] = does.removeprefix("house-")
    if does not in ENDS:
        return _desk_page(request, Desk(typed, timezone.now()), says_errors=False)
    return _ended(request, Desk(typed, timezone.now(), ends=ENDS[does]), keeps=does == "keep")


def _opened(request: StaffRequest) -> Any:
    call = row_named(PhoneCall.objects.all(), request.GET.get("call"))
    if call and not call.end and not call.taken_back_at:
        return typed_again(call)
    typed = opened(request.GET.get("site", ""))
    typed["q"] = request.GET.get("q", "")
    return typed


def _ended(request: StaffRequest, desk: Desk, *, keeps: bool) -> HttpResponse:
    """What can hurt is acted on first, whatever else is refused."""
    form = desk.form()
    parts = [desk.house_form(), desk.customer_form()] if desk.is_new else []
    valid = [part.is_valid() for part in (form, *parts) if part is not None]
    if form.is_red and desk.site and {"call", "dangers"} <= set(form.cleaned_data):
        _keep(request, desk, form, desk.site)

    def work() -> str:
        site = desk.site or (_new_house(request, desk, parts) if desk.is_new else None)
        call = _keep(request, desk, form, site)
        if keeps:
            messages.success(request, "Kept open. It stands on the worklist until it is ended.")
            return f"{reverse('call-new')}?call={call.pk}"
        end = _with_note if desk.ends == "note" else _with_visit
        return end(request, call, form)

    if all(valid) and (sent := send_once(request, form, work)):
        return sent
    return _desk_page(request, desk, form=form, parts=parts)


def _keep(request: StaffRequest, desk: Desk, form: CallForm, site: Site | None) -> PhoneCall:
    assert isinstance(form.data, QueryDict)
    said = form.what_is_said(kept_as_typed(form.data))
    return workflow.keep_call(
        name=form.name, site=site, said=said, by=request.user, now=timezone.now()
    )


def _new_house(request: StaffRequest, desk: Desk, parts: list[Any]) -> Site:
    house, customer = parts
    return create_site(
        site=house.save(commit=False),
        holder=desk.known or customer.save(commit=False),
        by=request.user,
        now=timezone.now(),
    )


def _with_visit(request: StaffRequest, call: PhoneCall, form: CallForm) -> str:
    now, train, agreed = timezone.now(), form.cleaned_data.get("train"), form.agreed()
    wanted = form.wanted(is_promised=False)
    if call.site:
        planned = Planned(call.site, wanted.kind, train)
        must_be_sure(held=agreed.held, planned=planned, agreed=form.cleaned_data["sure"], now=now)
    visit = workflow.end_with_visit(
        call=call, wanted=wanted, train=train, agreed=agreed, by=request.user, now=now
    )
    messages.success(request, said_of_booking(visit, timezone.now()))
    return reverse("visit-detail", args=[visit.pk])


def _with_note(request: StaffRequest, call: PhoneCall, form: CallForm) -> str:
    typed = {name: form.cleaned_data.get(name) for name in ("answer_by", "answerer")}
    call = workflow.end_with_note(
        call=call, answer=form.cleaned_data["said"], by=request.user, now=timezone.now(), **typed
    )
    said = "Answered on the call, and kept." if call.answered_at else "It stands on the worklist."
    messages.success(request, f"Noted. {said}")
    return reverse("call-detail", args=[call.pk])


def _desk_page(
    request: StaffRequest,
    desk: Desk,
    *,
    form: CallForm | None = None,
    parts: list[Any] | None = None,
    says_errors: bool = True,
) -> HttpResponse:
    form = form or desk.form(says_errors=says_errors)
    house, customer = parts or (
        desk.house_form(says_errors=False),
        desk.customer_form(says_errors=False),
    )
    q = form.data.get("q", "")
    context = {
        "nav": "call-new",
        "desk": desk,
        "house_form": house,
        "customer_form": customer,
        "defers": DEFERS,
        "kept": PhoneCall.objects.filter(uuid=form["call"].value()).first(),
        **page.found(q, chosen=desk.site, today=desk.now),
        **page.house_of(desk.site, now=desk.now),
    }
    return form_page(request, "calls/call.html", form, **context)


@require_POST
@allow("dispatcher")
def call_found(request: StaffRequest) -> HttpResponse:
    """The houses that answer, while somebody types."""
    desk = Desk(request.POST.copy(), timezone.now())
    context = page.found(request.POST.get("q", ""), chosen=desk.site, today=desk.now)
    return render(request, "calls/_found.html", {**context, "desk": desk})


@require_POST
@allow("dispatcher")
def call_house(request: StaffRequest) -> HttpResponse:
    """What is known of the house that was chosen, what is due there, and when we could come."""
    desk = Desk(request.POST.copy(), timezone.now())
    untouched = not any(request.POST.get(name) for name in ("customer-name", "house-street"))
    context = {
        "desk": desk,
        "form": desk.form(says_errors=False),
        "house_form": desk.house_form(says_errors=False),
        "customer_form": desk.customer_form(says_errors=False),
        "carries_over": desk.is_new and untouched,
        **page.house_of(desk.site, now=desk.now),
    }
    return render(request, "calls/_swapped.html", context)


@allow("dispatcher")
@require_safe
def call_list(request: StaffRequest) -> HttpResponse:
    rows = Paginator(PhoneCall.objects.with_people(), ROWS)
    context = {
        "nav": "call-new",
        "page_obj": rows.get_page(request.GET.get("page")),
        "today": company_day(timezone.now()),
    }
    return render(request, "calls/list.html", context)


@allow("dispatcher")
@require_safe
def call_detail(request: StaffRequest, pk: int) -> HttpResponse:
    call = get_object_or_404(PhoneCall.objects.with_people(), pk=pk)
    context = {"call": call, "today": company_day(timezone.now()), "nav": "call-new"}
    return render(request, "calls/detail.html", context)


def _one_form(
    request: StaffRequest, call: PhoneCall, form: BaseForm, act: Any, words: tuple[str, str]
) -> HttpResponse:
    """One question about a call; it leads back to it."""

    def work() -> str:
        act(call=call, by=request.user, now=timezone.now(), **form.cleaned_data)
        return reverse("call-detail", args=[call.pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    title, button = words
    about = {"call": call, "title": title, "button": button, "nav": "call-new"}
    return form_page(request, "calls/one_form.html", form, **about)


@allow("dispatcher")
def call_answer(request: StaffRequest, pk: int) -> HttpResponse:
    call = get_object_or_404(PhoneCall.objects.with_people(), pk=pk)
    form = AnswerForm(request.POST or None)
    words = ("What did you say to them?", "Answered")
    return _one_form(request, call, form, workflow.answer_call, words)


@allow("dispatcher")
def call_take_back(request: StaffRequest, pk: int) -> HttpResponse:
    call = get_object_or_404(PhoneCall.objects.with_people(), pk=pk)
    form = TakeBackForm(request.POST or None)
    words = ("Take this call back?", "Take it back")
    return _one_form(request, call, form, workflow.take_back, words)
