"""The demo as the owner reads it: callbacks, their causes, what was put right, what was lost."""

from collections import Counter
from datetime import timedelta

import pytest
from django.db.models import Q

from jobs.models import CallbackFact, Company, HandoverFact, Job, LossFact
from jobs.workflows.fact_nights import compare, compare_jobs
from tests.jobs.test_demo import NOW, TODAY, _loaded, demo

pytestmark = [pytest.mark.usefixtures("demo"), pytest.mark.long]
__all__ = ["_loaded", "demo"]
INDEX_WANTED = {"rowan": 10, "juniper": 10, "basil": 10}


def test_installers_have_something_fair_to_compare():
    done = Counter(HandoverFact.objects.values_list("installer__username", flat=True))
    assert all(done[name] >= least for name, least in INDEX_WANTED.items())
    assert 0 < done["wren"] < 10
    mixes = {
        frozenset(HandoverFact.objects.filter(installer__username=name).values_list("job__kind"))
        for name in done
    }
    assert len(mixes) > 1
    window = timedelta(days=Company.load().callback_window_days)
    assert HandoverFact.objects.filter(day__gt=TODAY - window).exists()


def test_callbacks_have_causes_and_origins():
    callbacks = Job.objects.filter(callback_answer="yes")
    assert callbacks.count() >= 8
    assert not callbacks.filter(Q(origin=None) | Q(cause="")).exists()
    assert len({job.cause_group for job in callbacks}) >= 5
    assert callbacks.filter(recheck_missed=True).count() == 1
    assert callbacks.filter(cause_reviewed_at=None).count() == 1
    assert Job.objects.filter(callback_answer="not_sure").count() == 1


def test_facts_are_put_right_and_houses_are_lost_to_sight():
    """Each act that decides about a counted job stands in the demo, and its mistakes too."""
    corrected = HandoverFact.objects.exclude(corrects=None).get()
    assert (corrected.installer.username, corrected.corrects.installer.username) == (
        "rowan",
        "wren",
    )
    withdrawn = CallbackFact.objects.standing().get(answer="no", corrects__answer="yes")
    assert withdrawn.corrects.cause
    assert {row.how for row in LossFact.objects.standing()} == {
        "system",
        "customer",
        "unreached",
        "stands",
    }
    stands = LossFact.objects.filter(how="stands").values_list("corrects__how", flat=True)
    assert set(stands) == {"customer", "off"}
    compare(NOW)
    compare_jobs(NOW)
