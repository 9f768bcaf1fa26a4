"""Promises: made by rules when something happens, booked, closed, put off, waived."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta

from dateutil.relativedelta import relativedelta
from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Q, QuerySet

from equipment.engineering.oxidant.feeding import dose_has_moved
from equipment.models import Fill, Sample, Site, Stage, Train
from equipment.on_file import fed, fed_until
from jobs.errors import BadEntry, NotAllowed, WrongState
from jobs.models import (
    DialStep,
    FollowUp,
    FollowUpRule,
    RuleContent,
    RuleVersion,
    Visit,
)
from jobs.models.coming import answered_all
from jobs.models.company import company_day
from jobs.records.bacteria import why_it_keeps_nothing

from .follow_up_dates import Dates, Fact, matching
from .log import log
from .promised import About as About
from .promised import Subject, keep_happening, promised
from .reasons import SHORT, reason_given

SNOOZES_BEFORE_OWNER = 3


@transaction.atomic
def happened(
    *,
    event: FollowUpRule.Event,
    about: About,
    day: date,
    by: User | None,
    now: datetime,
    **facts: Fact,
) -> list[FollowUp]:
    """Apply every rule in force to the event. Running it again for the same event adds nothing."""
    keep_happening(event=event, about=about, day=day, now=now, facts=facts)
    made = []
    for terms in RuleVersion.objects.in_force():
        for subject, dates in promised(terms, event, about=about, day=day, facts=facts):
            follow_up = _stand(
                terms, subject, dates, day=day, now=now, by=by, visit=about.visit, event=event
            )
            if follow_up:
                made.append(follow_up)
    return made


def _stand(
    terms: RuleVersion,
    subject: Subject,
    dates: Dates,
    *,
    day: date,
    now: datetime,
    by: User | None,
    visit: Visit | None,
    event: str,
) -> FollowUp | None:
    """One promise of a rule stands per subject: a booked one stays, an open one gives way."""
    rows = FollowUp.objects.select_for_update().filter(rule=terms.rule, subject_key=subject.key)
    latest = rows.order_by("cycle").last()
    if latest and latest.is_alive:
        same = latest.due_on == dates.due_on or latest.status == FollowUp.Status.BOOKED
        if same:
            return latest
        _end(latest, FollowUp.Status.SUPERSEDED, now=now, by=by, reason=f"newer: {event}")
    return FollowUp.objects.create(
        rule=terms.rule,
        terms=terms,
        site=subject.site,
        train=subject.train,
        stage=subject.stage,
        subject_key=subject.key,
        cycle=latest.cycle + 1 if latest else 1,
        due_on=dates.due_on,
        window_from=dates.window_from,
        window_until=dates.window_until,
        first_due_on=dates.due_on,
        reason=terms.reason_on(day),
        details={"event": event, "basis": dates.basis} if dates.basis else {"event": event},
        from_visit=visit,
        made_at=now,
    )


def feeder_changed_since(feeder: Stage, since: datetime) -> bool:
    """New hardware, a step of an unfinished dial-back, or an applied dose moved by over a tenth."""
    if feeder.fitted_on >= company_day(since):
        return True
    if (
        DialStep.objects.filter(record__train=feeder.train_id, set_at__gte=since)
        .exclude(record__status="closed")
        .exists()
    ):
        return True
    return dose_has_moved(fed_until(feeder.pk, since), fed(feeder.pk))


@transaction.atomic
def close_by_visit(*, visit: Visit, by: User, now: datetime) -> list[FollowUp]:
    """End the promises this visit kept: those it carries, and those the same work answers."""
    same_train = Q(train=visit.job.train_id, train__isnull=False, window_from__lte=company_day(now))
    rows = (
        FollowUp.objects.select_for_update(of=("self",))
        .alive()
        .select_related("terms")
        .filter(terms__closing=FollowUpRule.Closing.VISIT)
        .filter(Q(visit=visit) | same_train)
        .exclude(from_visit=visit)  # what it has shown to be wanting is done another time
    )
    kept = [row for row in rows if visit_keeps(row.terms, visit, carried=row.visit_id == visit.pk)]
    for row in kept:
        if row.visit_id != visit.pk:
            row.visit = visit
        _end(row, FollowUp.Status.DONE, now=now, by=by, reason=visit.get_outcome_display())
        _recur(row, now=now)
    return kept


def visit_keeps(terms: RuleContent, visit: Visit, *, carried: bool) -> bool:
    """Whether it is the work that was promised; `carried`: the visit was booked for it."""
    wanted = terms.closing_parameters
    kinds = wanted.get("job_kinds", [])
    if kinds and visit.job.kind not in kinds:
        return False
    if not kinds and not carried:
        return False
    if wanted.get("outcomes") and visit.outcome not in wanted["outcomes"]:
        return False
    return answered_all(visit.job, wanted.get("line_keys", []))


@transaction.atomic
def close_by_fill(*, fill: Fill, by: User, now: datetime) -> list[FollowUp]:
    """A fill keeps the refill promise of that tank and makes the next one."""
    rows = FollowUp.objects.alive().filter(
        terms__closing=FollowUpRule.Closing.FILL, stage=fill.stage_id
    )
    kept = list(rows)
    for row in kept:
        _end(row, FollowUp.Status.DONE, now=now, by=by, reason="filled")
    stage = Stage.objects.with_catalog().select_related("train__site").get(pk=fill.stage_id)
    happened(
        event=FollowUpRule.Event.FILL_RECORDED,
        about=About(stage.train.site, stage.train, stage),
        day=company_day(fill.at),
        by=by,
        now=now,
    )
    return kept


@transaction.atomic
def close_by_part(*, stage: Stage, is_out: bool, reason: str, by: User, now: datetime) -> None:
    """The part has left the house, or what was called back of it is worked off."""
    rows = FollowUp.objects.select_for_update(of=("self",)).alive().filter(stage=stage)
    if not is_out:
        rows = rows.filter(details__event=FollowUpRule.Event.PART_RECALLED)
    for row in rows.filter(terms__closing=FollowUpRule.Closing.PART_OUT):
        _end(row, FollowUp.Status.DONE, now=now, by=by, reason=reason)


@transaction.atomic
def close_by_result(*, sample: Sample, by: User, now: datetime) -> list[FollowUp]:
    """A laboratory result keeps what waited for it; a sample that proves nothing keeps nothing."""
    rows = (
        FollowUp.objects.alive()
        .select_related("terms", "from_visit")
        .filter(terms__closing=FollowUpRule.Closing.RESULT)
        .filter(Q(subject_key=f"sample:{sample.pk}") | Q(site__in=_houses_of(sample)))
    )
    kept = [row for row in rows if _result_keeps(row, sample, now=now)]
    for row in kept:
        _end(row, FollowUp.Status.DONE, now=now, by=by, reason=sample.get_outcome_display())
        _recur(row, now=now)
    return kept


def _houses_of(sample: Sample) -> set[int]:
    """Bacteria at the raw tap speak of the well, so of every house on it."""
    houses = {sample.site_id}
    if sample.well and sample.kind == Sample.Kind.BACTERIA:
        houses.update(Site.objects.on_well(sample.well).values_list("pk", flat=True))
    return houses


def _result_keeps(row: FollowUp, sample: Sample, *, now: datetime) -> bool:
    wanted = row.terms.closing_parameters
    own = f"sample:{sample.pk}"
    if row.subject_key.startswith("sample:") and row.subject_key != own:
        return False
    if wanted.get("sample_kinds") and sample.kind not in wanted["sample_kinds"]:
        return False
    if wanted.get("outcomes") and sample.outcome not in wanted["outcomes"]:
        return False
    proves = sample.kind == Sample.Kind.BACTERIA and sample.outcome == Sample.Outcome.NEGATIVE
    if row.subject_key == own or not proves:
        return True
    return not why_it_keeps_nothing(sample, row, now=now)


@transaction.atomic
def acknowledge(*, follow_up: FollowUp, note: str, by: User, now: datetime) -> FollowUp:
    """A named person says it is handled (only promises that close that way)."""
    if follow_up.terms.closing != FollowUpRule.Closing.ACKNOWLEDGED:
        raise WrongState("This promise is kept by the work itself, not by a word.")
    _not_a_review(follow_up)
    return reviewed(follow_up=follow_up, note=note, by=by, now=now)


def _not_a_review(follow_up: FollowUp) -> None:
    """Whether a cause is right is the owner's to say, on its page, not a word on the list."""
    if follow_up.rule.is_review:
        raise NotAllowed("The owner handles this by deciding the cause of the callback.")


