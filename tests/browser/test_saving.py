"""Saving is true: what a technician enters is kept on the phone, sent once, and said as it is."""

import json
import re
from urllib.parse import parse_qs

import pytest

from .phone import (
    BACK,
    FLOW,
    FULL,
    LATEST_S,
    OFF,
    ON_SITE,
    OTHER,
    PAIR,
    STATUS,
    STOOD,
    UNDER_WAY,
    WRONG_CLOCK,
    Phone,
    shut,
)
from .product import poll
from .visitors import PHONE


@pytest.fixture(scope="module")
def job(product):
    pk, uuid, lead, user = product.rows(UNDER_WAY)[0]
    found = {"pk": pk, "uuid": str(uuid), "lead": lead, "user": user}
    stood = [tuple(row) for row in product.rows(STOOD.format(pk=pk))]
    yield found
    product.ask(BACK.format(pk=found["pk"], rows=stood, lead=found["lead"]))


@pytest.fixture
def phones(visit, job, product):
    """phones() -> a phone of the one who leads the start-up, signed in."""
    return lambda who=job["lead"]: Phone(visit(who, size=PHONE, is_cut=True), job, product)


@pytest.fixture
def phone(phones):
    return phones().open()


# --- kept before it is sent, and said as it is ----------------------------------------------------


def test_an_entry_is_kept_before_its_request_leaves_and_said_as_it_is(phone):
    before, text = phone.answer(), Phone.next()
    with phone.page.expect_request(lambda sent: sent.url.endswith("/answer/")) as asked:
        phone.leave(FLOW, text)
    act = json.loads(parse_qs(asked.value.post_data)["act"][0])
    row = phone.settled(text)
    assert (row["uuid"], row["state"]) == (act["uuid"], "kept")
    assert phone.answer() == [text, before[1] + 1]
    poll(lambda: phone.said().startswith("With the office,"))
    poll(lambda: phone.line().startswith("All sent,"))
    assert phone.drafts() == []


def test_without_signal_nothing_is_said_to_be_with_the_office(phone):
    before = phone.answer()
    phone.cut()
    text = phone.leave(FLOW)
    poll(lambda: phone.said().startswith("Not sent. Kept on this phone,"))
    poll(lambda: re.match(r"1 not sent since \d\d:\d\d, kept on this phone", phone.line()))
    assert phone.answer() == before
    phone.cut(False)
    assert phone.settled(text)["state"] == "kept"
    assert phone.answer() == [text, before[1] + 1]
    poll(lambda: phone.line().startswith("All sent,"))


def test_two_acts_on_one_box_are_no_conflict_with_oneself(phone):
    before = phone.answer()
    phone.cut()
    first, last = phone.leave(FLOW), None
    phone.kept(first)
    last = phone.leave(FLOW)
    assert phone.kept(last)["after"] == phone.row(first)["uuid"]
    phone.cut(False)
    assert phone.settled(last)["state"] == phone.row(first)["state"] == "kept"
    assert phone.answer() == [last, before[1] + 2]


def test_what_is_no_number_is_refused_and_the_rest_goes_on(phone):
    before = phone.answer()
    phone.cut()
    phone.leave(FLOW, "abc")
    refused = phone.kept("abc")
    good = phone.leave(FLOW)
    phone.kept(good)
    phone.cut(False)
    assert phone.settled(good)["state"] == "kept"
    assert phone.row("abc")["state"] == "refused"
    assert phone.answer() == [good, before[1] + 1]
    assert phone.effects(refused) == ["refused"]
    poll(lambda: phone.row("abc")["seen"])  # the good one has taken its place


def test_a_refused_entry_stays_in_its_box_with_a_sentence_and_in_the_list(phone):
    before = phone.answer()
    phone.leave(FLOW, "abd")
    assert phone.settled("abd")["state"] == "refused"
    poll(lambda: "Not saved." in phone.said())
    assert phone.box(FLOW).input_value() == "abd"
    assert "1 to look at" in phone.line()
    phone.open()
    assert phone.box(FLOW).input_value() == "abd"
    phone.page.goto("/field/kept/")
    item = phone.page.locator(".kept-act[data-state=refused]", has_text="abd")
    poll(item.count)
    item.get_by_role("button", name="Copy it").click()
    poll(lambda: item.locator("textarea").count() or "Copied" in item.inner_text())
    item.get_by_role("button", name="Read: put it away").click()
    poll(lambda: not item.count())
    assert phone.answer() == before


# --- two people, two boxes, a slow line -----------------------------------------------------------


def both_typed(phone, phones):
    """One phone without signal and another with it, on one box."""
    other = phones().open()
    phone.cut()
    mine, theirs = phone.leave(FLOW), other.leave(FLOW)
    phone.kept(mine)
    assert other.settled(theirs)["state"] == "kept"
    phone.cut(False)
    assert phone.settled(mine)["state"] == "look"
    poll(lambda: mine in phone.said() and theirs in phone.said())
    assert phone.answer()[0] == theirs
    return mine, theirs


