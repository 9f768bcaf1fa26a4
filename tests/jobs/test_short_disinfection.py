"""Chlorine that worked for too short, or was too weak, and was passed over by name: what follows.

Twelve hours at 50 to 200 mg/L: common practice of state health departments; the company's rows.
"""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from jobs.models import DoNotUse, FollowUp, Job
from jobs.workflows.answers import override_gate
from jobs.workflows.corrections import Right, correct_record
from jobs.workflows.records import close_record
from jobs.workflows.timers import start_timer, stop_timer
from jobs.workflows.way_out import WayOut
from tests.acts import HOUR, closed, lifted, poured
from tests.closings import peroxide
from tests.conftest import NOW, signed_in
from tests.factories import make_staff
from tests.jobs.test_customer_paper import VERDICTS, pages_of, printed
from tests.record_scenes import acknowledge_all, answer, answer_all, make_house

pytestmark = pytest.mark.django_db
COUNTS_NOT = "This does not count as a disinfection: the well is disinfected again"


@pytest.fixture(autouse=True)
def rules(clock):
    call_command("load_rules", verbosity=0)
    clock(NOW + 20 * HOUR)


def disinfected(*, flushed_h, stops=True, mixed="100", over=()):
    """Poured at 10:00, flushed so many hours later; what does not pass is passed over by name."""
    record, visit, lead = make_house(purpose="disinfect", kind=Job.Kind.DISINFECT)
    told = {"disinfect-scope": "here", "chlorine-mixed": mixed}
    flush = ("flush-high", "flush-low", "flush-hot")
    answer_all(record, lead, answers=told, without=("contact", *flush, *over))
    if "chlorine-mixed" in over:
        answer(record, lead, "chlorine-mixed", mixed)
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    later = NOW + flushed_h * HOUR
    if stops:
        stop_timer(record=record, line_key="contact", by=lead, now=later)
    for key, text in (("flush-high", "0"), ("flush-low", "0.1"), ("flush-hot", "0.1")):
        later += timedelta(minutes=1)
        answer(record, lead, key, text, now=later)
    out = WayOut(unplugged=True, bypass="bypassed")
    for key in over:
        said = {"line_key": key, "reason": "guests came", "way_out": out}
        override_gate(record=record, by=lead, now=later, **said)
    if "notice-state" not in over:
        lifted(DoNotUse.objects.get(level="no_use"), lead, at=NOW + 13 * HOUR)
    acknowledge_all(record, lead, now=later)
    record = close_record(record=record, visit=visit, by=lead, now=NOW + 14 * HOUR)
    return record, visit


def again():
    return FollowUp.objects.alive().filter(rule__code="f14")


@pytest.mark.parametrize("stops", [True, False])
def test_too_short_is_said_to_the_customer_and_promised_again(stops):
    """Also where nobody pressed that it was flushed: the taps were read."""
    also = [] if stops else ["notice-state"]
    record, visit = disinfected(flushed_h=2, stops=stops, over=["contact", *also])
    text = printed(record)
    over = "12:00 pm" if stops else "12:01 pm"
    assert (
        "Too short: chlorine stood in it from June 10, 2026, 10:00 am until June 10, 2026, "
        f"{over}, 2.0 h of the 12 h needed." in text
    )
    assert COUNTS_NOT in text
    assert not VERDICTS.search(text)
    assert "sample_pending" in DoNotUse.objects.standing().values_list("level", flat=True)
    assert "about June 12, 2026 to disinfect" in text
    closed(visit, at=NOW + 15 * HOUR, feeder="unplugged")
    promise = again().get()
    assert promise.terms.job_kind == "disinfect"
    office = signed_in(make_staff("dispatcher")).get(reverse("worklist")).content.decode()
    assert "the chlorine worked for too short" in office


def test_too_weak_is_said_with_what_was_asked_for():
    record, _ = disinfected(flushed_h=13, mixed="20", over=["chlorine-mixed"])
    text = printed(record)
    assert "20 mg/L at the hose, too weak: 100 mg/L at least is asked for." in text
    assert COUNTS_NOT in text
    assert "Too short" not in text
    assert again().exists()


def test_closed_while_the_chlorine_still_works_no_end_is_made_up():
    """Nobody noted when it was flushed out: also later it has not lasted long enough."""
    record, visit, lead = make_house(purpose="disinfect", kind=Job.Kind.DISINFECT)
    told = {"disinfect-scope": "here", "chlorine-left": "5"}
    over = ["contact", "flush-high", "flush-low", "flush-hot", "notice-state"]
    answer_all(record, lead, answers=told, without=over)
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    out = WayOut(unplugged=True, bypass="bypassed")
    for key in over:
        said = {"line_key": key, "reason": "called away", "way_out": out}
        override_gate(record=record, by=lead, now=NOW + HOUR, **said)
    acknowledge_all(record, lead, now=NOW + HOUR)
    close_record(record=record, visit=visit, by=lead, now=NOW + HOUR)
    text = printed(record)
    assert "12 h needed; when it was flushed out is not noted." in text
    assert "5 mg/L left at the end, less than 10 mg/L" in text
    assert COUNTS_NOT in text
    right = Right("2", "read on the wrong scale", "mg/L")
    said = {"record": record, "item_key": "chlorine-left", "side": "", "right": right}
    correct_record(**said, by=lead, now=NOW + 19 * HOUR)
    assert COUNTS_NOT in printed(record)


def test_strong_and_long_enough_says_nothing_of_it():
    record, _ = disinfected(flushed_h=13)
    text = printed(record)
    assert "Chlorine stood in it from June 10, 2026, 10:00 am until June 10, 2026, 11:00 pm" in text
    assert COUNTS_NOT not in text
    assert "too weak" not in text
    assert not again().exists()


def test_long_enough_after_all_is_promised_no_more():
    """A correction shows that the wrong button was pressed after two hours."""
    record, _ = disinfected(flushed_h=12.5, stops=True)
    where = reverse("record-correct", args=[record.pk]) + "?wait=contact"
    typed = {"started_at": "2026-06-10T20:00", "stopped_at": "2026-06-10T22:30", "reason": "late"}
    client = signed_in(record.closed_by)
    client.post(where, typed)
    assert again().exists()
    assert COUNTS_NOT in printed(record)
    client.post(where, typed | {"started_at": "2026-06-10T10:00"})
    assert not again().exists()
    assert COUNTS_NOT not in printed(record)


def test_three_corrections_leave_the_record_on_two_pages():
    record = peroxide()
    for figure in ("2", "2.2", "2.4"):
        correct_record(
            record=record,
            item_key="raw-iron",
            side="",
            right=Right(
                figure,
                "read on the wrong scale, and seen when the strip was held to the "
                "chart again by daylight beside the well",
                "mg/L",
            ),
            by=record.closed_by,
            now=NOW + 19 * HOUR,
        )
    _, pages = pages_of(bytes(record.documents.first().content))
    assert len(pages) == 2
    assert "Version 4. It replaces those before" in pages[0]
    assert "Not tested here" in pages[0]
    assert [pages[1].count(f"Version {n}, June") for n in (2, 3, 4)] == [1, 1, 1]
