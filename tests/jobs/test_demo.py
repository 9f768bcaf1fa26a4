"""The demo: one load at a fixed moment, and what must hold of it."""

import re
from collections import Counter
from datetime import UTC, datetime, timedelta
from io import StringIO
from itertools import pairwise

import pytest
from django.apps import apps
from django.contrib.auth.models import User
from django.core.management import call_command
from django.db import models, transaction
from django.db.models import Q
from django.urls import reverse

from equipment.models import (
    Fill,
    Measurement,
    Sample,
    SettingChange,
    SpecialUse,
    Stage,
    StoredAssessment,
    Train,
    Well,
)
from jobs.access import roles_of
from jobs.models import (
    FACTS_TOLD,
    Act,
    ChecklistRecord,
    Company,
    Customer,
    DialStep,
    DoNotUse,
    FollowUp,
    FollowUpRule,
    Happening,
    HeldByTreatment,
    Job,
    LineEdit,
    LossFact,
    OutboxMail,
    Photo,
    RecordCorrection,
    SiteTenure,
    StaffProfile,
    TechnicianSlot,
    Visit,
    VisitRequest,
)
from jobs.models.company import company_day
from jobs.models.notice_told import untold_notices
from jobs.pages.visit_calls import visits_to_call
from jobs.records.loading import load_facts
from jobs.schedule.working_days import is_working_day
from tests.conftest import signed_in
from tests.jobs.fieldwork.test_without_django import differences
from tests.jobs.phone.unpacked import differing as same_html
from tests.jobs.phone.unpacked import unpack

#: a Wednesday, 13:30 in the company's zone (Eastern daylight time)
NOW = datetime(2026, 6, 10, 17, 30, tzinfo=UTC)
TODAY = company_day(NOW)


@pytest.fixture(scope="module")
def _loaded(django_db_setup, django_db_blocker):
    """One load for all tests of this module; each test runs inside it and is undone."""
    with django_db_blocker.unblock(), transaction.atomic():
        for command in ("load_catalog", "load_rules", "load_checklists"):
            call_command(command, stdout=StringIO())
        call_command("load_demo", "--now", NOW.isoformat(), stdout=StringIO())
        yield
        transaction.set_rollback(True)


@pytest.fixture
def demo(_loaded, db):
    return None


pytestmark = pytest.mark.usefixtures("demo")


# --- what is there ---------------------------------------------------------------------------


def test_people_have_their_roles():
    held = Counter(role for user in User.objects.all() for role in roles_of(user))
    # the owner minds the office too
    assert held == {"technician": 4, "dispatcher": 3, "owner": 1}
    assert StaffProfile.objects.filter(unit_system="metric", user__groups__name="technician")


def test_counts_of_houses_and_work():
    oldest = Job.objects.order_by("opened_at").first().opened_at
    assert Customer.objects.count() >= 12
    assert Well.objects.count() >= 10
    assert Job.objects.count() >= 60
    assert NOW - timedelta(days=30 * 20) < oldest < NOW - timedelta(days=30 * 17)


def test_systems_of_several_kinds():
    kinds = {
        tuple(train.stages.fitted().values_list("kind", flat=True)) for train in Train.objects.all()
    }
    assert {
        ("feeder", "retention", "filter", "softener"),
        ("feeder", "retention", "filter"),
        ("softener",),
        ("cartridge", "neutralizer", "uv"),
    } <= kinds
    fed = Stage.objects.filter(kind="feeder").values_list("product__oxidant", flat=True)
    assert set(fed) == {"peroxide", "chlorine"}
    assert Train.objects.standing().filter(is_inherited=True).count() == 2
    gone = Train.objects.exclude(removed_on=None).get()
    assert not gone.stages.fitted().exists()
    assert gone.site.trains.standing().count() == 1
    assert Stage.objects.filter(parallel_count__gt=1).exists()


def test_readings_settings_and_fills():
    assert Measurement.objects.filter(comparator="<").count() > 20
    assert SettingChange.objects.filter(name="output_percent", old_value__isnull=False).exists()
    assert set(Fill.objects.values_list("filled_by", flat=True)) == {"company", "customer"}
    assert StoredAssessment.objects.filter(name="feed-setting").exists()
    assert SpecialUse.objects.filter(kind="dialysis", told_at=None).exists()


def test_phones_told_later_what_could_not_be_applied():
    told = {row.answer.state: row.answer for row in Act.objects.waiting()}
    assert told["refused"].record.closed_at < told["refused"].at
    assert told["look"].told["mine"]["text"] == "7.4"


def test_one_house_was_sold_and_nobody_was_met_once():
    gone = {row.site_id for row in LossFact.objects.filter(how=LossFact.How.CUSTOMER_GONE)}
    site = SiteTenure.objects.exclude(site__in=gone).get(until_on__isnull=False).site
    assert SiteTenure.objects.filter(site=site, until_on=None)
    assert Visit.objects.filter(outcome="no_access").count() == 1


