"""Where the brine goes is asked, and what the state of the house says of it stands beside.

Massachusetts bars brine from septic systems (MassDEP, Title 5); Texas sets a condition (30 TAC
285.37): both as read by the references of the work.
"""

import html
import re

import pytest
from django.urls import reverse

from jobs.records.loading import load_sheet
from jobs.workflows.answers import override_gate
from tests.conftest import NOW, signed_in
from tests.factories import make_train
from tests.forms import filled
from tests.record_scenes import answer, make_house

pytestmark = pytest.mark.django_db


def house(region):
    """A start-up of a softener in that state."""
    train = make_train(stages=("softener",))
    train.site.region = region
    train.site.save()
    record, _, lead = make_house(train=train)
    return record, lead, train.stages.get(kind="softener")


def page(record, lead):
    shown = signed_in(lead).get(reverse("record-block", args=[record.pk, "brine"]))
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", shown.content.decode())).split())


def led(record, lead, softener, where):
    answer(record, lead, "brine-drain", where, stage=softener)
    return load_sheet(record, now=NOW).item("brine-drain")


@pytest.mark.parametrize("region", ["Massachusetts", "MA", "massachusetts "])
def test_where_a_state_bars_it_a_septic_system_does_not_pass(clock, region):
    record, lead, softener = house(region)
    assert "Massachusetts: brine of a softener must not go into a septic system" in page(
        record, lead
    )
    item = led(record, lead, softener, "septic")
    assert item.state == "failed"
    assert "MassDEP, Title 5" in item.sentence
    assert "brine-drain" in "".join(row.key for row in load_sheet(record, now=NOW).missing())
    assert "Does not pass: Massachusetts" in page(record, lead)
    for elsewhere in ("sewer", "dry_well", "outdoors"):
        assert led(record, lead, softener, elsewhere).state == "passed"


def test_a_named_person_may_know_better(clock):
    record, lead, softener = house("Massachusetts")
    led(record, lead, softener, "septic")
    reason = "holding tank, the board of health has agreed"
    override_gate(record=record, line_key="brine-drain", reason=reason, by=lead, now=NOW)
    item = load_sheet(record, now=NOW).item("brine-drain")
    assert (item.state, reason in item.sentence) == ("overridden", True)


@pytest.mark.parametrize("region", ["Texas", "TX"])
def test_a_condition_of_a_state_is_shown_and_the_answer_stands(clock, region):
    record, lead, softener = house(region)
    said = page(record, lead)
    assert "only where regeneration is started by a meter" in said
    assert "30 TAC 285.37" in said
    assert led(record, lead, softener, "septic").state == "passed"


@pytest.mark.parametrize(
    ("region", "said"),
    [
        ("Vermont", "Vermont: no rule is on file here."),
        ("", "The state of this house is not on file"),
    ],
)
def test_a_state_without_a_row_asks_the_county(clock, region, said):
    record, lead, softener = house(region)
    shown = page(record, lead)
    assert said in shown
    assert "Ask the county before septic system or ground." in shown
    assert led(record, lead, softener, "septic").state == "passed"


def test_a_start_up_does_not_close_before_it_is_said(clock):
    record, lead, softener = house("Vermont")
    keys = [row.key for row in load_sheet(record, now=NOW).missing()]
    assert f"brine-drain.{softener.pk}" in keys


def test_what_the_company_knows_of_its_county_stands_below_the_question(clock, owner_client):
    """The owner writes it on the page of the line; the rule of the state stands as it is."""
    record, lead, _ = house("Massachusetts")
    template, own = record.template, "Our county wants a dry well, 10 ft from the house."
    sent = filled(owner_client, "template-line", template, "brine-drain") | {"hint": own}
    owner_client.post(reverse("template-line", args=[template.pk, "brine-drain"]), sent)
    newer, lead, _ = house("Massachusetts")
    said = page(newer, lead)
    assert own in said
    assert "Massachusetts: brine of a softener must not go into a septic system" in said