def _not_of_a_recall(follow_up: FollowUp) -> None:
    if follow_up.is_of_recall:
        raise WrongState("Say on the page of the recall how this part was worked off.")


@transaction.atomic
def reviewed(*, follow_up: FollowUp, note: str, by: User, now: datetime) -> FollowUp:
    """What a promise asks a person to look at was looked at."""
    _must_stand(follow_up)
    _end(follow_up, FollowUp.Status.DONE, now=now, by=by, reason=note or "handled")
    log(verb="acknowledged", subject=follow_up, by=by, now=now, site=follow_up.site, reason=note)
    return follow_up


@transaction.atomic
def snooze(*, follow_up: FollowUp, until: date, reason: str, by: User, now: datetime) -> FollowUp:
    """Put off the work on an open promise; its due day and lateness stay."""
    if follow_up.status != FollowUp.Status.OPEN:
        raise WrongState("Only an open promise can be put off.")
    reason_given(reason, "Say why it is put off.")
    if until <= company_day(now):
        raise BadEntry("Choose a day after today.", field="until")
    follow_up.snoozed_until = until
    follow_up.snoozes += 1
    if follow_up.snoozes >= SNOOZES_BEFORE_OWNER:
        owners = User.objects.filter(groups__name="owner", is_active=True)
        follow_up.owner = owners.order_by("pk").first()
    follow_up.save(update_fields=["snoozed_until", "snoozes", "owner"])
    log(
        verb="put_off",
        subject=follow_up,
        by=by,
        now=now,
        site=follow_up.site,
        reason=reason,
        until=until.isoformat(),
        owner=follow_up.snoozes >= SNOOZES_BEFORE_OWNER,
    )
    return follow_up


