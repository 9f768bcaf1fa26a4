"""Notices of a house, opened by whoever sees why and lifted by the office, and fills."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from equipment.models import Stage
from jobs.access import allow, sites_for
from jobs.forms.notices import FillForm, LiftForm, NoticeForm, TakeBackForm
from jobs.forms.samples import ToldForm
from jobs.http import StaffRequest
from jobs.mail.about.notice_taken_back import heard_of
from jobs.models import DoNotUse
from jobs.models.company import company_day
from jobs.pages.calls import houses_of_notice
from jobs.pages.notices import is_told_by_us, read_out_of, samples_of, standing_of
from jobs.schedule.hours import date_words
from jobs.wording.names import person
from jobs.workflows.notice_telling import promised_by, take_back_notice, tell_notice
from jobs.workflows.notices import lift_notice

from .acting import act_of_form, posted, send_act
from .sending import form_page, send_once
from .sites import house_page, site_or_404

#: of a notice whose page shows whose it is and who opened it
SHOWN = ("site", "well", "opened_by", "lifted_by")


@allow()
def notice_new(request: StaffRequest, pk: int) -> HttpResponse:
    """A house is told not to use or not to drink its water, by the office or on site."""
    site = site_or_404(request, pk)
    form = NoticeForm(request.POST or None, site=site)
    about = {"payload": {**posted(request), "site": pk}}
    if sent := send_act(request, form, "notice", reverse("site-detail", args=[pk]), **about):
        return sent
    return house_page(
        request,
        form,
        site,
        "The water must not be used",
        button="Open the notice",
        act=act_of_form("notice", site=pk),
    )


@allow("dispatcher")
def notice_lift(request: StaffRequest, pk: int) -> HttpResponse:
    """A named person lifts a notice on evidence of its own cause; samples are judged here."""
    rows = DoNotUse.objects.select_related("site", "well", "opened_by", "lifted_by")
    notice = get_object_or_404(rows, pk=pk)
    if notice.lifted_at and request.method != "POST":
        return _over(request, notice)
    sent_form = request.POST if request.method == "POST" else None
    form = LiftForm(sent_form, notice=notice)
    back = reverse("site-detail", args=[notice.site_id])

    def work() -> str:
        if notice.lifted_at:
            return _over(request, notice).url
        by, now = request.user, timezone.now()
        lift_notice(notice=notice, reading=form.reading(), ended=form.ended(), by=by, now=now)
        return back

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    standing = standing_of(notice, now=timezone.now())
    samples = samples_of(notice.site, [standing])
    context = {"standing": standing, "notice": notice, "samples": samples, "site": notice.site}
    return form_page(
        request, "sites/notice_lift.html", form, nav="search", is_office=True, **context
    )


@allow("dispatcher")
def notice_told(request: StaffRequest, pk: int) -> HttpResponse:
    """A notice that no sample tells of, or one taken back: who must be called, and who knows."""
    notice = get_object_or_404(DoNotUse.objects.select_related(*SHOWN), pk=pk)
    if notice.lifted_at and not notice.taken_back_why:
        return _over(request, notice)
    if not (notice.taken_back_why or is_told_by_us(notice)):
        return redirect("site-detail", notice.site_id)
    houses = houses_of_notice(notice, on=company_day(timezone.now()))
    left = [choice for house in houses for choice in house.choices()]
    form = ToldForm(request.POST or None, people=left)

    def work() -> str:
        said = {**form.counts_for(), "adult": form.adult()}
        tell_notice(notice=notice, **said, by=request.user, now=timezone.now())
        if len(left) > 1:
            return reverse("notice-told", args=[pk])
        return reverse("site-detail", args=[notice.site_id])

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    context = {"notice": notice, "houses": houses, "left": left, "lines": read_out_of(notice)}
    return form_page(request, "sites/notice_told.html", form, nav="search", **context)


def _over(request: StaffRequest, notice: DoNotUse) -> HttpResponseRedirect:
    """Somebody was faster: by whom it ended, at its house."""
    assert notice.lifted_at
    assert notice.lifted_by
    ended = "taken back" if notice.taken_back_why else "lifted"
    day = date_words(company_day(notice.lifted_at))
    messages.info(request, f"This notice was {ended} by {person(notice.lifted_by)} on {day}.")
    return HttpResponseRedirect(reverse("site-detail", args=[notice.site_id]))


def _who_is_called(request: StaffRequest, notice: DoNotUse) -> str:
    """After it was taken back: to who heard of it and gets no letter, or to its house."""
    left = [h for h in houses_of_notice(notice, on=company_day(timezone.now())) if h.choices()]
    if left:
        messages.warning(request, "Taken back. Call who was told and gets no letter.")
        return reverse("notice-told", args=[notice.pk])
    messages.success(request, "Taken back.")
    return reverse("site-detail", args=[notice.site_id])


@allow("dispatcher")
def notice_take_back(request: StaffRequest, pk: int) -> HttpResponse:
    """Raised at the wrong house: ended under a name, told to who heard of it."""
    notice = get_object_or_404(DoNotUse.objects.select_related(*SHOWN), pk=pk)
    if notice.lifted_at and request.method != "POST":
        return _over(request, notice)
    form = TakeBackForm(request.POST or None)

    def work() -> str:
        reason = form.cleaned_data["reason"]
        take_back_notice(notice=notice, reason=reason, by=request.user, now=timezone.now())
        notice.taken_back_why = reason
        return _who_is_called(request, notice)

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    context = {
        "notice": notice,
        "site": notice.site,
        "standing": standing_of(notice, now=timezone.now()),
        "heard": [each for each in heard_of(notice) if each.can_be_mailed],
        "promised": [row.terms.name for row in promised_by(notice)],
    }
    return form_page(request, "sites/notice_take_back.html", form, nav="search", **context)


@allow()
def fill_new(request: StaffRequest, pk: int) -> HttpResponse:
    """Solution or salt put in, by us or told by the customer: the next refill follows from it."""
    sites = sites_for(request.user, today=company_day(timezone.now()))
    stage = get_object_or_404(
        Stage.objects.fitted()
        .with_catalog()
        .select_related("train__site")
        .filter(train__site__in=sites, kind__in=[Stage.Kind.FEEDER, Stage.Kind.SOFTENER]),
        pk=pk,
    )
    form = FillForm(request.POST or None, stage=stage)
    back = reverse("site-detail", args=[stage.train.site_id])
    about = {"payload": {**posted(request), "part": pk}}
    if sent := send_act(request, form, "fill", back, **about):
        return sent
    said = {"button": "Keep the fill", "act": act_of_form("fill", part=pk)}
    return house_page(request, form, stage.train.site, f"Fill of {stage}", **said)
