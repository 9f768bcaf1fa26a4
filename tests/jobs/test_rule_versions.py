"""A promise is kept, shown and mailed as it was made, whatever the rule says since."""

from datetime import timedelta

import pytest
from django.db import connection
from django.urls import reverse

from jobs.mail.about import due_work
from jobs.models import FollowUp, FollowUpRule, RuleVersion
from jobs.models.company import company_day
from jobs.schedule.working_days import add_working_days
from tests.acts import worked
from tests.conftest import NOW
from tests.factories import make_rule, make_staff, make_train
from tests.forms import filled
from tests.migrating import migrated

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def train():
    return make_train(stages=("softener",))


@pytest.fixture
def rule():
    return make_rule(
        "x1",
        name="Look at the valve",
        event="visit_closed",
        filter={"job_kind": "service"},
        closing_parameters={"job_kinds": ["recheck"]},
        harm=FollowUpRule.Harm.ANNUAL,
        minutes=60,
    )


def changed(client, rule, **fields):
    """The owner changes the rule on its page."""
    sent = filled(client, "rule-edit", rule) | fields
    answer = client.post(reverse("rule-edit", args=[rule.pk]), sent)
    assert answer.status_code == 302, answer.context["form"].errors


def test_a_promise_is_kept_by_what_it_was_made_for(owner_client, lead, train, rule):
    worked(train, lead)
    changed(owner_client, rule, job_kinds=["sample"], job_kind="sample")
    worked(train, lead, "recheck", at=NOW + 14 * DAY)
    assert FollowUp.objects.get().status == "done"


def test_a_promise_of_before_is_not_kept_by_what_is_asked_since(owner_client, lead, train, rule):
    worked(train, lead)
    changed(owner_client, rule, job_kinds=["sample"], job_kind="sample")
    worked(train, lead, "sample", at=NOW + 14 * DAY)
    assert FollowUp.objects.get().status == "open"


def test_what_is_promised_after_the_change_follows_it(owner_client, lead, train, rule):
    worked(train, lead)
    changed(owner_client, rule, offset_days=20, reason="The valve was greased on {day}.")
    worked(train, lead, at=NOW + DAY)
    first, second = FollowUp.objects.order_by("cycle")
    assert (first.terms.number, second.terms.number) == (1, 2)
    assert (second.due_on - company_day(NOW + DAY)).days == 20
    assert second.reason.startswith("The valve was greased on ")


def test_worklist_page_and_booking_read_what_was_promised(
    owner_client, dispatcher_client, lead, train, rule, clock
):
    worked(train, lead)
    changed(owner_client, rule, name="Valve", minutes=120, harm=FollowUpRule.Harm.OTHER.value)
    clock(NOW + 14 * DAY)
    groups = dispatcher_client.get(reverse("worklist")).context["groups"]
    (group,) = [group for group in groups if group.rows]
    assert group.rows[0].follow_up.terms.name == "Look at the valve"
    promise = FollowUp.objects.get()
    page = dispatcher_client.get(reverse("follow-up-detail", args=[promise.pk])).content.decode()
    assert "Look at the valve" in page
    assert "X1, version 1 of the rule" in page
    assert "changed since: name, time to book, place on the worklist" in page
    booking = dispatcher_client.get(reverse("follow-up-book", args=[promise.pk]))
    assert "Look at the valve" in booking.content.decode()
    house = dispatcher_client.get(reverse("site-detail", args=[train.site_id])).content.decode()
    assert "Look at the valve" in house


def test_a_letter_of_work_due_reads_what_was_promised(owner_client, lead, train, rule):
    worked(train, lead)
    changed(owner_client, rule, harm=FollowUpRule.Harm.NO_DRINKING.value)
    on = company_day(NOW)
    assert [row.terms.harm for row in due_work.due_soon(on=on)] == [FollowUpRule.Harm.ANNUAL]
    worked(train, lead, at=NOW + DAY)
    assert not due_work.due_soon(on=on).exists()