def test_of_two_values_both_are_shown_and_theirs_can_be_left(phone, phones):
    mine, theirs = both_typed(phone, phones)
    phone.page.get_by_role("button", name="Leave theirs").click()
    poll(lambda: phone.row(mine)["seen"])
    phone.ready()
    poll(lambda: phone.box(FLOW).input_value() == theirs)
    assert phone.answer()[0] == theirs


def test_of_two_values_mine_can_be_put(phone, phones):
    mine, _ = both_typed(phone, phones)
    phone.page.get_by_role("button", name="Put mine").click()
    poll(lambda: phone.answer()[0] == mine)
    poll(lambda: phone.row(mine)["state"] == "kept")


def held_back(page, address):
    """Requests to an address wait until they are let go."""
    held = []
    page.route(address, lambda route: held.append(route))
    return held


def test_a_box_being_used_is_not_replaced_by_a_late_answer(phone):
    """The answer to the first figure comes while the second is being typed."""
    held = held_back(phone.page, "**/answer/")
    first, second = Phone.next(), Phone.next()
    phone.leave(FLOW, first)
    poll(lambda: phone.page.evaluate("1") and held)
    phone.box(FLOW).fill(second)
    held[0].continue_()
    phone.page.unroute("**/answer/")
    assert phone.settled(first)["state"] == "kept"
    assert phone.box(FLOW).input_value() == second
    phone.box(FLOW).blur()
    assert phone.settled(second)["state"] == "kept"
    assert phone.answer()[0] == second


def test_the_answer_for_one_box_does_not_overwrite_its_neighbour(phone):
    pair = phone.open(PAIR).page.locator("#answers .pair-ask").first
    names = pair.locator("input[type=text]").evaluate_all("boxes => boxes.map((box) => box.name)")
    one, other = [name for name in names if "~" not in name]
    before = [phone.box(name).input_value() or "3" for name in (one, other)]
    held = held_back(phone.page, "**/answer/")
    first, second = Phone.next(), Phone.next()
    phone.leave(one, first)
    poll(lambda: phone.page.evaluate("1") and held)
    phone.box(other).fill(second)
    held[0].continue_()
    phone.page.unroute("**/answer/")
    assert phone.settled(first)["state"] == "kept"
    assert phone.box(other).input_value() == second
    phone.box(other).blur()
    assert phone.settled(second)["state"] == "kept"
    phone.open(PAIR)
    assert [phone.box(name).input_value() for name in (one, other)] == [first, second]
    for name, text in zip((one, other), before, strict=True):
        phone.leave(name, text)
        phone.settled(text)


@pytest.mark.parametrize("reaches_the_office", [False, True])
def test_an_entry_whose_page_is_left_while_it_is_sent_has_one_effect(phone, reaches_the_office):
    """The browser gives the request up; the office has heard of it by then, or has not."""
    before, text = phone.answer(), Phone.next()
    held = held_back(phone.page, "**/answer/")
    phone.leave(FLOW, text)
    poll(lambda: phone.page.evaluate("1") and held)
    if reaches_the_office:
        held[0].fetch()  # kept there; the answer finds nobody
    assert phone.kept(text)["state"] == "waiting"
    phone.open("program")
    row = phone.settled(text)
    assert (row["state"], phone.effects(row)) == ("kept", ["kept"])
    assert phone.answer() == [text, before[1] + 1]


# --- sessions and people --------------------------------------------------------------------------


def sign_in_on(phone, who):
    """The page is left first: an answer under way to it would bring a cookie of its own."""
    phone.page.goto("about:blank")
    phone.context.clear_cookies()
    phone.person.sign_in(who)


def test_an_ended_session_keeps_everything_until_one_signs_in_again(phone):
    before = phone.answer()
    phone.context.clear_cookies()
    text = phone.leave(FLOW)
    poll(lambda: phone.line().startswith("Sign in again, 1 reading waits"))
    assert phone.page.locator("[name=password]").count() == 0
    assert phone.box(FLOW).input_value() == text
    assert phone.answer() == before
    sign_in_on(phone, phone.job["lead"])
    assert phone.settled(text)["state"] == "kept"
    assert phone.answer() == [text, before[1] + 1]


def test_another_person_on_the_phone_sees_and_sends_nothing(phone, product):
    before = phone.answer()
    phone.cut()
    text = phone.leave(FLOW)
    row = phone.kept(text)
    other = product.rows(OTHER.format(lead=phone.job["lead"]))[0][0]
    phone.page.goto("about:blank")
    phone.context.clear_cookies()
    phone.cut(False)
    phone.person.sign_in(other)
    phone.page.goto("/field/kept/")
    poll(lambda: phone.page.locator("#kept-none").is_visible())
    assert phone.line() == ""
    assert text not in phone.page.locator("main").inner_text()
    was_sent = phone.effects(row)
    sign_in_on(phone, phone.job["lead"])
    assert phone.settled(text)["state"] == "kept"
    assert (was_sent, phone.effects(row)) == ([], ["kept"])
    assert phone.answer() == [text, before[1] + 1]


