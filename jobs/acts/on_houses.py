"""Acts on a house: fills, notices, a part, a system or a well put right."""

from __future__ import annotations

from datetime import datetime

from equipment.models import Site, Stage, Train, Well
from equipment.models.trains import StageQuerySet
from jobs.access import has_role, sites_for, units_of
from jobs.errors import BadEntry
from jobs.forms.notices import FillForm, NoticeForm
from jobs.forms.trains import EndStageForm, StageForm, TrainForm
from jobs.forms.wells import FiguresForm, WellForm
from jobs.models.company import company_day
from jobs.workflows import trains
from jobs.workflows.acts import Done
from jobs.workflows.fills import Poured, record_fill, too_strong, weaker_or_stronger
from jobs.workflows.moments import refuse_ahead
from jobs.workflows.notices import Danger, open_notice
from jobs.workflows.wells import save_well

from .doing import Doing, valid


def _site(doing: Doing) -> Site:
    return doing.row(sites_for(doing.by, today=company_day(doing.now)), "site")


def _parts(doing: Doing) -> StageQuerySet:
    sites = sites_for(doing.by, today=company_day(doing.now))
    return Stage.objects.filter(train__site__in=sites).with_catalog().select_related("train__site")


def fill(doing: Doing) -> Done:
    """Poured when the form says, or when the act was done."""
    holds = _parts(doing).filter(kind__in=[Stage.Kind.FEEDER, Stage.Kind.SOFTENER])
    stage = doing.row(holds.fitted(), "part")
    poured = Poured(**valid(FillForm(doing.post(), stage=stage)).poured())
    moved, over = weaker_or_stronger(stage, poured.strength_g_l), too_strong(stage, poured)
    record_fill(stage=stage, poured=poured, by=doing.by, now=doing.now)
    left = moved and poured.setting_left is None
    said = f"{moved.said} It was left: a recheck is promised." if moved and left else ""
    return Done(
        site=stage.train.site,
        said=said,
        against=" ".join(filter(None, (over, said))) if over else "",
    )


def notice(doing: Doing) -> Done:
    site = _site(doing)
    danger = Danger(site=site, **valid(NoticeForm(doing.post(), site=site)).cleaned_data)
    open_notice(danger=danger, **doing.who)
    return Done(site=site)


def part_new(doing: Doing) -> Done:
    train = _train(doing)
    kind = doing.text("kind")
    if kind not in Stage.Kind.values:
        raise BadEntry("Choose what is fitted.", field="kind")
    blank = Stage(train=train, kind=kind, position=train.stages.fitted().count() + 1)
    form = valid(StageForm(doing.post(), instance=blank, kind=kind))
    stage = trains.fit_stage(stage=form.save(commit=False), by=doing.by, now=doing.now)
    return Done(site=train.site, made={"part": stage.pk})


def part_replace(doing: Doing) -> Done:
    old = doing.row(_parts(doing), "part")
    form = StageForm(doing.post(), instance=old.like_it(), kind=old.kind, replacing=True)
    fitted = valid(form).save(commit=False)
    new = trains.replace_stage(old=old, new=fitted, by=doing.by, now=doing.now)
    return Done(site=old.train.site, made={"part": new.pk})


def part_end(doing: Doing) -> Done:
    stage = doing.row(_parts(doing), "part")
    on = valid(EndStageForm(doing.post())).cleaned_data["fitted_on"]
    trains.end_stage(stage=stage, on=on, by=doing.by, now=doing.now)
    return Done(site=stage.train.site)


def _train(doing: Doing) -> Train:
    sites = sites_for(doing.by, today=company_day(doing.now))
    rows = Train.objects.filter(site__in=sites, removed_on=None).select_related("site")
    return doing.row(rows, "system")


def system(doing: Doing) -> Done:
    train = _train(doing)
    is_office = has_role(doing.by, "dispatcher")
    form = valid(TrainForm(doing.post(), instance=train, site=train.site, is_office=is_office))
    row = trains.save_train(
        train=form.save(commit=False),
        wells=form.cleaned_data["wells"],
        version=form.opened_version,
        by=doing.by,
        now=doing.now,
    )
    return Done(site=train.site, version=row.version)


def well(doing: Doing) -> Done:
    """A well that is put right, or found at the house."""
    site = _site(doing)
    row = doing.row(site.wells.all(), "well") if doing.payload.get("well") else Well(site=site)
    office = has_role(doing.by, "dispatcher")
    form = valid(WellForm(doing.post(), instance=row, site=site, is_office=office))
    units = units_of(doing.by)
    figures = valid(FiguresForm(doing.post(), site=site, well=row, system=units, prefix="figure"))
    kept = save_well(
        well=form.save(commit=False),
        also_serves=form.cleaned_data.get("also_serves"),
        figures=figures.well_figures,
        house_figures=figures.house_figures,
        version=form.opened_version,
        **{**doing.who, "at": _within(doing)},
    )
    return Done(site=site, version=kept.version, made={"well": kept.pk})


def _within(doing: Doing) -> datetime | None:
    if doing.at:
        refuse_ahead(doing.at, doing.now)
        return min(doing.at, doing.now)
    return None
