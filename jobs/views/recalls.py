"""Recalls: the list of houses, who is told, and how each piece is worked off."""

from __future__ import annotations

from collections.abc import Callable

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBadRequest
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from equipment.models import Site
from jobs.access import allow, has_role
from jobs.errors import JobsError
from jobs.forms.recalls import RecallForm, SettleForm, WhyForm
from jobs.forms.samples import ToldForm
from jobs.http import StaffRequest
from jobs.models import Recall, RecalledPiece
from jobs.models.company import company_day
from jobs.pages import recalls as page
from jobs.pages.calls import house_of_recall
from jobs.reports.tables import CONTENT_TYPES, as_csv, as_xlsx
from jobs.workflows import recalls as workflow

from .sending import form_page, send_once
from .sites import edit_page

ROWS = 50


@allow("dispatcher")
@require_safe
def recalls(request: StaffRequest) -> HttpResponse:
    return render(request, "recalls/list.html", {"rows": page.listed(), "nav": "search"})


@allow("dispatcher")
def recall_new(request: StaffRequest) -> HttpResponse:
    """Asked twice: how many houses it would be is said before it is opened."""
    asked = {name: request.GET[name] for name in RecallForm.Meta.fields if name in request.GET}
    form, would = RecallForm(request.POST or None, initial=asked), None

    def work() -> str:
        row = workflow.open_recall(recall=form.instance, by=request.user, now=timezone.now())
        messages.success(request, "The recall is open: tell the households.")
        return reverse("recall-detail", args=[row.pk])

    if request.method == "POST" and form.is_valid():
        would = workflow.would_find(form.instance)
        if form.cleaned_data["seen"] and (sent := send_once(request, form, work)):
            return sent
        form.ask()
    return form_page(request, "recalls/new.html", form, nav="search", would=would)


@allow("dispatcher")
@require_safe
def recall_detail(request: StaffRequest, pk: int) -> HttpResponse:
    rows = Recall.objects.select_related("opened_by", "closed_by")
    recall, today = get_object_or_404(rows, pk=pk), company_day(timezone.now())
    part = Paginator(page.pieces_of(recall), ROWS).get_page(request.GET.get("page"))
    context = {
        "recall": recall,
        "counts": page.counts_of(recall),
        "page_obj": part,
        "rows": page.rows_of(part.object_list, today),
        "today": today,
        "nav": "search",
        "is_owner": has_role(request.user, "owner"),
    }
    return render(request, "recalls/detail.html", context)


@allow("dispatcher")
@require_safe
def recall_file(request: StaffRequest, pk: int) -> HttpResponse:
    recall, kind = get_object_or_404(Recall, pk=pk), request.GET.get("as", "csv")
    if kind not in CONTENT_TYPES:
        return HttpResponseBadRequest("This address names no file of a recall.")
    now = timezone.now()
    tables = page.tables(recall, now=now)
    name = f"recall-{recall.pk}-{company_day(now).isoformat()}.{kind}"
    return HttpResponse(
        as_csv(tables[0]) if kind == "csv" else as_xlsx(tables),
        content_type=CONTENT_TYPES[kind],
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


@require_POST
@allow("dispatcher")
def recall_letters(request: StaffRequest, pk: int) -> HttpResponse:
    """Whoever is not told yet and has an address; pressed twice it is one letter each."""
    recall = get_object_or_404(Recall, pk=pk)
    try:
        made = workflow.write_letters(recall=recall, by=request.user, now=timezone.now())
        said = f"{made} letter{'' if made == 1 else 's'} written. Call who has no mail address."
        messages.success(request, said)
    except JobsError as refusal:
        messages.error(request, refusal.message)
    return redirect("recall-detail", pk)


@allow("dispatcher")
def recall_tell(request: StaffRequest, pk: int, site: int) -> HttpResponse:
    """Whom of this house to call, and who knows."""
    recall = get_object_or_404(Recall, pk=pk)
    where = get_object_or_404(Site.objects.filter(pk__in=recall.pieces.values("site")), pk=site)
    house = house_of_recall(recall, where, on=company_day(timezone.now()))
    form = ToldForm(request.POST or None, people=house.choices())

    def work() -> str:
        said = {**form.counts_for(), "adult": form.adult()}
        workflow.tell(recall=recall, **said, by=request.user, now=timezone.now())
        return reverse("recall-detail", args=[pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    pieces = recall.pieces.filter(site=where).select_related("stage", "fill__product")
    context = {"recall": recall, "site": where, "houses": [house], "left": house.choices()}
    lines = [piece.said for piece in pieces if not piece.end]
    return form_page(request, "recalls/tell.html", form, nav="search", pieces=lines, **context)


def _asked(
    request: StaffRequest, recall: Recall, form: forms.Form, title: str, work: Callable[[], object]
) -> HttpResponse:
    """One form about a recall, and back to its page."""
    back = reverse("recall-detail", args=[recall.pk])

    def done() -> str:
        work()
        return back

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, done)):
        return sent
    return edit_page(request, form, title=title, over=str(recall), back=back, button="Keep it")


@allow("owner")
def recall_close(request: StaffRequest, pk: int) -> HttpResponse:
    recall = get_object_or_404(Recall, pk=pk)
    form = forms.Form(request.POST if request.method == "POST" else None)
    by, now = request.user, timezone.now()
    title = "Close this recall? Every piece of its list has its end"
    return _asked(
        request,
        recall,
        form,
        title,
        lambda: workflow.close_recall(recall=recall, by=by, now=now),
    )


@allow("owner")
def recall_again(request: StaffRequest, pk: int) -> HttpResponse:
    recall, form = get_object_or_404(Recall, pk=pk), WhyForm(request.POST or None)
    by, now = request.user, timezone.now()
    return _asked(
        request,
        recall,
        form,
        "Open this recall again?",
        lambda: workflow.open_again(recall=recall, by=by, now=now, **form.cleaned_data),
    )


def _piece(pk: int) -> RecalledPiece:
    rows = RecalledPiece.objects.select_related("recall", "site", "stage", "fill__product")
    row: RecalledPiece = get_object_or_404(rows, pk=pk)
    return row


@allow("dispatcher")
def piece_settle(request: StaffRequest, pk: int) -> HttpResponse:
    """Not there, given up by the owner, or a tank that was emptied and filled with another lot."""
    piece = _piece(pk)
    form = SettleForm(request.POST or None, piece=piece, request=request)
    by, now = request.user, timezone.now()
    return _asked(
        request,
        piece.recall,
        form,
        f"{piece.said}, {piece.site}: how was it worked off?",
        lambda: workflow.settle(piece=piece, by=by, now=now, **form.cleaned_data),
    )


@allow("dispatcher")
def piece_back(request: StaffRequest, pk: int) -> HttpResponse:
    piece, form = _piece(pk), WhyForm(request.POST or None)
    by, now = request.user, timezone.now()
    return _asked(
        request,
        piece.recall,
        form,
        f"{piece.said}, {piece.site}: it is not worked off?",
        lambda: workflow.take_back(piece=piece, by=by, now=now, **form.cleaned_data),
    )
