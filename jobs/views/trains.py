"""Systems and their parts."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from equipment.models import Site, Stage, Train
from equipment.models.trains import StageQuerySet
from jobs.access import allow, has_role
from jobs.forms.fields import refusal_of
from jobs.forms.trains import EndStageForm, MarksForm, StageForm, TakeOutForm, TrainForm
from jobs.http import StaffRequest
from jobs.workflows import removals
from jobs.workflows import trains as workflow

from .acting import act_of_form, posted, send_act
from .sending import form_page, send_once
from .sites import house_page, own_sites, site_or_404


@allow("dispatcher")
def train_new(request: StaffRequest, pk: int) -> HttpResponse:
    site = site_or_404(request, pk)
    return _train_form(request, site, Train(site=site), "A new system")


def _trains(request: StaffRequest) -> QuerySet[Train]:
    return Train.objects.filter(site__in=own_sites(request)).select_related("site")


def _parts(request: StaffRequest) -> StageQuerySet:
    own = Stage.objects.filter(train__site__in=own_sites(request))
    return own.select_related("train__site")


@allow()
def train_edit(request: StaffRequest, pk: int) -> HttpResponse:
    """What is seen on site; whose work it was and from when it counts is for the office."""
    train = get_object_or_404(_trains(request).filter(removed_on=None), pk=pk)
    return _train_form(request, train.site, train, f"How {train.name} is joined and switched")


def _train_form(request: StaffRequest, site: Site, train: Train, title: str) -> HttpResponse:
    is_office = has_role(request.user, "dispatcher")
    form = TrainForm(request.POST or None, instance=train, site=site, is_office=is_office)
    back = reverse("site-detail", args=[site.pk])

    def work() -> str:
        workflow.save_train(
            train=form.save(commit=False),
            wells=form.cleaned_data["wells"],
            version=form.opened_version,
            by=request.user,
            now=timezone.now(),
        )
        return back

    if train.pk:
        told = {**posted(request), "system": train.pk}
        sent = send_act(request, form, "system", back, payload=told)
    else:
        valid = request.method == "POST" and form.is_valid()
        sent = send_once(request, form, work) if valid else None
    if sent:
        return sent
    act = act_of_form("system", system=train.pk) if train.pk else None
    said = {"button": "Keep the system", "conflicts": form.conflicts, "act": act}
    return house_page(request, form, site, title, **said)


@allow("dispatcher")
def train_take_out(request: StaffRequest, pk: int) -> HttpResponse:
    """The whole system leaves the house, with a day and a reason."""
    train = get_object_or_404(Train.objects.select_related("site"), pk=pk)
    form = TakeOutForm(request.POST or None)

    def work() -> str:
        removals.take_out(train=train, by=request.user, now=timezone.now(), **form.cleaned_data)
        messages.success(request, f"{train.name} is taken out; nobody comes back for it.")
        return reverse("site-detail", args=[train.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    return form_page(request, "sites/train_take_out.html", form, train=train)


@allow("dispatcher")
def train_put_back(request: StaffRequest, pk: int) -> HttpResponse:
    """It was said by mistake: the system stands as before."""
    train = get_object_or_404(Train.objects.select_related("site"), pk=pk)
    form = forms.Form(request.POST or None)

    def work() -> str:
        removals.put_back(train=train, by=request.user, now=timezone.now())
        messages.success(request, f"{train.name} stands again, and so does what was promised.")
        return reverse("site-detail", args=[train.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    said = removals.taking_out(train)
    return form_page(request, "sites/train_put_back.html", form, train=train, said=said)


@allow()
def stage_new(request: StaffRequest, pk: int) -> HttpResponse:
    """First the kind, then the boxes that kind has."""
    train = get_object_or_404(_trains(request).filter(removed_on=None), pk=pk)
    kind = request.GET.get("kind", "")
    if kind not in Stage.Kind.values:
        return form_page(
            request, "sites/stage_kind.html", EndStageForm(), train=train, kinds=Stage.Kind.choices
        )
    stage = Stage(train=train, kind=kind, position=train.stages.fitted().count() + 1)
    form = StageForm(request.POST or None, instance=stage, kind=kind)

    told = ("part-new", {"system": pk, "kind": kind})
    return _stage_page(request, form, told, train.site, f"A new {Stage.Kind(kind).label}")


@allow()
def stage_replace(request: StaffRequest, pk: int) -> HttpResponse:
    old = get_object_or_404(_parts(request).with_catalog(), pk=pk)
    form = StageForm(request.POST or None, instance=old.like_it(), kind=old.kind, replacing=True)
    told = ("part-replace", {"part": pk})
    return _stage_page(request, form, told, old.train.site, f"Replace: {old}")


@allow()
def stage_end(request: StaffRequest, pk: int) -> HttpResponse:
    stage = get_object_or_404(_parts(request), pk=pk)
    form = EndStageForm(request.POST or None)
    told = ("part-end", {"part": pk})
    return _stage_page(request, form, told, stage.train.site, f"Take out: {stage}")


def _stage_page(
    request: StaffRequest,
    form: BaseForm,
    told: tuple[str, dict[str, Any]],
    site: Site,
    title: str,
) -> HttpResponse:
    """The form of one act on a part: its kind, and what the address says of it."""
    kind, about = told
    back = reverse("site-detail", args=[site.pk])
    if sent := send_act(request, form, kind, back, payload={**posted(request), **about}):
        return sent
    button = title.partition(":")[0] if ":" in title else "The part is fitted"
    return house_page(request, form, site, title, button=button, act=act_of_form(kind, **about))


@allow()
def stage_marks(request: StaffRequest, pk: int) -> HttpResponse:
    """Serial number and lot of a part, of one that was taken out as well."""
    stage = get_object_or_404(_parts(request), pk=pk)
    form = MarksForm(request.POST if request.method == "POST" else None, stage=stage)
    site = stage.train.site

    def work() -> str:
        now = timezone.now()
        workflow.mark_stage(
            stage=stage, marks=form.typed(), seen=form.seen(), by=request.user, now=now
        )
        messages.success(request, "Kept serial number and lot.")
        return reverse("site-detail", args=[site.pk])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    if (refusal := refusal_of(form)) and refusal.differences:
        form.take_what_stands()
    return house_page(request, form, site, f"On the plate of: {stage}", button="Keep it")
