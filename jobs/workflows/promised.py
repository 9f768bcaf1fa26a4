"""What a rule makes of an event: about what it promises, and for when."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from equipment.models import Sample, Site, Stage, Train
from jobs.models import FollowUpRule, Happening, RuleContent, Visit

from .follow_up_dates import Dates, Fact, Way, dates_for, matching


@dataclass(frozen=True)
class About:
    """What an event happened to; each rule takes from here what its promise is about."""

    site: Site
    train: Train | None = None
    stage: Stage | None = None
    sample: Sample | None = None
    visit: Visit | None = None

    @classmethod
    def of(cls, row: Happening) -> About:
        return cls(row.site, row.train, row.stage, row.sample, row.visit)


def keep_happening(
    *, event: str, about: About, day: date, now: datetime, facts: Mapping[str, Fact]
) -> None:
    """What happened is kept once, so that a rule can be tried on it."""
    told = {
        "event": event,
        "day": day,
        "site": about.site,
        "train": about.train,
        "stage": about.stage,
        "sample": about.sample,
        "visit": about.visit,
    }
    if not Happening.objects.filter(**told, facts=dict(facts)).exists():
        Happening.objects.create(**told, facts=dict(facts), at=now)


@dataclass(frozen=True)
class Subject:
    """What a promise is about: its key, and the columns of the row."""

    key: str
    site: Site
    train: Train | None = None
    stage: Stage | None = None


def _subjects(rule: RuleContent, way: Way, about: About) -> Iterator[Subject]:
    site, train, sample, visit = about.site, about.train, about.sample, about.visit
    kinds = _kinds(rule, way)
    if rule.subject == FollowUpRule.Subject.SITE:
        yield Subject(f"site:{site.pk}", site, train)
    elif rule.subject == FollowUpRule.Subject.TRAIN and train:
        if kinds and not train.stages.fitted().filter(kind__in=kinds).exists():
            return
        yield Subject(f"train:{train.pk}", site, train)
    elif rule.subject == FollowUpRule.Subject.SAMPLE and sample:
        yield Subject(f"sample:{sample.pk}", sample.site)
    elif rule.subject == FollowUpRule.Subject.JOB and visit:
        yield Subject(f"job:{visit.job_id}", site, train)
    elif rule.subject == FollowUpRule.Subject.STAGE:
        stages = Stage.objects.fitted().with_catalog().filter(train=train) if train else []
        for part in [about.stage] if about.stage else stages:
            if not kinds or part.kind in kinds:
                yield Subject(f"stage:{part.pk}", site, train, part)


def _kinds(rule: RuleContent, way: Way) -> list[str]:
    """The parts that the promise is about; none named: all of them."""
    named = way.get("filter", {}).get("stage_kind") or rule.filter.get("stage_kind") or []
    return [str(kind) for kind in named] if isinstance(named, list) else [str(named)]


def promised(
    terms: RuleContent, event: str, *, about: About, day: date, facts: Mapping[str, Fact]
) -> Iterator[tuple[Subject, Dates]]:
    """Each thing the rule promises something about when that happens, none where it is silent."""
    way = matching(terms, event, facts)
    if way is None:
        return
    for subject in _subjects(terms, way, about):
        yield subject, dates_for(terms, way, day=day, stage=subject.stage)
