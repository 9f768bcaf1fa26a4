"""The letter of a closed record: each of its sentences stands against rows of the database."""

from datetime import timedelta

import pytest
from django.core.management import call_command

from equipment.models import Sample, Stage
from jobs.fieldwork.cautions import DEFERS
from jobs.mail.about import record_summary
from jobs.mail.words import HOUSEHOLD_CAUTIONS, PURPOSES
from jobs.models import DoNotUse, FollowUp, Job, OutboxMail
from jobs.schedule.hours import day_words, zone_of
from jobs.workflows.corrections import Right, correct_record
from jobs.workflows.records import close_record
from jobs.workflows.timers import start_timer
from tests import closings
from tests.acts import HOUR, bottled, lifted, poured, sampled
from tests.conftest import NOW
from tests.factories import make_train
from tests.jobs.mail.letters import html_of, opened, text_of
from tests.record_scenes import (
    acknowledge_all,
    answer,
    answer_all,
    make_house,
    make_ready,
    read_final_step,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def rules(db):
    call_command("load_rules", verbosity=0)


def disinfected_start_up():
    """The usual peroxide house with chlorine in it, flushed the day after, and closed."""
    record, visit, lead = make_house()
    answer_all(record, lead, answers={"disinfect-scope": "here"}, without=("steps", "contact"))
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    later = NOW + 13 * HOUR
    for key, text in (("flush-high", "0"), ("flush-low", "0.1"), ("flush-hot", "0.1")):
        answer(record, lead, key, text, now=later)
        later += timedelta(minutes=1)
    lifted(DoNotUse.objects.get(), lead, at=later)
    read_final_step(record, lead, now=later)
    acknowledge_all(record, lead)
    return close_record(record=record, visit=visit, by=lead, now=later + 5 * HOUR)


def plain_start_up():
    record, visit, lead = make_ready()
    return close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)


def softener_start_up():
    """No dosing pump in the house."""
    train = make_train(stages=("softener",))
    record, visit, lead = make_house(train=train)
    answer_all(record, lead)
    acknowledge_all(record, lead)
    return close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)


def survey():
    record, visit, lead = make_house(purpose="survey", kind=Job.Kind.SURVEY)
    answer_all(record, lead)
    acknowledge_all(record, lead)
    return close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)


CLOSINGS = {
    "plain": plain_start_up,
    "disinfected": disinfected_start_up,
    "softener": softener_start_up,
    "survey": survey,
}


def letter_of(record):
    mail = OutboxMail.objects.get(template="record_summary")
    return " ".join(text_of(mail).split()), html_of(mail)


def promised(record):
    """What the letter may say of what comes, from rows."""
    alive = FollowUp.objects.alive().filter(site=record.site).exclude(terms__job_kind="")
    rows = alive.order_by("due_on", "pk")
    said = [f"About {row.due_on:%B %-d, %Y}: {PURPOSES[row.terms.job_kind]}" for row in rows]
    return set(list(dict.fromkeys(said))[: record_summary.NEXT_SHOWN])


@pytest.mark.parametrize("how", CLOSINGS)
def test_each_sentence_of_the_letter_stands_against_rows(how):
    record = CLOSINGS[how]()
    text, html = letter_of(record)
    day = day_words(record.closed_at, zone_of(record.site))
    assert f"the record of our work of {day} at {record.site.street}, {record.site.town}" in text
    # of the dosing pump only where one is fitted
    has_pump = Stage.objects.fitted().filter(train=record.train_id, kind="feeder").exists()
    for caution in HOUSEHOLD_CAUTIONS[:-1]:
        assert (caution in text) is has_pump
    assert HOUSEHOLD_CAUTIONS[-1] in text
    assert DEFERS in text
    # what comes: no more and no less than is promised, four of them at most
    named = {line.strip(" -") for line in text_of_lines(record) if line.startswith("- About ")}
    assert named == promised(record)
    # notices: those that stand
    stands = DoNotUse.objects.standing().at_site(record.site).exists()
    assert ("DO NOT DRINK THE WATER YET" in text) is stands
    assert stands is (how == "disinfected")
    # a bottle is named only where a row has it
    waiting = Sample.objects.filter(site=record.site, outcome="waiting").exists()
    assert ("its result is not in yet" in text) is waiting
    assert "at the laboratory;" not in text
    assert ("do not drink" in html.lower()) is stands


def text_of_lines(record):
    return text_of(OutboxMail.objects.get(template="record_summary")).splitlines()


def test_after_chlorine_it_says_what_may_be_done_and_until_when():
    text, html = letter_of(disinfected_start_up())
    for sentence in (
        "Not for drinking, teeth, ice, infant formula or cooking.",
        "You may wash, bathe and do the laundry with it",
        "water that has boiled for one minute",
        "Until the samples that lift it are in and one of us tells an adult of the house by name.",
        "No bottle has been filled since that day.",
    ):
        assert sentence in text
        assert sentence in html


def test_a_bottle_is_named_with_its_day_and_tap_and_gone_with_its_result():
    record = disinfected_start_up()
    bottled(record.site, at=record.closed_at + DAY)
    text, _ = letter_of(record)
    day = day_words(record.closed_at + DAY, zone_of(record.site))
    assert f"A bottle was filled on {day}, 2026, raw tap, before any treatment" in text
    assert "No bottle has been filled" not in text


def test_a_result_that_lifts_nothing_leaves_no_bottle_at_the_laboratory():
    record = disinfected_start_up()
    sampled(record.site, "tap", at=record.closed_at + DAY)
    assert "No bottle is at the laboratory today." in letter_of(record)[0]


def test_a_record_put_right_before_its_letter_left_goes_out_as_it_was_put_right():
    record = plain_start_up()
    first = record.documents.get()
    right = Right("2", "read on the wrong scale", "mg/L")
    by, now = record.closed_by, NOW + 6 * HOUR
    correct_record(record=record, item_key="raw-iron", side="", right=right, by=by, now=now)
    newest = record.documents.exclude(pk=first.pk).get()
    (enclosed,) = opened(OutboxMail.objects.get(template="record_summary")).iter_attachments()
    assert enclosed.get_content() == bytes(newest.content)


def test_the_promise_that_this_visit_keeps_is_not_told_as_coming():
    """The record is closed while the visit goes on: the promise ends with the visit."""
    record, visit, lead, at = closings.recheck_under_way()
    close_record(record=record, visit=visit, by=lead, now=at + HOUR)
    kept = FollowUp.objects.open().get(site=record.site, rule__code="f1")
    mail = OutboxMail.objects.filter(template="record_summary").latest("created_at")
    text = " ".join(text_of(mail).split())
    assert "About " in text
    assert f"About {kept.due_on:%B %-d, %Y}:" not in text
