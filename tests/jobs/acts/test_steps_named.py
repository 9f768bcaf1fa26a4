"""A step of the dial-back is named by the act that made it, not by its number alone."""

from datetime import datetime
from uuid import uuid4

import pytest

from jobs.fieldwork.laid_acts import with_acts
from jobs.fieldwork.laid_over import Person
from jobs.models import DialStep
from jobs.records.loading import load_facts
from tests.conftest import NOW
from tests.migrating import migrated
from tests.record_scenes import answer, answer_all

from .phone import LATER, MINUTE, Phone

pytestmark = pytest.mark.django_db


def test_steps_that_two_phones_counted_alike_are_not_mixed_up(phone):
    """Both phones call theirs step 1; each reading goes to the step that its own phone set."""
    answer(phone.record, phone.user, "disinfect-scope", "not_needed")
    other = Phone(phone.user, phone.record, phone.visit)
    mine = phone.act("step-set", setting_percent="20", at=NOW + MINUTE)
    seen = {"look": "clear", "band": "5-10", "number": 1}
    read_mine = phone.act("step-read", at=NOW + 40 * MINUTE, step=mine["uuid"], **seen)
    theirs = other.act("step-set", setting_percent="30", at=NOW + 50 * MINUTE)
    seen |= {"band": "25-50"}
    read_theirs = other.act("step-read", at=NOW + 90 * MINUTE, step=theirs["uuid"], **seen)
    told = [phone.send(act).json() for act in (mine, read_mine, theirs, read_theirs)]
    assert [said["state"] for said in told] == ["kept"] * 4
    read = phone.record.steps.values_list("setting_percent", "residual_low_mg_l", "made_by")
    assert [(percent, low, str(name)) for percent, low, name in read] == [
        (20, 5, mine["uuid"]),
        (30, 25, theirs["uuid"]),
    ]
    out = {"number": 1, "step": theirs["uuid"], "reason": "tap shut"}
    assert other.tell("step-skip", at=NOW + 91 * MINUTE, **out)["step"] == 2


def test_one_setting_told_by_two_phones_is_one_step_under_both_names(phone):
    answer(phone.record, phone.user, "disinfect-scope", "not_needed")
    other = Phone(phone.user, phone.record, phone.visit)
    phone.tell("step-set", setting_percent="20", at=NOW + MINUTE)
    again = other.tell("step-set", setting_percent="20", at=NOW + 2 * MINUTE)
    seen = {"look": "clear", "band": "5-10", "number": 7}
    read = other.tell("step-read", at=NOW + 60 * MINUTE, step=again["uuid"], **seen)
    assert (read["state"], read["step"], phone.record.steps.count()) == ("kept", 1, 1)


def test_a_step_that_was_not_kept_is_read_by_nothing(phone):
    answer(phone.record, phone.user, "disinfect-scope", "not_needed")
    phone.tell("step-set", setting_percent="20", at=NOW + MINUTE)
    refused = phone.tell("step-set", setting_percent="30", at=NOW + 2 * MINUTE)
    seen = {"look": "clear", "band": "5-10", "number": 1}
    for step in (refused["uuid"], str(uuid4()), "step one"):
        said = phone.tell("step-read", at=NOW + 60 * MINUTE, step=step, **seen)
        assert said["state"] == "refused"
    assert phone.record.steps.get().read_at is None
    of_older_pages = phone.tell("step-read", at=NOW + 60 * MINUTE, **seen)
    assert (of_older_pages["state"], of_older_pages["step"]) == ("kept", 1)


def test_a_reading_is_put_right_by_who_says_so_and_not_by_a_second_reading(phone):
    answer(phone.record, phone.user, "disinfect-scope", "not_needed")
    answer_all(phone.record, phone.user, without=("steps",))
    set_at = phone.act("step-set", setting_percent="20", at=NOW + MINUTE)
    seen = {"look": "clear", "band": "25-50", "number": 1, "step": set_at["uuid"]}
    phone.send(set_at)
    phone.tell("step-read", at=NOW + 120 * MINUTE, **seen)
    other = Phone(phone.user, phone.record, phone.visit)
    seen |= {"band": "5-10"}
    assert other.tell("step-read", at=NOW + 121 * MINUTE, **seen)["state"] == "refused"
    again = phone.act("step-read", at=NOW + 122 * MINUTE, again="1", **seen)
    facts = load_facts(phone.record, now=LATER)
    by = Person(phone.user.get_full_name(), phone.user.pk)
    laid = with_acts(facts, [again], by=by, moment=datetime.fromisoformat).steps
    assert phone.send(again).json()["step"] == 2
    held = phone.record.steps.order_by("number")
    assert [(step.number, step.residual_low_mg_l, bool(step.doubt)) for step in held] == [
        (1, 25, True),
        (2, 5, False),
    ]
    assert [(step.number, step.residual_low_mg_l, bool(step.doubt)) for step in laid] == [
        (1, 25, True),
        (2, 5, False),
    ]


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_a_step_that_was_set_before_the_update_has_its_name_after_it(phone):
    answer(phone.record, phone.user, "disinfect-scope", "not_needed")
    made = phone.tell("step-set", setting_percent="20", at=NOW + MINUTE)
    with migrated("jobs", "0063_told_as_they_were"):
        pass
    assert str(DialStep.objects.get().made_by) == made["uuid"]
