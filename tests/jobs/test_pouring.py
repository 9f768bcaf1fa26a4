"""All told: pour. Who is asked and told before chlorine goes in, and what stands from then on."""

from datetime import timedelta

import pytest
from django.urls import reverse

from equipment.models import SpecialUse
from jobs.errors import BadEntry, DoNotUseOpen, WrongState
from jobs.models import DoNotUse, Job, PourTold
from jobs.workflows.answers import override_gate
from jobs.workflows.pouring import all_told
from jobs.workflows.records import close_record
from jobs.workflows.telling import Adult
from jobs.workflows.timers import start_timer, stop_timer
from jobs.workflows.way_out import WayOut
from tests.acts import HOUR, here, lifted, poured
from tests.conftest import NOW, signed_in
from tests.factories import make_customer, make_site, make_special_use, make_staff
from tests.record_scenes import acknowledge_all, answer, answer_all, make_house

pytestmark = pytest.mark.django_db
CALLED = Adult("M. Okafor", "telephone", "607-555-0143", read_back=True)


@pytest.fixture
def house():
    record, _, lead = make_house()
    answer(record, lead, "disinfect-scope", "here")
    return record, lead


@pytest.fixture
def neighbour(house):
    record, _ = house
    site = make_site(customer=make_customer(name="M. Okafor", phone="+16075550143"))
    record.train.wells.get().also_serves.add(site)
    return site


def page_of(client, record, **sent):
    where = reverse("record-pour", args=[record.pk])
    return client.post(where, sent) if sent else client.get(where)


def sent_of(own, neighbour):
    """What the boxes of the page say: told face to face here, by telephone next door."""
    return {
        **{f"told-{own.pk}": "C. Prudhomme", f"how-{own.pk}": "door", f"number-{own.pk}": ""},
        **{f"read_back-{own.pk}": "on", f"asked-{own.pk}": "on"},
        **{f"told-{neighbour.pk}": "M. Okafor", f"how-{neighbour.pk}": "telephone"},
        **{f"number-{neighbour.pk}": "607-555-0143", f"read_back-{neighbour.pk}": "on"},
        f"asked-{neighbour.pk}": "on",
    }


def text_of(answer):
    return " ".join(answer.content.decode().split())


def disinfect_page(client, record):
    return text_of(client.get(reverse("record-block", args=[record.pk, "disinfect"])))


def standing(site):
    return list(DoNotUse.objects.standing().at_site(site).values_list("level", "reason"))


def test_no_use_stands_from_the_pouring_on_and_a_stopped_wait_leaves_it(house):
    record, lead = house
    with pytest.raises(WrongState, match="All told: pour"):
        start_timer(record=record, line_key="contact", by=lead, now=NOW)
    assert standing(record.site) == []
    poured(record, lead)
    assert standing(record.site) == [("no_use", "chlorine in well and plumbing")]
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    stop_timer(record=record, line_key="contact", by=lead, now=NOW + HOUR)
    assert standing(record.site) == [("no_use", "chlorine in well and plumbing")]


def test_it_stops_at_every_house_on_the_well_and_each_lifts_by_its_own_taps(house, neighbour):
    record, lead = house
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    notice = DoNotUse.objects.get(site=neighbour)
    with pytest.raises(WrongState, match="working in this water"):
        lifted(notice, lead, at=NOW + 11 * HOUR)
    with pytest.raises(BadEntry, match="Flush on"):
        lifted(notice, lead, at=NOW + 12 * HOUR, hot=1)
    lifted(notice, lead, at=NOW + 12 * HOUR)
    assert standing(neighbour) == []
    assert [level for level, _ in standing(record.site)] == ["no_use"]


def test_next_door_is_not_lifted_before_the_contact_was_begun(house, neighbour):
    """Chlorine that has not reached its taps yet reads as none there."""
    record, lead = house
    poured(record, lead)
    notice = DoNotUse.objects.get(site=neighbour)
    office = signed_in(make_staff("dispatcher"))
    where = reverse("notice-lift", args=[notice.pk])
    page = office.post(where, {"high": "0", "cold": "0", "hot": "0"})
    assert "Chlorine is in this water" in page.content.decode()
    assert [level for level, _ in standing(neighbour)] == ["no_use"]
    late = NOW + HOUR
    answer(record, lead, "flush-high", "1", now=late)
    answer(record, lead, "flush-low", "0.1", now=late + timedelta(minutes=1))
    lifted(notice, lead, at=late + HOUR)
    assert standing(neighbour) == []


def test_chlorine_flushed_out_before_its_time_is_never_forbidden(house):
    """Stopped after an hour the disinfection is not done; the water may be used again."""
    record, lead = house
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    stop_timer(record=record, line_key="contact", by=lead, now=NOW + HOUR)
    late = NOW + 2 * HOUR
    answer(record, lead, "flush-high", "1", now=late)
    answer(record, lead, "flush-low", "0.1", now=late + timedelta(minutes=1))
    lifted(DoNotUse.objects.get(site=record.site), lead, at=late + HOUR)
    assert standing(record.site) == []


