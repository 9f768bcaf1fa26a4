"""Acts of the dial-back: strips, set, read, given up, kept, left, the dosing pump looked at."""

from __future__ import annotations

from uuid import UUID

from jobs.errors import WrongState
from jobs.fieldwork.pump import figures_of
from jobs.forms.dial_steps import ReadStepForm, SetStepForm
from jobs.forms.strips import StripsForm
from jobs.models import ActAnswer
from jobs.records.loading import load_sheet
from jobs.workflows import dial_back
from jobs.workflows.acts import Done
from jobs.workflows.leaving import leave_so
from jobs.workflows.strips import take_strips

from .doing import Doing, must_be_kept, unreadable, valid


def number_of_step(doing: Doing) -> int:
    """A step by the act that made it; by its number where an older phone knows no more."""
    if said := doing.text("step"):
        return _number_of_act(doing, said)
    number = doing.whole("number")
    return number if number is not None else int(must_be_kept(doing, "step"))


def _number_of_act(doing: Doing, said: str) -> int:
    """Of the step it made, or of the one that stood so already as it came."""
    try:
        name = UUID(said)
    except ValueError:
        raise unreadable("step") from None
    record = doing.the_record()
    step = record.steps.filter(made_by=name).first()
    if step:
        return step.number
    answer = ActAnswer.objects.filter(act__uuid=name, record=record).first()
    if answer is None or answer.state != ActAnswer.State.KEPT or "step" not in answer.told:
        raise WrongState("The step it is about was not kept.")
    return int(answer.told["step"])


def step_set(doing: Doing) -> Done:
    """A setting told afterwards has happened: it is kept, and says what it is against."""
    record = doing.the_record()
    sheet = load_sheet(record, now=doing.now)
    form = valid(SetStepForm(doing.post(), figures=figures_of(sheet)))
    said = ""
    if doing.by_phone:
        said = dial_back.forbidden(record=record, setting=form.setting, now=doing.now)
    step = dial_back.set_step(
        record=record,
        setting=form.setting,
        drawdown_ml_min=form.cleaned_data["drawdown_ml_min"],
        tap_flow_gpm=form.cleaned_data["tap_flow_gpm"],
        is_set_already=bool(said) or form.cleaned_data["is_set_already"],
        **doing.who,
    )
    dial_back.name_step(step=step, act=doing.uuid)
    against = f"{step.against} {dial_back.WHAT_NOW}" if step.against else ""
    return Done(against=against, made={"step": step.number})


def step_read(doing: Doing) -> Done:
    record, number = doing.the_record(), number_of_step(doing)
    oxidant = load_sheet(record, now=doing.now).oxidant
    form = valid(ReadStepForm(doing.post(), oxidant=oxidant))
    seen = dial_back.Seen(
        form.cleaned_data["look"],
        *form.residual,
        iron_clear=form.said("iron_clear"),
        odour_clear=form.said("odour_clear"),
        colour_gone=form.said("colour_gone"),
        by_strip=form.by_strip,
        again=bool(doing.text("again")),
    )
    step = dial_back.read_step(record=record, number=number, seen=seen, **doing.who)
    if step.number != number:
        dial_back.name_step(step=step, act=doing.uuid)
    return Done(made={"step": step.number})


def step_skip(doing: Doing) -> Done:
    number, reason = number_of_step(doing), doing.text("reason")
    dial_back.skip_step(record=doing.the_record(), number=number, reason=reason, **doing.who)
    return Done(made={"step": number})


def step_keep(doing: Doing) -> Done:
    number = number_of_step(doing)
    dial_back.keep_as_final(record=doing.the_record(), number=number, **doing.who)
    return Done(made={"step": number})


def step_checked(doing: Doing) -> Done:
    number, found = number_of_step(doing), doing.text("found")
    dial_back.check_feeder(record=doing.the_record(), number=number, found=found, **doing.who)
    return Done(made={"step": number})


def step_leave(doing: Doing) -> Done:
    step = leave_so(record=doing.the_record(), said=doing.text("leave"), **doing.who)
    dial_back.name_step(step=step, act=doing.uuid)
    return Done(made={"step": step.number})


def strips(doing: Doing) -> Done:
    record = doing.the_record()
    oxidant = load_sheet(record, now=doing.now).oxidant
    form = valid(StripsForm(doing.post(), oxidant=oxidant))
    take_strips(record=record, strips=form.strips, **doing.who)
    return Done()
