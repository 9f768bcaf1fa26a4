"""The plan of a system: worked out from what is on file and the company's aims, and kept."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.assessments import Aims, facts_of, store_plan
from equipment.engineering.plan import TrainPlan, plan_train
from equipment.engineering.units import quantity
from equipment.models import OxidantProduct, Stage, StoredAssessment, Train
from jobs.models import Company

from .log import log


def plan_of(train: Train) -> TrainPlan:
    """The plan with the residual aimed at for this oxidant and this water."""
    company = Company.load()
    feeder = train.stages.fitted().filter(kind=Stage.Kind.FEEDER).select_related("product").first()
    product = feeder.product if feeder else None
    facts = facts_of(train, Aims(retention_minimum_min=company.retention_minimum_min))
    sulfide = facts.water.sulfide is not None and facts.water.sulfide.magnitude > 0
    residual = residual_aim(company, product, sulfide=sulfide)
    return plan_train(replace(facts, residual=quantity(residual, "mg/L") if residual else None))


def residual_aim(
    company: Company, product: OxidantProduct | None, *, sulfide: bool
) -> float | None:
    """Middle of the company's band after retention; none for permanganate."""
    if product is None:
        return None
    if product.oxidant == OxidantProduct.Oxidant.PEROXIDE:
        if sulfide:
            return (company.peroxide_low_mg_l + company.peroxide_high_mg_l) / 2
        return (company.peroxide_iron_low_mg_l + company.peroxide_iron_high_mg_l) / 2
    if product.oxidant == OxidantProduct.Oxidant.CHLORINE:
        return (company.chlorine_low_mg_l + company.chlorine_high_mg_l) / 2
    return None


@transaction.atomic
def keep_plan(
    *, train: Train, by: User, now: datetime, occasion: uuid.UUID | None = None
) -> StoredAssessment:
    """Work the plan out and store it as what was known on that day."""
    stored = store_plan(train=train, plan=plan_of(train), by=by, now=now, occasion=occasion)
    log(verb="planned", subject=train, by=by, now=now, site=train.site)
    return stored