def test_the_page_asks_each_house_and_keeps_what_it_found(house, neighbour):
    record, lead = house
    client = signed_in(lead)
    html = page_of(client, record).content.decode()
    assert "tel:+1-607-555-0143" in html
    assert "home dialysis" in html
    for words in ("gives off poisonous gas", "never into a tee", "pails of water are drawn"):
        assert html.index(words) < html.index("All told: pour. Tess")
    sent = sent_of(record.site, neighbour)
    unasked = {name: said for name, said in sent.items() if not name.startswith("asked")}
    assert page_of(client, record, **unasked).status_code == 422
    sent[f"uses-{neighbour.pk}"] = ["aquarium"]
    assert page_of(client, record, **sent).status_code == 302
    assert SpecialUse.objects.get().site == neighbour
    assert [level for level, _ in standing(neighbour)] == ["no_use"]
    shown = disinfect_page(client, record)
    assert "C. Prudhomme told at the house, said it back" in shown
    assert "M. Okafor told by telephone 607-555-0143, said it back" in shown


def test_dialysis_next_door_stops_the_pouring_and_is_not_forgotten(house, neighbour):
    record, lead = house
    client = signed_in(lead)
    sent = sent_of(record.site, neighbour)
    sent[f"uses-{neighbour.pk}"] = ["dialysis"]
    page = page_of(client, record, **sent)
    assert page.status_code == 422
    assert "Home dialysis on this water" in page.content.decode()
    assert SpecialUse.objects.get().kind == "dialysis"
    assert not PourTold.objects.exists()
    with pytest.raises(DoNotUseOpen, match="clinic"):
        poured(record, lead)


def test_chlorine_that_is_in_is_kept_and_says_where_nobody_was_told(house, neighbour):
    record, lead = house
    make_special_use(site=neighbour)
    all_told(
        record=record, told={record.site_id: here("C. P.")}, is_in_already=True, by=lead, now=NOW
    )
    assert "nobody here was told" in standing(neighbour)[0][1]
    office = signed_in(make_staff("dispatcher")).get(reverse("worklist")).content.decode()
    assert "nobody here was told before it was poured" in office
    all_told(record=record, told={neighbour.pk: CALLED}, is_in_already=True, by=lead, now=NOW)
    assert "nobody here was told" not in standing(neighbour)[0][1]
    assert PourTold.objects.filter(record=record).exclude(whom="").count() == 2


def test_nobody_pours_without_a_name_at_each_house(house, neighbour):
    record, lead = house
    with pytest.raises(BadEntry, match="Say the name of the adult"):
        all_told(record=record, told={record.site_id: here("C. P.")}, by=lead, now=NOW)
    assert standing(record.site) == []


@pytest.mark.parametrize(
    ("box", "left", "said"),
    [
        ("told", "", "Say the name of the adult who was told."),
        ("how", "", "By telephone or at the house; a voice mail is not told."),
        ("number", "", "Say which number you called."),
        ("read_back", None, "Told is what they said back to you."),
    ],
)
def test_what_is_missing_of_a_telling_is_asked_at_its_box(house, neighbour, box, left, said):
    record, lead = house
    name, sent = f"{box}-{neighbour.pk}", sent_of(record.site, neighbour)
    wrong = {key: value for key, value in sent.items() if key != name}
    if left is not None:
        wrong[name] = left
    page = page_of(signed_in(lead), record, **wrong)
    assert page.status_code == 422
    assert page.context["form"].errors == {name: [said]}
    assert not PourTold.objects.exists()
    assert "607-555-0143" in text_of(page)  # as it was typed, or as it is on file


def test_a_telling_is_kept_with_way_number_moment_and_who_told(house, neighbour, clock):
    record, lead = house
    clock(NOW)
    page_of(signed_in(lead), record, **sent_of(record.site, neighbour))
    own, next_door = (PourTold.objects.get(site=site) for site in (record.site, neighbour))
    assert (own.how, own.number, own.read_back) == ("door", "", True)
    told = (next_door.whom, next_door.how, next_door.number, next_door.read_back)
    assert told == ("M. Okafor", "telephone", "607-555-0143", True)
    assert (next_door.told_at, next_door.told_by) == (NOW, lead)


def test_one_press_for_each_way_that_the_house_may_be_told(house, neighbour):
    record, lead = house
    page = text_of(page_of(signed_in(lead), record))
    assert page.count("data-tells") == 4  # each house here and on its number
    own, called = page.index("is told here"), page.index("M. Okafor is told on (607) 555-0143")
    assert own < called < page.rindex("is told here")


