"""Each act that feeds the callback report, and what the report says before and after it.

Two jobs of Ida's and one of Ben's on 10 January; the second of Ida's was called back after twenty
days for a leak. Looked at on 10 June, callbacks within 90 days. `pytest -s` prints the table.
"""

from datetime import date, timedelta
from types import SimpleNamespace

import pytest
from django.urls import reverse

from jobs.models import CallbackFact, LossFact, Visit
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import callback_report
from jobs.workflows.attempts import record_attempt
from jobs.workflows.causes import review_cause
from jobs.workflows.fact_corrections import (
    Handed,
    correct_handover,
    correct_report,
    end_service,
    turn_off,
    withdraw_loss,
)
from jobs.workflows.jobs import cancel_job
from jobs.workflows.removals import put_back, take_out
from jobs.workflows.unreached import follow_no_more
from tests.acts import arrived, booked, called_back, closed, opened, sold, visited, worked
from tests.factories import make_customer, make_follow_up, make_staff, make_train, some_user
from tests.jobs.random_company import noon

pytestmark = pytest.mark.django_db
DAY, TODAY = date(2026, 1, 10), date(2026, 6, 10)
WHY = "looked at it with both"


def later(days):
    return DAY + timedelta(days=days)


def at(days):
    return noon(later(days))


@pytest.fixture
def world(owner):
    ida = make_staff("technician", first_name="Ida", last_name="Rowan")
    ben = make_staff("technician", first_name="Ben", last_name="Fenn")
    plain, called, other = (
        worked(make_train(stages=("softener",)), who, at=noon(DAY) + timedelta(hours=2 * n))
        for n, who in enumerate((ida, ida, ben))
    )
    back = called_back(called, at=at(20))
    visited(back, ida, at=at(21), cause="A_leak", cause_note="seen")
    return SimpleNamespace(
        ida=ida, ben=ben, plain=plain, called=called, other=other, back=back, owner=owner
    )


def by(world, day=30, **more):
    return {"by": world.owner, "now": at(day), **more}


def sold_to(buyer):
    def act(world):
        to = make_customer() if buyer == "ours" else None
        sold(world.plain.site, on=later(50), at=at(50), to=to, buyer=buyer)

    return act


def taken_out(world):
    take_out(train=world.plain.train, on=later(40), reason="too small", **by(world, 40))


def taken_out_and_put_back(world):
    taken_out(world)
    world.plain.train.refresh_from_db()
    put_back(train=world.plain.train, **by(world, 41))


def replaced(world):
    """The old system goes, another is handed over at the same house."""
    taken_out(world)
    train = make_train(site=world.plain.site, stages=("softener",))
    worked(train, world.ben, at=at(41))


def not_handed_over(world):
    """Work that ends with the system left bypassed."""
    train = make_train(stages=("softener",))
    visited(opened(train, at=at(5)), world.ben, at=at(5), bypass=Visit.Bypass.BYPASSED)


def handed_over_after_all_never(world):
    handed = Handed(world.ida, None)
    correct_handover(job=world.plain, handed=handed, reason=WHY, **by(world))


def visit_cancelled(world):
    """A second customer calls, and the job is called off before anybody goes."""
    back = called_back(world.plain, at=at(30))
    cancel_job(job=back, reason="they managed it", **by(world, 31))


def booked_in_error(world):
    back = called_back(world.plain, at=at(30))
    cancel_job(job=back, reason="another house", booked_in_error=True, **by(world, 31))


def corrected(answer, origin=None):
    def act(world):
        of = getattr(world, origin) if origin else None
        correct_report(job=world.back, answer=answer, origin=of, reason=WHY, **by(world))

    return act


def question_answered(answer):
    """Whatever its kind, an unplanned visit is asked whether it comes of earlier work."""

    def act(world):
        called_back(world.plain, at=at(30), kind="repair", answer=answer)

    return act


def reported_before_the_closing_was_told(world):
    """Left on day 5, told on day 9; the customer called on day 7."""
    train = make_train(stages=("softener",))
    job = opened(train, at=at(5))
    visit = booked(job, world.ben, at=at(5))
    arrived(visit)
    closed(visit, at=at(5) + timedelta(hours=1), now=at(9))
    job.refresh_from_db()
    called_back(job, at=at(10), reported_on=later(7))


def cause_unknown(world):
    back = called_back(world.plain, at=at(30))
    visited(back, world.ida, at=at(31), cause="L_unknown", cause_note="nothing seen")


def cause_not_entered(world):
    called_back(world.plain, at=at(30))


def cause_changed(world):
    world.back.refresh_from_db()
    seen = world.back.cause
    review_cause(callback=world.back, cause="G_source", seen=seen, reason=WHY, **by(world))


def lead_corrected(world):
    handed = Handed(world.ben, DAY)
    correct_handover(job=world.called, handed=handed, reason=WHY, **by(world))


def origin_corrected(world):
    """Newer work on the same system: the report came of that."""
    newer = worked(world.called.train, world.ben, at=at(10))
    correct_report(job=world.back, answer="yes", origin=newer, reason=WHY, **by(world))


def not_reached(world):
    promise = make_follow_up(train=world.plain.train)
    for day in (20, 50, 80):
        record_attempt(follow_up=promise, how="not_reached", by=some_user(), now=at(day))
    follow_no_more(site=world.plain.site, reason=WHY, **by(world, 80))


def service_ended(world):
    end_service(site=world.plain.site, on=later(60), reason=WHY, **by(world, 60))