def test_notices_and_samples():
    open_ones = DoNotUse.objects.standing().values_list("level", flat=True)
    assert sorted(open_ones) == ["no_drinking"] * 3 + ["sample_pending"]
    assert Sample.objects.filter(outcome="waiting").count() == 1
    held = HeldByTreatment.objects.standing().get()
    assert held.notice.well.kind == "spring"
    assert Visit.objects.get(job__site=held.site, waits=None).customer_confirmed_at < NOW
    assert untold_notices().get().cause == "flood"  # a neighbour told of it
    shared = DoNotUse.objects.standing().exclude(pk=held.notice_id).get(cause="coliform")
    assert len(shared.houses) == 2
    for back in DoNotUse.objects.exclude(taken_back_why=""):
        assert back.told.get(is_taken_back=True).whom == "Ansel Marlpit"


def test_what_the_owner_changed_and_a_record_that_was_put_right():
    own = FollowUpRule.objects.filter(code__startswith="c").order_by("code")
    assert [rule.is_active for rule in own] == [False, True]
    changed, added = LineEdit.objects.order_by("pk")
    assert changed.changes["hint"].startswith("In their own words")
    assert added.own["label"].startswith("New people in the house")
    versions = RecordCorrection.objects.order_by("line_key")
    assert [(row.line_key, row.step) for row in versions] == [
        ("contact", None),
        ("contact", None),
        ("pour-told", None),
        ("steps", 2),
        ("tap-ph", None),
    ]
    assert Photo.objects.get(removed_at__isnull=False).removed_by.username == "marit"


# --- promises --------------------------------------------------------------------------------


def test_every_promise_has_a_reason_and_an_event():
    for row in FollowUp.objects.select_related("rule"):
        assert row.reason.strip()
        assert "{day}" not in row.reason
        assert row.site_id


def test_two_rechecks_are_overdue_and_nothing_else():
    late = FollowUp.objects.overdue_on(TODAY).select_related("rule")
    assert [row.rule.code for row in late] == ["f1", "f1"]
    assert all(row.status == FollowUp.Status.OPEN for row in late)


def test_one_recheck_is_due_this_week_and_not_booked():
    week = FollowUp.objects.open().filter(
        rule__code="f1", due_on__range=(TODAY, TODAY + timedelta(days=7))
    )
    assert week.count() == 1
    assert FollowUp.objects.filter(rule__code="f1", status="booked", visit__starts_at__gt=NOW)


def test_rechecks_only_where_something_is_fed():
    trains = FollowUp.objects.filter(rule__code="f1").values("train")
    assert not Train.objects.filter(pk__in=trains).exclude(stages__kind="feeder").exists()


def test_kept_promises_were_kept_by_work():
    kept = FollowUp.objects.filter(rule__code="f1", status="done")
    assert kept.count() >= 8
    assert all(row.visit.job.kind == Job.Kind.RECHECK for row in kept.select_related("visit__job"))


# --- visits ----------------------------------------------------------------------------------


def test_nobody_is_at_two_places():
    for user in User.objects.all():
        visits = Visit.objects.standing().of_technician(user).order_by("starts_at")
        assert all(one.ends_at <= next_one.starts_at for one, next_one in pairwise(visits))


def test_visits_to_come_hold_their_time():
    for visit in Visit.objects.to_come().filter(starts_at__gt=NOW):
        assert TechnicianSlot.objects.filter(visit=visit).exists()


def test_visits_stand_on_working_days():
    days = {company_day(visit.starts_at) for visit in Visit.objects.all()}
    assert all(is_working_day(day) or day == TODAY for day in days)


def test_everybody_has_work_today_and_this_week():
    technicians = User.objects.filter(groups__name="technician")
    for user in technicians:
        visits = Visit.objects.standing().of_technician(user)
        assert visits.on_day(TODAY).exists()
        assert visits.filter(starts_at__gt=NOW, starts_at__lt=NOW + timedelta(days=7)).exists()


def test_nothing_happened_after_now():
    assert not Visit.objects.filter(Q(closed_at__gt=NOW) | Q(arrived_at__gt=NOW)).exists()
    assert not Visit.objects.filter(status="confirmed", ends_at__lt=NOW).exists()
    assert not Measurement.objects.filter(Q(measured_at__gt=NOW) | Q(recorded_at__gt=NOW)).exists()
    assert not OutboxMail.objects.filter(created_at__gt=NOW).exists()


def test_one_start_up_is_under_way_at_the_dial_back():
    record = ChecklistRecord.objects.open().get(template__purpose="startup")
    visit = record.job.visits.on_day(TODAY).get()
    assert visit.status == Visit.Status.ON_SITE
    answered = set(record.answers.values_list("line_key", flat=True))
    assert {"isolated", "flush-low", "backwash-flow", "stop-second", "tap-flow"} <= answered
    assert not answered & {"tap-iron", "handover-name"}
    first = record.steps.get(number=1)
    assert first.turnovers >= 3
    assert not record.steps.filter(is_final=True).exists()


# --- mail ------------------------------------------------------------------------------------