def test_who_did_not_say_it_back_is_not_told_and_is_asked_for_again(house, neighbour, clock):
    """In already: kept as it is. The notice says so until somebody there is told whole."""
    record, lead = house
    client, later = signed_in(lead), NOW + HOUR
    clock(NOW)
    sent = sent_of(record.site, neighbour) | {"is_in_already": "on"}
    sent.pop(f"read_back-{neighbour.pk}")
    assert page_of(client, record, **sent).status_code == 302
    assert "not told yet: M. Okafor did not say it back" in disinfect_page(client, record)
    assert "nobody here was told" in standing(neighbour)[0][1]
    again = page_of(client, record)
    assert again.context["form"][f"number-{neighbour.pk}"].value() == "607-555-0143"
    assert again.context["form"]["is_in_already"].value() is True
    clock(later)
    page_of(client, record, **sent_of(record.site, neighbour))
    assert "nobody here was told" not in standing(neighbour)[0][1]
    row = PourTold.objects.get(site=neighbour)
    assert (row.at, row.told_at, row.read_back) == (NOW, later, True)
    assert "said it back, 10 Jun 2026 11:00, after it was poured" in disinfect_page(client, record)


def test_a_name_without_the_words_said_back_leaves_the_notice_as_it_was(house, neighbour):
    """Nobody, then somebody who did not say it back: still nobody was told there."""
    record, lead = house
    told = {"record": record, "is_in_already": True, "by": lead}
    all_told(**told, told={}, now=NOW)
    all_told(**told, told={neighbour.pk: Adult("M. Okafor", "door")}, now=NOW + HOUR)
    assert PourTold.objects.get(site=neighbour).whom == "M. Okafor"
    assert "nobody here was told" in standing(neighbour)[0][1]


def test_a_telling_that_is_whole_gives_way_to_a_newer_whole_one_only(house, neighbour):
    record, lead = house
    poured(record, lead)
    less = [
        Adult("S. Okafor", "", is_asked=False),
        Adult("S. Okafor", "door"),
        Adult("", ""),
    ]
    for adult in less:
        told = {neighbour.pk: adult}
        all_told(record=record, told=told, is_in_already=True, by=lead, now=NOW + HOUR)
        assert PourTold.objects.get(site=neighbour).whom == "C. Prudhomme"
    told = {"record": record, "told": {neighbour.pk: CALLED}, "is_in_already": True, "by": lead}
    all_told(**told, now=NOW + HOUR)
    row = PourTold.objects.get(site=neighbour)
    assert (row.whom, row.number, row.told_at) == ("M. Okafor", "607-555-0143", NOW + HOUR)
    told["told"] = {neighbour.pk: here("S. Okafor")}
    record.opened_at = NOW
    all_told(**told, now=NOW + 2 * HOUR, at=NOW + HOUR / 2)
    assert PourTold.objects.get(site=neighbour).whom == "M. Okafor"


def test_the_hot_tap_is_read_where_the_heater_was_filled_with_chlorine(house):
    record, lead = house
    poured(record, lead)
    answer(record, lead, "heater", "treated")
    late = NOW + 13 * HOUR
    answer(record, lead, "flush-high", "1", now=late)
    answer(record, lead, "flush-low", "0.1", now=late + timedelta(minutes=1))
    client = signed_in(lead)
    lift = reverse("record-lift", args=[record.pk])
    client.post(lift, {"block": "flush"})
    assert [level for level, _ in standing(record.site)] == ["no_use"]
    answer(record, lead, "flush-hot", "0.2", now=late + timedelta(minutes=2))
    client.post(lift, {"block": "flush"})
    assert standing(record.site) == []
    assert DoNotUse.objects.get().lifted_on_reading.endswith("cold tap 0.1, hot tap 0.2")


def test_chlorine_works_on_in_a_record_that_was_closed_over_it():
    """Passed over by name and closed after an hour: typed readings lift nothing before its time."""
    record, visit, lead = make_house(purpose="disinfect", kind=Job.Kind.DISINFECT)
    answer(record, lead, "disinfect-scope", "here")
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    over = ("contact", "flush-high", "flush-low", "flush-hot", "notice-state")
    told, later = {"disinfect-scope": "here", "heater": "treated"}, NOW + HOUR
    answer_all(record, lead, answers=told, without=over, now=later)
    out = WayOut(unplugged=True, bypass="bypassed")
    for key in over:
        said = {"line_key": key, "reason": "called away", "way_out": out}
        override_gate(record=record, by=lead, now=later, **said)
    acknowledge_all(record, lead, now=later)
    close_record(record=record, visit=visit, by=lead, now=later)
    notice = DoNotUse.objects.standing().get(site=record.site, level="no_use")
    for hours in (1, 11.9):
        with pytest.raises(WrongState, match="working in this water"):
            lifted(notice, lead, at=NOW + hours * HOUR)
    lifted(notice, lead, at=NOW + 12 * HOUR)
    assert "no_use" not in [level for level, _ in standing(record.site)]