def ended_by_mistake(world):
    service_ended(world)
    row = LossFact.objects.standing().get(site=world.plain.site)
    withdraw_loss(row=row, reason=WHY, **by(world, 61))


def off(world):
    turn_off(train=world.plain.train, on=later(30), reason=WHY, **by(world))


def lost_after_a_callback(world):
    """A callback before the loss counts: the worst case must not disappear."""
    sold(world.called.site, on=later(60), at=at(60), buyer="not_ours")


#: act -> (of Ida, of Ben, company) that change; what is not named stays
ACTS = {
    "house sold to a stranger": (sold_to("not_ours"), {"judged": 2, "left": 1, "days": 160}),
    "house sold to nobody we know": (sold_to("unknown"), {"judged": 2, "left": 1, "days": 160}),
    "house sold to a customer of ours": (sold_to("ours"), {}),
    "house sold after its callback": (lost_after_a_callback, {}),
    "system taken out": (taken_out, {"judged": 2, "removed": 1, "days": 150}),
    "system taken out by mistake, and put back": (taken_out_and_put_back, {}),
    "system replaced by another": (
        replaced,
        {"jobs": 4, "removed": 1, "days": 240},
    ),
    "water not handed over": (not_handed_over, {}),
    "handover corrected to never": (
        handed_over_after_all_never,
        {"jobs": 2, "judged": 2, "days": 110, "corrected": 1},
    ),
    "system off at the customer's wish": (off, {"judged": 2, "off": 1, "days": 140}),
    "service ended by the customer": (service_ended, {"judged": 2, "left": 1, "days": 170}),
    "service ended by mistake": (ended_by_mistake, {}),
    "could not be reached": (not_reached, {"judged": 2, "left": 1, "days": 130}),
    "callback called off before the visit": (
        visit_cancelled,
        {"called": 2, "unknown": 1, "reports": 2, "days": 140},
    ),
    "callback booked in error": (booked_in_error, {"corrected": 1}),
    "callback withdrawn: yes becomes no": (
        corrected("no"),
        {"called": 0, "workmanship": 0, "reports": 0, "days": 270, "corrected": 1},
    ),
    "yes becomes not sure": (
        corrected("not_sure", "called"),
        {
            "called": 0,
            "workmanship": 0,
            "reports": 0,
            "not sure": 1,
            "days": 270,
            "corrected": 1,
        },
    ),
    "unplanned visit answered yes": (
        question_answered("yes"),
        {"called": 2, "unknown": 1, "reports": 2, "days": 140},
    ),
    "unplanned visit answered not sure": (question_answered("not_sure"), {"not sure": 1}),
    "reported before the closing was told": (
        reported_before_the_closing_was_told,
        {"jobs": 4, "judged": 4, "called": 2, "unknown": 1, "reports": 2, "days": 202},
    ),
    "cause not known": (
        cause_unknown,
        {"called": 2, "unknown": 1, "reports": 2, "days": 140},
    ),
    "cause not entered yet": (
        cause_not_entered,
        {"called": 2, "unknown": 1, "reports": 2, "days": 140},
    ),
    "cause reviewed: no workmanship": (cause_changed, {"workmanship": 0, "corrected": 1}),
    "lead corrected": (lead_corrected, {"Ida": "1/0", "Ben": "2/1", "corrected": 1}),
    "origin corrected to newer work": (
        origin_corrected,
        {
            "jobs": 4,
            "judged": 4,
            "days": 280,
            "Ida": "2/0",
            "Ben": "2/1",
            "corrected": 1,
        },
    ),
}
BEFORE = {
    "jobs": 3,
    "judged": 3,
    "left": 0,
    "removed": 0,
    "off": 0,
    "called": 1,
    "workmanship": 1,
    "unknown": 0,
    "reports": 1,
    "not sure": 0,
    "days": 200,
    "corrected": 0,
}


def report():
    found = callback_report(Selection(DAY, TODAY, 90, TODAY))
    total = found.total
    people = {
        person.name.partition(", ")[2]: f"{person.counts.judgeable}/{person.counts.callbacks}"
        for person in found.people
    }
    return people | {
        "jobs": total.jobs,
        "judged": total.judgeable,
        "left": total.left,
        "removed": total.removed,
        "off": total.off,
        "called": total.callbacks,
        "workmanship": total.workmanship,
        "unknown": total.unknown,
        "reports": found.returns,
        "not sure": found.not_sure,
        "days": found.days_followed,
        "corrected": found.corrected,
    }


@pytest.mark.parametrize("name", ACTS)
def test_what_the_report_says_before_and_after(world, name, owner_client, monkeypatch):
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: TODAY)
    act, changes = ACTS[name]
    before = report()
    assert {key: before[key] for key in BEFORE} == BEFORE
    act(world)
    after = report()
    changed = {key: after.get(key) for key in after if after.get(key) != before.get(key)}
    named = {key: changed[key] for key in changed if key in changes or key not in ("Ida", "Ben")}
    page = owner_client.get(reverse("callbacks"), {"since": DAY, "until": TODAY, "window": 90})
    said = page.context["fair"].headline
    told = ", ".join(f"{key} {before.get(key, '-')} > {new}" for key, new in changed.items())
    print(f"| {name} | {told or 'nothing'} | {said} |")
    assert named == changes
    assert CallbackFact.objects.filter(job=world.back).exists(), "nothing is ever taken away"
