"""A rule is said in a sentence, tried before it is kept, refused where it could never happen."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from jobs.models import FollowUp, FollowUpRule, Happening
from jobs.models.company import company_day
from jobs.models.visits import day_start
from tests.acts import worked
from tests.factories import make_rule, make_staff, make_train
from tests.forms import filled
from tests.migrating import migrated
from tests.record_scenes import load_checklists

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def noon_of_today():
    """Whatever the hour of the run is, visits of an hour lie within a day."""
    return day_start(company_day(timezone.now())) + timedelta(hours=12)


@pytest.fixture
def lead():
    return make_staff("technician")


@pytest.fixture
def rules():
    call_command("load_rules", verbosity=0)
    load_checklists()
    return {rule.code: rule for rule in FollowUpRule.objects.all()}


def sent_to(client, rule, **fields):
    """The page of the rule with these boxes filled in, sent with one of its buttons."""
    sent = filled(client, "rule-edit", rule) | fields
    return client.post(reverse("rule-edit", args=[rule.pk]), sent)


def new_rule(client, **fields):
    sent = filled(client, "rule-new") | {
        "name": "Look at the drain",
        "reason": "The drain was laid on {day}.",
        "way0_event": "visit_closed",
        "way0_job_kind": ["install"],
        "subject": "site",
        "offset_days": 30,
        "window_before_days": 7,
        "window_after_days": 7,
        "closing": "visit_closed_with",
        "job_kind": "service",
        "minutes": 45,
        "harm": 8,
    }
    return client.post(reverse("rule-new"), sent | fields)


# --- one sentence -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (
            "f13",
            "When a start-up is closed (the well was disinfected) or a visit is closed (for "
            "disinfection of well and plumbing, the work was completed), “Bacteria sample after "
            "disinfection” is promised for the house, due 7 days later, from day 5 to day 14; "
            "it is kept by the laboratory’s result of bacteria that says negative.",
        ),
        (
            "f11",
            "When a start-up is closed, “Annual water test” is promised for the house, due 365 "
            "days later, from day 335 to day 425; it is kept by the laboratory’s result of annual "
            "test, and promised again 12 months after it was due.",
        ),
        (
            "f15",
            "When a sample is sent, “Laboratory result missing” is promised for the sample, due 2 "
            "working days later, late from working day 3; it is kept by the laboratory’s result.",
        ),
    ],
)
def test_a_rule_says_itself_in_one_sentence(owner_client, rules, code, said):
    page = owner_client.get(reverse("rule-edit", args=[rules[code].pk]))
    assert page.context["said"] == said
    assert said in page.content.decode()


def test_the_sentence_asks_for_lines_as_the_record_does(owner_client, rules):
    said = owner_client.get(reverse("rule-edit", args=[rules["f1"].pk])).context["said"]
    assert "stop-first" not in said
    assert said.count("“") > 4


# --- tried before it is kept --------------------------------------------------------------------


def test_a_new_rule_is_tried_on_what_happened_and_then_kept(owner_client, lead):
    now = noon_of_today()
    done = [
        worked(make_train(stages=("softener",)), lead, "install", at=now - n * DAY) for n in (3, 5)
    ]
    worked(make_train(stages=("softener",)), lead, "repair", at=now - 4 * DAY)
    worked(make_train(stages=("softener",)), lead, "install", at=now - 120 * DAY)
    tried = new_rule(owner_client, **{"try": "1"})
    trial = tried.context["trial"]
    assert tried.status_code == 200
    assert (trial.made, trial.houses) == (2, 2)
    assert [row.happening.site for row in trial.first] == [job.site for job in done[::-1]]
    due = [company_day(now - n * DAY) + 30 * DAY for n in (5, 3)]
    assert [row.dates.due_on for row in trial.first] == due
    assert "2 promises" in tried.content.decode()
    assert not FollowUpRule.objects.exists()
    assert not FollowUp.objects.exists()
    assert new_rule(owner_client).status_code == 302
    assert FollowUpRule.objects.get().code == "c1"
    job = worked(make_train(stages=("softener",)), lead, "install", at=now)
    assert FollowUp.objects.get().site == job.site


def test_a_change_is_tried_beside_what_the_rule_says_today(owner_client, lead):
    rule = make_rule("x1", event="visit_closed", filter={"job_kind": "service"}, subject="site")
    now = noon_of_today()
    for days, kind in enumerate(("service", "service", "repair"), 2):
        worked(make_train(stages=("softener",)), lead, kind, at=now - days * DAY)
    trial = sent_to(
        owner_client, rule, way0_job_kind=["service", "repair"], offset_days=20, **{"try": "1"}
    ).context["trial"]
    assert (trial.made, trial.made_today, trial.added, trial.moved) == (3, 2, 1, 2)
    rule.refresh_from_db()
    assert rule.offset_days == 14
    same = sent_to(owner_client, rule, **{"try": "1"}).context["trial"]
    assert same.is_same
    assert FollowUp.objects.count() == 2


def test_what_stands_for_the_same_day_is_no_second_promise_of_a_trial(owner_client, lead):
    rule = make_rule("x1", event="visit_closed", filter={"job_kind": "service"})
    noon = noon_of_today() - 3 * DAY
    train = make_train(stages=("softener",))
    for hours in (0, 2):
        worked(train, lead, at=noon + timedelta(hours=hours))
    assert FollowUp.objects.count() == 1
    trial = sent_to(owner_client, rule, **{"try": "1"}).context["trial"]
    assert (trial.made, trial.made_today) == (1, 1)


def test_what_was_kept_meanwhile_would_keep_it(owner_client, lead):
    rule = make_rule("x1", event="visit_closed", filter={"job_kind": "service"})
    now = noon_of_today()
    worked(make_train(stages=("softener",)), lead, "recheck", at=now - 3 * DAY)
    worked(make_train(stages=("softener",)), lead, "repair", at=now - 4 * DAY)
    trial = sent_to(owner_client, rule, job_kinds=["recheck"], **{"try": "1"}).context["trial"]
    assert trial.keeping_visits == 1


# --- refused at the field -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "fields", "field"),
    [
        ("f1", {"line_keys": "stop-third"}, "line_keys"),
        ("f1", {"job_kinds": ["refill"]}, "job_kinds"),
        ("f1", {"job_kinds": ["refill"], "job_kind": "refill"}, "line_keys"),
        ("f1", {"closing": "fill_recorded"}, "closing"),
        ("f11", {"minutes": 5000}, "minutes"),
        ("f11", {"minutes": 5}, "minutes"),
        ("f11", {"offset_days": 5, "window_before_days": 6}, "window_before_days"),
        ("f11", {"window_after_days": 400}, "window_after_days"),
        ("f6", {"window_before_days": 182, "offset_days": 400}, "window_before_days"),
        ("f20", {"every_months": 12}, "every_days"),
        ("f20", {"subject": "train"}, "way0_event"),
        ("f11", {"subject": "sample"}, "way0_event"),
        (
            "f24",
            {"way0_event": "sample_sent", "way0_completed": "", "way0_is_callback": ""},
            "way0_event",
        ),
        ("f11", {"way0_stage_kind": ["uv"]}, "way0_stage_kind"),
        ("f3", {"way1_stage_kind": ["uv"]}, "way1_stage_kind"),
        ("f13", {"way0_completed": "no"}, "way0_completed"),
        ("f13", {"way1_outcome": ["no_access"]}, "way1_completed"),
        ("f13", {"way1_event": "fill_recorded"}, "way1_job_kind"),
        ("f6", {"way2_event": "stage_fitted", "way2_stage_kind": ["feeder"]}, "way2_event"),
        ("f6", {"anchor": "refill_forecast", "way1_stage_kind": ["uv"]}, "anchor"),
        ("f11", {"anchor": "run_end"}, "anchor"),
        ("f11", {"reason": "since {when}"}, "reason"),
        ("f15", {"way0_sample_kind": ["bacteria"], "sample_kinds": ["annual"]}, "way0_sample_kind"),
    ],
)
@pytest.mark.parametrize("button", [{}, {"try": "1"}])
def test_what_can_never_happen_is_refused_at_its_field(
    owner_client, rules, code, fields, field, button
):
    rule = rules[code]
    answer = sent_to(owner_client, rule, **fields, **button)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert "trial" not in answer.context or answer.context["trial"] is None
    assert rule.versions.count() == 1


def test_an_unknown_line_names_those_that_are_near(owner_client, rules):
    page = sent_to(owner_client, rules["f1"], line_keys="stop-frist").content.decode()
    assert "Do you mean stop-first" in page


def test_a_cleared_occasion_does_not_move_a_refusal(owner_client, rules):
    answer = sent_to(
        owner_client,
        rules["f1"],
        way1_event="",
        way2_job_kind=["refill"],
        **{"way3_event": "fill_recorded", "way3_dose_moved_percent": 10},
    )
    assert list(answer.context["form"].errors) == ["way3_dose_moved_percent"]


# --- ended and begun again ----------------------------------------------------------------------


@pytest.fixture
def standing(lead):
    rule = make_rule(
        "x1",
        event="visit_closed",
        filter={"job_kind": "service"},
        recurrence={"every_days": 30},
        closing_parameters={"job_kinds": ["recheck"]},
    )
    train = make_train(stages=("softener",))
    worked(train, lead, at=noon_of_today() - 14 * DAY)
    return rule, train


def ended(client, rule, **fields):
    sent = filled(client, "rule-end", rule) | {"reason": "no longer offered"} | fields
    return client.post(reverse("rule-end", args=[rule.pk]), sent)


def test_a_rule_ends_and_what_stands_is_kept_once_more(owner_client, lead, standing):
    rule, train = standing
    assert (
        "1 open, 0 booked" in owner_client.get(reverse("rule-end", args=[rule.pk])).content.decode()
    )
    assert ended(owner_client, rule).status_code == 302
    worked(make_train(stages=("softener",)), lead)
    assert FollowUp.objects.get().status == "open"
    worked(train, lead, "recheck", at=noon_of_today() - DAY)
    assert FollowUp.objects.get().status == "done"


def test_a_rule_ends_and_what_is_open_is_given_up_with_the_reason(owner_client, standing):
    rule, _ = standing
    ended(owner_client, rule, standing="give_up")
    promise = FollowUp.objects.get()
    assert (promise.status, promise.ended_reason) == ("waived", "rule ended: no longer offered")


def test_it_begins_again_for_what_happens_from_then_on(owner_client, lead, standing):
    rule, _ = standing
    ended(owner_client, rule, standing="give_up")
    assert ended(owner_client, rule).status_code == 302
    worked(make_train(stages=("softener",)), lead, at=noon_of_today() - DAY)
    assert FollowUp.objects.alive().count() == 1


def test_an_ending_says_why(owner_client, standing):
    answer = ended(owner_client, standing[0], reason="no")
    assert list(answer.context["form"].errors) == ["reason"]


# --- events of before ---------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_visits_in_flight_can_be_tried_on_after_the_update(lead):
    job = worked(make_train(stages=("softener",)), lead, at=noon_of_today() - 10 * DAY)
    before = Happening.objects.get(event="visit_closed")
    with migrated("jobs", "0038_acts_of_technicians"):
        pass
    after = Happening.objects.get(event="visit_closed")
    assert (after.facts, after.day, after.visit) == (before.facts, before.day, before.visit)
    assert after.site == job.site