def test_signing_out_with_acts_that_wait_asks_first(phone):
    phone.cut()
    text = phone.leave(FLOW)
    phone.kept(text)
    shut(phone.page)
    phone.cut(False)
    phone.page.locator(".foot button", has_text="sign out").click()
    dialog = phone.page.locator("dialog.ask-first")
    assert "1 not sent yet" in dialog.inner_text()
    dialog.get_by_role("button", name="Stay signed in").click()
    assert phone.row(text)["state"] == "waiting"
    phone.page.locator(".foot button", has_text="sign out").click()
    dialog.get_by_role("button", name="1 stay sealed").click()
    phone.page.wait_for_url(lambda url: "/sign-in/" in url)
    assert phone.drafts() == []
    assert [row["text"] for row in phone.rows() if row["state"] == "waiting"] == [text]
    shut(phone.page, is_shut=False)
    phone.person.sign_in(phone.job["lead"])
    assert phone.settled(text)["state"] == "kept"


# --- the phone itself -----------------------------------------------------------------------------


def test_a_wrong_clock_moved_meanwhile_is_put_right(phones):
    phone = phones()
    phone.context.add_init_script(WRONG_CLOCK)
    phone.open()
    first = phone.leave(FLOW)
    phone.settled(first)
    phone.page.evaluate("window.moved = -3 * 3600 * 1000")
    second = phone.leave(FLOW)
    names = [phone.settled(text)["uuid"] for text in (first, second)]
    first_off, second_off, between = phone.product.ask(OFF.format(names=names))
    assert max(abs(first_off), abs(second_off)) < LATEST_S
    assert between >= 0


def test_a_full_phone_says_so_and_the_entry_still_goes(phone):
    phone.page.evaluate(FULL)
    text = Phone.next()
    held = held_back(phone.page, "**/answer/")
    phone.leave(FLOW, text)
    poll(lambda: phone.said().startswith("NOT kept on this phone."))
    poll(lambda: phone.page.evaluate("1") and held)
    held[0].continue_()
    poll(lambda: phone.answer()[0] == text)
    poll(lambda: phone.said().startswith("With the office,"))


def test_switched_off_what_waits_is_sent_and_nothing_new_is_kept(phone):
    phone.cut()
    text = phone.leave(FLOW)
    phone.kept(text)
    phone.cut(False)

    def off(route):
        answer = route.fetch()
        body = answer.text().replace('data-keeps="yes"', 'data-keeps="no"')
        route.fulfill(response=answer, body=body)

    phone.page.route("**/dial-back/", off)
    phone.page.goto(f"/records/{phone.job['pk']}/dial-back/")
    assert phone.settled(text)["state"] == "kept"
    phone.page.goto(f"/records/{phone.job['pk']}/dial-back/")  # with the version that stands now
    count, plain = len(phone.rows()), Phone.next()
    phone.leave(FLOW, plain)
    poll(lambda: phone.answer()[0] == plain)
    assert len(phone.rows()) == count


# --- pressed, not typed ---------------------------------------------------------------------------


def test_save_and_go_on_keeps_what_was_typed_and_leads_to_the_next_part(phone):
    text = Phone.next()
    phone.box(FLOW).fill(text)
    phone.page.get_by_role("button", name="Next: ").click()
    phone.page.wait_for_url(lambda url: "/dial-back/" not in url)
    assert phone.settled(text)["state"] == "kept"
    assert phone.answer()[0] == text


def test_a_press_without_signal_is_kept_and_done_when_it_is_back(phone, product):
    """Arrived by mistake, said in the cellar; then arrived."""
    ((visit,), *_) = product.rows(ON_SITE.format(lead=phone.job["lead"]))
    status = lambda: product.rows(STATUS.format(pk=visit))[0][0]  # noqa: E731
    phone.page.goto(f"/visits/{visit}/undo/")
    phone.ready()
    phone.page.fill("[name=reason]", "pressed by mistake")
    phone.cut()
    phone.page.locator("main form[data-act] button[type=submit]").click()
    poll(lambda: "Not sent. Kept on this phone" in phone.page.locator("main").inner_text())
    assert status() == "on_site"
    phone.cut(False)
    poll(lambda: status() != "on_site")
    phone.page.wait_for_url(f"**/visits/{visit}/")
    phone.ready()
    phone.page.get_by_role("button", name="Arrived").click()
    poll(lambda: status() == "on_site")