@transaction.atomic
def take_up(*, follow_up: FollowUp, by: User, now: datetime) -> FollowUp:
    """What was put off is worked on again, before its day; how often it was put off stays."""
    row = FollowUp.objects.select_for_update(of=("self",)).get(pk=follow_up.pk)
    if row.snoozed_until is None or row.snoozed_until <= company_day(now):
        return row  # somebody was first, or its day has come
    _must_stand(row)
    row.snoozed_until = None
    row.save(update_fields=["snoozed_until"])
    log(verb="taken_up", subject=row, by=by, now=now, site=row.site)
    return row


@transaction.atomic
def waive(*, follow_up: FollowUp, reason: str, by: User, now: datetime) -> FollowUp:
    """Give up a promise, with a reason and a name."""
    _must_stand(follow_up)
    if follow_up.status == FollowUp.Status.BOOKED:
        raise WrongState("A visit carries this promise: cancel or close the visit first.")
    _not_a_review(follow_up)
    _not_of_a_recall(follow_up)
    reason_given(reason, "Say why nobody comes back for this.", least=SHORT)
    _end(follow_up, FollowUp.Status.WAIVED, now=now, by=by, reason=reason)
    log(verb="waived", subject=follow_up, by=by, now=now, site=follow_up.site, reason=reason)
    return follow_up


@transaction.atomic
def waive_of_house(*, site: Site, reason: str, by: User, now: datetime) -> None:
    """Nobody comes to this house any more; a cause to decide and a recall go on without a visit."""
    for row in FollowUp.objects.alive().filter(site=site).select_related("rule", "site"):
        if not (row.rule.is_review or row.is_of_recall):
            waive(follow_up=row, reason=reason[:200], by=by, now=now)


