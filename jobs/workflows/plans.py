"""The plan of a system: worked out from what is on file and the company's aims, and kept."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.assessments import Aims, facts_of, store_plan
from equipment.engineering.plan.facts import (
    TrainPlan,
)
from equipment.engineering.plan.train import plan_train
from equipment.engineering.units import quantity, size_in
from equipment.models import Stage, StoredAssessment, Train
from equipment.quantities import is_found
from jobs.fieldwork.asked import aim_for
from jobs.models import Company
from jobs.records.loading import company_facts

from .log import log


def plan_of(train: Train) -> TrainPlan:
    """The plan, aiming at the middle of the company's residual for this oxidant and water."""
    company = Company.load()
    feeder = train.stages.fitted().filter(kind=Stage.Kind.FEEDER).select_related("product").first()
    product = feeder.product if feeder else None
    facts = facts_of(train, Aims(retention_minimum_min=company.retention_minimum_min))
    sulfide = facts.water.sulfide
    has_sulfide = sulfide is not None and is_found(size_in(sulfide, "mg/L"))
    band = (
        aim_for(company_facts(company), product.oxidant, sulfide=has_sulfide) if product else None
    )
    middle = quantity(sum(band) / 2, "mg/L") if band else None
    return plan_train(replace(facts, residual=middle))


@transaction.atomic
def keep_plan(
    *, train: Train, by: User, now: datetime, occasion: uuid.UUID | None = None
) -> StoredAssessment:
    """Work the plan out and store it as what was known on that day."""
    stored = store_plan(train=train, plan=plan_of(train), by=by, now=now, occasion=occasion)
    log(verb="planned", subject=train, by=by, now=now, site=train.site)
    return stored