def test_no_letter_waits_beyond_its_use():
    queued = OutboxMail.objects.filter(state="queued")
    assert queued.exists()
    assert not queued.filter(useful_until__lte=NOW).exists()
    assert {company_day(mail.not_before) for mail in queued} <= {TODAY, TODAY + timedelta(days=1)}


def test_one_letter_is_in_doubt_and_one_mailbox_is_not_known(clock):
    clock(NOW)
    other = OutboxMail.objects.exclude(state__in=("queued", "skipped")).order_by("state")
    said = {mail.state: mail.customer for mail in other}
    assert {state: str(who) for state, who in said.items()} == {
        "dead": "Isaura Teaselby",
        "unknown": "Copperfen Farm",
    }
    assert said["dead"].mail_state == Customer.MailState.REFUSED
    page = signed_in(User.objects.get(username="marit")).get("/messages/").content.decode()
    assert "2 messages need somebody" in " ".join(page.split())


def test_a_start_up_was_left_for_the_day_and_its_recheck_is_booked(clock):
    """Left on Tuesday 9 June 2026: two working days later is Thursday."""
    clock(NOW)
    (step,) = DialStep.objects.exclude(left_because="")
    promise = FollowUp.objects.alive().get(site=step.record.site, rule__code="f1")
    assert (promise.due_on.isoformat(), promise.status) == ("2026-06-11", "booked")
    client = signed_in(User.objects.get(username="marit"))
    page = client.get(reverse("record-print", args=[step.record_id])).content.decode()
    assert "4 settings were tried, as many as one visit should take" in " ".join(page.split())


# --- nothing real ----------------------------------------------------------------------------


def texts():
    """Every text in every row of our own tables, with where it stands."""
    for label in ("equipment", "jobs"):
        for model in apps.get_app_config(label).get_models():
            fields = [
                f.attname
                for f in model._meta.concrete_fields
                if isinstance(f, models.CharField | models.TextField)
            ]
            for row in model.objects.values_list(*fields) if fields else ():
                yield from ((model.__name__, str(text)) for text in row if text)


def test_telephones_and_addresses_of_mail_are_made_up():
    numbers = [str(profile.phone) for profile in StaffProfile.objects.all()]
    numbers += [str(n) for c in Customer.objects.all() for n in (c.phone, c.phone_2) if n]
    company = Company.load()
    numbers += [company.phone, company.emergency_phone, company.poison_phone]
    assert all(re.search(r"555-?01\d\d$", number) for number in numbers)
    addresses = {user.email for user in User.objects.all()}
    for place, text in texts():
        addresses |= set(re.findall(r"[\w.+-]+@[\w.-]+", text)) if place != "OutboxMail" else set()
    addresses |= set(OutboxMail.objects.values_list("recipient", flat=True))
    assert all(address.endswith("@example.com") for address in addresses)


def test_every_event_of_the_list_happens_and_is_told_as_rules_may_ask():
    told = {event: set() for event in FACTS_TOLD}
    for row in Happening.objects.all():
        told[row.event] |= set(row.facts)
    assert {row.event for row in Happening.objects.all()} == set(FollowUpRule.Event.values)
    assert told == {event: set(names) - {"stage_kind"} for event, names in FACTS_TOLD.items()}


def test_no_leftovers_in_the_texts():
    leftovers = re.compile(r"https?://|\bTODO\b|lorem|\bxxx\b|\{\w+\}", re.IGNORECASE)
    found = [
        (place, text)
        for place, text in texts()
        if leftovers.search(text)
        and not place.endswith(("FollowUpRule", "RuleVersion"))  # rules name {day}
    ]
    assert found == []


# --- records without Django ---------------------------------------------------------------------


def test_every_record_says_the_same_from_json_where_there_is_no_django(demo):
    rows = [
        (NOW, load_facts(record, now=NOW))
        for record in ChecklistRecord.objects.select_related("site", "train", "template", "job")
    ]
    sheets, lines, panels, differing = differences(rows)
    print(f"{sheets} sheets, {lines} lines, {panels} panels, {len(differing)} differences")
    assert differing == []
    assert sheets > 20


def test_every_record_is_the_same_html_on_a_phone(demo, tmp_path):
    records = ChecklistRecord.objects.select_related("site", "train", "template", "job")
    rows = [(NOW, load_facts(record, now=NOW)) for record in records]
    pieces, different = same_html(unpack(tmp_path), rows)
    assert different == []
    assert pieces > 100 * len(rows) > 2000


def test_a_few_customers_are_not_told_yet_and_the_others_were_telephoned():
    ahead = Visit.objects.to_come().filter(starts_at__gt=NOW)
    told = ahead.filter(tellings__how="telephone").distinct()
    assert told.count() >= 4
    rows = visits_to_call(NOW)
    assert 1 <= sum(row.untold for row in rows) <= 5
    assert any(row.going_on for row in rows)


def test_a_customer_asks_for_another_time_another_for_none_and_both_wait_for_a_call():
    move, cancel = VisitRequest.objects.open().order_by("pk")
    assert move.said.startswith("asks for another time: After four")
    assert cancel.said.startswith("asks to cancel")
    assert min(move.visit.starts_at, cancel.visit.starts_at) > NOW