@transaction.atomic
def end_with_parts(
    *, parts: Iterable[Stage], train: Train | None = None, on: date, by: User, now: datetime
) -> list[FollowUp]:
    """Parts are taken out, or all of a system: nobody comes back for them."""
    gone = [f"stage:{part.pk}" for part in parts] + ([f"train:{train.pk}"] if train else [])
    ended = list(FollowUp.objects.select_for_update().alive().filter(subject_key__in=gone))
    for row in ended:
        _end(row, FollowUp.Status.WAIVED, now=now, by=by, reason=f"taken out on {on:%-d %B %Y}")
    return ended


@transaction.atomic
def end_with_rule(*, rule: FollowUpRule, reason: str, by: User, now: datetime) -> list[FollowUp]:
    """Open promises of a rule that ends are given up; a visit that carries one still keeps it."""
    ended = list(FollowUp.objects.select_for_update().open().filter(rule=rule))
    for row in ended:
        _end(row, FollowUp.Status.WAIVED, now=now, by=by, reason=f"rule ended: {reason}")
        log(verb="waived", subject=row, by=by, now=now, site=row.site, reason=reason)
    return ended


def not_so(
    *, rows: QuerySet[FollowUp], facts: Mapping[str, Fact], by: User, now: datetime
) -> list[FollowUp]:
    """Open promises whose cause has not happened after all; a visit that carries one keeps it."""
    ended = [
        row
        for row in rows.select_for_update(of=("self",)).filter(status=FollowUp.Status.OPEN)
        if matching(row.terms, row.details["event"], facts)
    ]
    for row in ended:
        _end(row, FollowUp.Status.WAIVED, now=now, by=by, reason="corrected: it passes after all")
    return ended


def stand_again(rows: QuerySet[FollowUp]) -> None:
    """Promises that were ended by mistake are open as before."""
    for row in rows.select_for_update():
        newer = FollowUp.objects.filter(rule=row.rule_id, subject_key=row.subject_key)
        if newer.filter(cycle__gt=row.cycle).exists():
            continue  # promised anew meanwhile
        row.status, row.visit = FollowUp.Status.OPEN, None
        row.ended_at, row.ended_by, row.ended_reason = None, None, ""
        row.save()


@transaction.atomic
def _end(follow_up: FollowUp, status: str, *, now: datetime, by: User | None, reason: str) -> None:
    follow_up.status = status
    follow_up.ended_at, follow_up.ended_by, follow_up.ended_reason = now, by, reason[:200]
    follow_up.save()


def _recur(follow_up: FollowUp, *, now: datetime) -> None:
    """The next cycle: months count from the due day, days from the completion.

    It is a promise made today, so under what the rule says today: none where that recurs no more.
    """
    terms = RuleVersion.objects.in_force().filter(rule=follow_up.rule_id).first()
    again = terms.recurrence if terms else {}
    if terms is None or not again:
        return
    if "every_months" in again:
        due = follow_up.due_on + relativedelta(months=again["every_months"])
    else:
        due = company_day(now) + timedelta(days=again["every_days"])
    FollowUp.objects.get_or_create(
        rule=terms.rule,
        subject_key=follow_up.subject_key,
        cycle=follow_up.cycle + 1,
        defaults={
            "terms": terms,
            "site": follow_up.site,
            "train": follow_up.train,
            "stage": follow_up.stage,
            "due_on": due,
            "first_due_on": due,
            "window_from": due - timedelta(days=terms.window_before_days),
            "window_until": due + timedelta(days=terms.window_after_days),
            "reason": terms.reason_on(company_day(now)),
            "made_at": now,
        },
    )


def _must_stand(follow_up: FollowUp) -> None:
    if not follow_up.is_alive:
        raise WrongState(f"This promise is {follow_up.get_status_display()} already.")
