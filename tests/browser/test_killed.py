"""A phone that dies while something is typed or sent: draft or act, never neither, and once."""

import os
import signal
from contextlib import contextmanager
from pathlib import Path

import pytest

from .phone import DRAFTS, KEPT, UNDER_WAY, shut
from .product import PASSWORD, poll
from .test_photos import PICTURES, TAKEN, noise, ready, take
from .test_photos import STATES as PHOTO_STATES
from .visitors import ARGUMENTS, PHONE, executable

STATES = """
  SELECT n.state FROM jobs_act a JOIN jobs_actanswer n ON n.act_id = a.id
  WHERE CAST(a.body AS text) LIKE '%{}%'
"""
FLOW = "#answers [name='tap-flow']"


@pytest.fixture
def under_way(product):
    pk, _, lead, user = product.rows(UNDER_WAY)[0]
    return {"pk": pk, "lead": lead, "user": user}


def processes_of(folder):
    """Every process that was started with this profile."""
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                said = (entry / "cmdline").read_bytes().decode(errors="replace")
            except OSError:
                continue
            if str(folder) in said and "--user-data-dir" in said:
                yield int(entry.name)


@pytest.fixture
def opened(browser, product, under_way, tmp_path):
    """A browser with its own profile, on the page of the dial-back."""
    profile = tmp_path / "profile"

    @contextmanager
    def start():
        context = browser.browser_type.launch_persistent_context(
            profile,
            executable_path=executable(),
            args=ARGUMENTS,
            base_url=product.url,
            viewport=PHONE,
        )
        page = context.pages[0]
        page.goto(f"/records/{under_way['pk']}/dial-back/")
        if "/sign-in/" in page.url:
            page.fill("[name=username]", under_way["lead"])
            page.fill("[name=password]", PASSWORD)
            page.click("main button[type=submit]")
            page.wait_for_url(lambda url: "/sign-in/" not in url)
            page.goto(f"/records/{under_way['pk']}/dial-back/")
        poll(lambda: page.evaluate("document.documentElement.dataset.keeps || ''") == "yes")
        yield page
        for pid in processes_of(profile):
            os.kill(pid, signal.SIGKILL)
        poll(lambda: not list(processes_of(profile)))

    return start


def acts(page, under_way, text):
    return [row for row in page.evaluate(KEPT, under_way["user"]) if row["text"] == text]


def test_killed_between_a_key_and_leaving_the_box_the_draft_is_back(opened, under_way):
    with opened() as page:
        page.fill(FLOW, "1.71")
        poll(lambda: "1.71" in page.evaluate(DRAFTS, under_way["user"]))
    with opened() as page:
        assert page.input_value(FLOW) == "1.71"
        said = page.locator(".phone-said[data-box='tap-flow']").inner_text()
        assert said.startswith("Typed ")
        assert said.endswith("not yet kept.")
        assert acts(page, under_way, "1.71") == []


def test_killed_after_leaving_the_box_it_waits_and_is_sent_once(opened, under_way, product):
    with opened() as page:
        shut(page)
        page.fill(FLOW, "1.72")
        page.locator(FLOW).blur()
        poll(lambda: acts(page, under_way, "1.72"))
    with opened() as page:
        poll(lambda: acts(page, under_way, "1.72")[0]["state"] == "kept")
    assert product.rows(STATES.format('"1.72"')) == [("kept",)]


def test_killed_while_it_is_sent_there_is_one_effect(opened, under_way, product):
    with opened() as page:
        lost = []

        def lose(route):
            lost.append(route.fetch())  # the office has it; this phone never hears so

        page.route("**/answer/", lose)
        page.fill(FLOW, "1.74")
        page.locator(FLOW).blur()
        poll(lambda: page.evaluate("1") and lost)
    with opened() as page:
        poll(lambda: acts(page, under_way, "1.74")[0]["state"] == "kept")
    assert product.rows(STATES.format('"1.74"')) == [("kept",)]


def gone(route):
    route.abort()


def unheard(route):
    """The office has it; this phone never hears so."""
    route.fetch()


def noting(met, what):
    def handle(route):
        what(route)
        met.append(route)

    return handle


#: until where a photo has come when the phone dies: what becomes of its bytes, and of its act
STEPS_OF_A_PHOTO = {
    "nothing left": (gone, gone),
    "its bytes are there": (unheard, gone),
    "its act is there": (None, unheard),
}


@pytest.mark.parametrize("step", STEPS_OF_A_PHOTO)
def test_killed_while_a_photo_is_on_its_way_it_arrives_once(opened, under_way, product, step):
    caption = f"Killed: {step}"
    address = f"/records/{under_way['pk']}/photos/?part=fill"
    with opened() as page:
        met = []
        for where, what in zip(("photos/*", "acts"), STEPS_OF_A_PHOTO[step], strict=True):
            if what:
                page.route(f"**/field/{where}", noting(met, what))
        page.goto(address)
        ready(page)
        take(page, caption, noise(800, 600))
        poll(lambda: page.evaluate(PICTURES) == 1 and met)
        assert page.evaluate(PHOTO_STATES)[-1] == "waiting"
    with opened() as page:
        page.goto(address)
        ready(page)
        poll(lambda: page.evaluate(PICTURES) == 0)
        poll(lambda: page.evaluate(PHOTO_STATES)[-1] == "kept")
        page.goto(address)
        page.get_by_role("link", name=caption).wait_for()
    late, pictures = product.ask(TAKEN.format(caption=caption))
    assert (len(late), pictures) == (1, 1)
