"""Jobs from before the facts: carried over, each with what could not be known; and back again."""

from datetime import date, timedelta

import pytest

from jobs.models import CallbackFact, Follow, HandoverFact, HandoverHelper, Job, LossFact
from jobs.reports.following import in_chunks, rows_of
from jobs.workflows.removals import take_out
from tests.acts import called_back, visited, worked
from tests.factories import make_staff, make_train
from tests.jobs.random_company import build_company, noon
from tests.migrating import migrated

DAY, HOURS = date(2026, 1, 10), timedelta(hours=2)
BEFORE = "0074_for_whom_a_telling_counts"
pytestmark = pytest.mark.django_db(transaction=True)


def standing():
    """What the facts say now, without who wrote them when."""
    rows = HandoverFact.objects.standing().filter(day__isnull=False)
    told = ("job", "day", "installer", "kind", "water", "is_inherited", "parts", "sulfide", "ph")
    return {row[0]: row[1:] for row in rows.values_list(*told)}


@pytest.mark.long
def test_a_year_of_acts_is_carried_over_as_it_was_frozen():
    build_company(3)
    frozen, followed = standing(), {row.pk: row for row in Follow.objects.all()}
    with migrated("jobs", BEFORE):
        pass
    assert standing() == frozen
    for pk, row in followed.items():
        now = Follow.objects.get(pk=pk)
        same = ("installer_id", "work", "day")
        assert all(getattr(now, name) == getattr(row, name) for name in same)
    for jobs, wanted in in_chunks():
        assert rows_of(jobs) == wanted
    assert set(HandoverFact.objects.values_list("method", flat=True)) == {"carried/1"}


@pytest.mark.long
def test_a_row_says_what_could_not_be_known():
    lead = make_staff("technician")
    job = worked(make_train(stages=("softener",)), lead, at=noon(DAY))
    back = visited(called_back(job, at=noon(DAY)), lead, at=noon(DAY) + HOURS, cause="A_leak")
    gone = worked(make_train(stages=("softener",)), lead, at=noon(DAY) + timedelta(hours=4))
    take_out(train=gone.train, on=DAY, reason="too big", by=lead, now=noon(DAY + timedelta(days=1)))
    with migrated("jobs", BEFORE):
        Job.objects.filter(pk=back.pk).update(status="cancelled", completed_at=None)
    assert "whether the person who led was ever corrected" in job.handovers.get().reason
    assert "booked in error is not known" in CallbackFact.objects.get().reason
    assert LossFact.objects.get().train == gone.train
    assert Follow.objects.get(job=job).how == Follow.How.CALLBACK
    assert Follow.objects.get(job=gone).how == Follow.How.SYSTEM_GONE
    assert not HandoverHelper.objects.exists()
