"""What was corrected or told about the jobs of an answer after it was given."""

from __future__ import annotations

from django.db.models import Q

from jobs.models import CallbackFact, HandoverFact, LossFact, Verdict
from jobs.models.facts import number_of


def known_since(verdict: Verdict) -> int:
    """Newer facts: handovers, reports, and what was lost to sight."""
    later = Q(recorded_at__gt=verdict.recorded_at)
    days = (verdict.since, verdict.until)
    numbers = (number_of(verdict.since), number_of(verdict.until))
    handed = Q(day__range=days) | Q(corrects__day__range=days)
    of_period = Q(origin__follow__day__range=numbers)
    of_period |= Q(corrects__origin__follow__day__range=numbers)
    return (
        HandoverFact.objects.filter(later, handed).count()
        + CallbackFact.objects.filter(later, of_period).distinct().count()
        + LossFact.objects.filter(later).count()
    )