def test_the_next_cycle_is_a_promise_of_today(owner_client, lead, train, rule):
    changed(owner_client, rule, every_days=30)
    worked(train, lead)
    changed(owner_client, rule, every_days=90, reason="Greased on {day}.")
    worked(train, lead, "recheck", at=NOW + 14 * DAY)
    kept, again = FollowUp.objects.order_by("cycle")
    assert (kept.status, kept.terms.number) == ("done", 2)
    assert (again.terms.number, again.due_on) == (3, company_day(NOW + 104 * DAY))
    assert again.reason == f"Greased on {company_day(NOW + 14 * DAY):%-d %B %Y}."


def test_an_occasion_without_a_window_of_its_own_leaves_three_days(owner_client, lead, train, rule):
    """The window of the rule itself is of seven days."""
    changed(
        owner_client, rule, way1_event="visit_closed", way1_job_kind=["repair"], way1_working_days=2
    )
    worked(train, lead, "repair")
    promise = FollowUp.objects.get()
    assert promise.due_on == add_working_days(company_day(NOW), 2)
    assert (promise.window_until - promise.due_on).days == 3


@pytest.mark.parametrize(
    ("anchor", "until"),
    [
        ("event_day", NOW + (14 + 2) * DAY),
        ("working_days", NOW + 26 * DAY),  # Monday 6 July: a holiday and a weekend do not count
        ("run_end", NOW + (21 + 2) * DAY),  # three runs of a week
    ],
)
def test_an_occasion_with_a_window_of_its_own_ends_there(
    owner_client, lead, train, rule, anchor, until
):
    """Without working days too, whatever the due day is counted from; 10 June 2026: a Wednesday."""
    days = 14
    occasion = {"way1_event": "visit_closed", "way1_job_kind": ["repair"], "subject": "stage"}
    occasion |= {"way0_stage_kind": ["softener"], "way1_stage_kind": ["softener"]}
    changed(
        owner_client, rule, anchor=anchor, offset_days=days, **occasion, way1_window_after_days=2
    )
    assert (
        "then the window ends 2 days after that day"
        in owner_client.get(reverse("rule-edit", args=[rule.pk])).content.decode()
    )
    worked(train, lead, "repair")
    assert FollowUp.objects.get().window_until == company_day(until)
    worked(make_train(stages=("softener",)), lead, at=NOW + DAY)
    promise = FollowUp.objects.latest("pk")
    assert (promise.window_until - promise.due_on).days > 2  # the rule's own window of seven days


def test_the_rules_say_what_stands_under_which_version(owner_client, lead, train, rule):
    worked(train, lead)
    changed(owner_client, rule, offset_days=20)
    worked(make_train(stages=("softener",)), lead, at=NOW + DAY)
    (listed,) = owner_client.get(reverse("rules")).context["rules"]
    assert (listed.standing, listed.before) == (2, 1)
    page = owner_client.get(reverse("rule-edit", args=[rule.pk]))
    said = [(each.row.number, each.standing, each.changed) for each in page.context["versions"]]
    assert said == [(2, 1, ("days until it is due",)), (1, 1, ())]


def test_only_a_change_is_a_new_version(owner_client, rule):
    changed(owner_client, rule)
    rule.refresh_from_db()
    rule.is_active = False
    rule.save()
    assert [version.number for version in rule.versions.all()] == [1]


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_promises_in_flight_get_the_version_that_stands_then(owner_client, lead, train, rule):
    worked(train, lead)
    changed(owner_client, rule, minutes=45)
    with (
        migrated("jobs", "0031_figures_on_file_stand_for_an_answer"),
        connection.cursor() as cursor,
    ):
        cursor.execute("SELECT count(*) FROM jobs_followup")
        assert cursor.fetchone() == (1,)
    promise = FollowUp.objects.get()
    assert (promise.terms.number, promise.terms.minutes) == (1, 45)
    rule.refresh_from_db()
    assert promise.terms.content() == rule.content()
    assert RuleVersion.objects.count() == FollowUpRule.objects.count()
