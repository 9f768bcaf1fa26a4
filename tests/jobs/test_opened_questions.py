"""A question that an answer opens is asked before the record goes on, with script and without."""

import re

import pytest
from django.urls import reverse

from jobs.models import Answer
from tests.conftest import signed_in
from tests.record_scenes import answer, make_house

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    record, _, lead = make_house()
    return record, lead, signed_in(lead)


def page(record, block):
    return reverse("record-block", args=[record.pk, block])


def asked_on(html):
    """Every key the page says it asked, as a browser would send it back."""
    return re.findall(r'name="asked" value="([^"]*)"', html)


def go_on(client, record, block, **typed):
    """Read the page, type, press "Next"; the page the person reads then."""
    asked = asked_on(client.get(page(record, block)).content.decode())
    return client.post(page(record, block), {"asked": asked, **typed}, follow=True)


def where(answered):
    return answered.redirect_chain[-1][0].partition("#")[0]


def test_new_joints_ask_for_the_pressure_before_the_record_goes_on(house):
    record, _, client = house
    answered = go_on(client, record, "hold", **{"hold-piping": "yes"})
    html = answered.content.decode()
    assert answered.redirect_chain[-1][0] == page(record, "hold") + "#w-hold-start"
    assert "Your answer asks for more: Pressure at the start." in html
    assert {"hold-start", "hold-end", "hold-minutes"} <= set(asked_on(html))
    assert where(go_on(client, record, "hold", **{"hold-piping": "yes"})) == page(
        record, "disinfect"
    ), "asked and left open, it goes on"


def test_nothing_new_goes_on_at_once(house):
    record, _, client = house
    answered = go_on(client, record, "hold", **{"hold-piping": "no"})
    assert where(answered) == page(record, "disinfect")


def test_a_disinfection_here_opens_its_wait_and_then_its_heater(house):
    record, _, client = house
    begun = go_on(client, record, "disinfect", **{"disinfect-scope": "here"})
    assert where(begun) == page(record, "disinfect")
    assert "Contact time" in begun.content.decode()
    heater = go_on(client, record, "disinfect", heater="treated")
    assert heater.redirect_chain[-1][0] == page(record, "disinfect") + "#w-heater-volume"
    assert where(go_on(client, record, "disinfect")) == page(record, "flush")


def test_what_the_line_saved_by_script_opened_stands_on_the_page_at_once(house):
    record, _, client = house
    asked = asked_on(client.get(page(record, "hold")).content.decode())
    sent = {"item": "hold-piping", "hold-piping": "yes", "asked": asked}
    html = client.post(reverse("record-answer", args=[record.pk]), sent).content.decode()
    assert re.findall(r'hx-swap-oob="(after[^"]*)"', html) == [
        "afterend:#w-hold-piping",
        "afterend:#w-hold-start",
        "afterend:#w-hold-end",
    ]
    assert 'name="hold-minutes"' in html
    sent |= {"hold-piping": "no", "asked": [*asked, *asked_on(html)]}
    html = client.post(reverse("record-answer", args=[record.pk]), sent).content.decode()
    assert "delete:[data-key='hold-start']" in html
    assert asked_on(html) == []


def test_the_stop_and_the_wait_come_with_the_answer_that_opens_them(house):
    record, _, client = house
    asked = asked_on(client.get(page(record, "disinfect")).content.decode())
    sent = {"item": "disinfect-scope", "disinfect-scope": "here", "asked": asked}
    html = client.post(reverse("record-answer", args=[record.pk]), sent).content.decode()
    above = html.split('id="above" hx-swap-oob')[1]
    assert "nobody uses this water from now on" in above
    assert reverse("record-pour", args=[record.pk]) in above


def test_a_line_that_a_lost_page_never_showed_is_asked(house):
    """The line was saved by script and its answer never came back: the page is as it was."""
    record, lead, client = house
    asked = asked_on(client.get(page(record, "hold")).content.decode())
    answer(record, lead, "hold-piping", "yes")
    sent = {"hold-piping": "yes", "asked": asked}
    answered = client.post(page(record, "hold"), sent, follow=True)
    assert where(answered) == page(record, "hold")


def test_a_later_answer_that_asks_more_of_an_earlier_page_leads_back_there(house):
    """The well pump gives 5 gpm: then 9 gpm of wash has to be explained.

    An older start-up asks the flow of the pump as late as the dial-back.
    """
    record, lead, client = house
    lines = record.template.lines
    late = lines.get(key="tap-flow")
    lines.filter(key="pump-flow").update(block=late.block, position=late.position)
    part = next(s for s in record.train.stages.all() if s.kind == "filter")
    answer(record, lead, "backwash-flow", "9", stage=part)
    pump = {"pump-flow": "5", "pump-flow~unit": "gpm"}
    answered = go_on(client, record, "dial-back", **pump)
    assert Answer.objects.get(line_key="pump-flow").text == "5"
    assert where(answered) == page(record, "backwash")
    assert "how was the flow of the backwash" in answered.content.decode()


def test_what_was_answered_before_is_not_asked_again(house):
    """The joints were tested, taken for old ones by a slip, and are new ones after all."""
    record, lead, client = house
    for key, text in (("hold-piping", "yes"), ("hold-start", "60"), ("hold-minutes", "15")):
        answer(record, lead, key, text)
    answer(record, lead, "hold-end", "60")
    answer(record, lead, "hold-piping", "no")
    asked = asked_on(client.get(page(record, "hold")).content.decode())
    assert "hold-start" not in " ".join(asked)
    answered = go_on(client, record, "hold", **{"hold-piping": "yes"})
    assert where(answered) == page(record, "disinfect")


def test_what_a_later_page_will_ask_is_left_to_that_page(house):
    """A disinfection here opens the readings after flushing, which stand on the next page."""
    record, _, client = house
    go_on(client, record, "disinfect", **{"disinfect-scope": "here"})
    answered = go_on(client, record, "hold", **{"hold-piping": "no"})
    assert where(answered) == page(record, "disinfect")
    assert "asks for more" not in answered.content.decode()
