"""Every page: no hurdle that axe finds, nothing sticks out sideways, nothing in the console.

Rules: WCAG 2.2 levels A and AA as axe-core (Deque, MPL-2.0) tests them; reflow at 320 CSS
pixels is WCAG 2.2 criterion 1.4.10.
"""

import pytest

from tests.python_shown import python_in

from .pages import ROWS, pages
from .visitors import DESK, NARROW, PHONE, TARGET, sideways, small
from .walking import Crowd, hurdles

SCREENS = {
    "390 light": {"size": PHONE, "scheme": "light"},
    "1280 dark": {"size": DESK, "scheme": "dark"},
}


@pytest.fixture(scope="module")
def every_page(product):
    return pages(product.ask(ROWS))


@pytest.fixture
def crowd(browser, product, request):
    people = Crowd(browser, product.url, **request.param)
    yield people
    people.close()


def on_a_phone(tab, page):
    """What a glove misses, and what sticks out on the narrowest screen."""
    missed = small(tab, TARGET) if page.is_field else []
    tab.set_viewport_size(NARROW)
    wide = [f"at 320: {said}" for said in sideways(tab)]
    tab.set_viewport_size(PHONE)
    return missed, wide


@pytest.mark.timeout(900)
@pytest.mark.parametrize("crowd", SCREENS.values(), ids=SCREENS, indirect=True)
def test_no_page_has_a_hurdle_or_sticks_out_and_a_glove_hits_every_target_in_the_field(
    crowd, every_page, axe, capsys, request
):
    table, wrong, in_the_field = [], [], 0
    for page in every_page:
        tab = crowd.open(page)
        if tab is None:
            continue
        missed, narrow = on_a_phone(tab, page) if crowd.screen["size"] == PHONE else ([], [])
        found, wide = hurdles(axe, tab), sideways(tab) + narrow
        in_the_field += page.is_field
        if shown := python_in(tab.content()):
            found.append(f"shows {shown}")
        counts = f"{len(found):3} {len(wide):3} {len(missed):3}"
        table.append(f"{page.name:34} {page.who or 'anyone':9} {counts}")
        wrong += [f"{page}: {said}" for said in found + wide + missed]
    with capsys.disabled():
        print(
            f"\n{request.node.callspec.id}: page, opened by, axe, sticking out, missed by a glove"
        )
        print("\n".join(table))
    assert not wrong + crowd.trouble(), "\n".join(wrong + crowd.trouble())
    assert len(table) > 50
    assert in_the_field > 30


def refused_sign_in(tab, known):
    tab.goto("/sign-in/")
    tab.fill("[name=username]", "nobody")
    tab.fill("[name=password]", "wrong")
    tab.click("main button[type=submit]")


def refused_customer(tab, known):
    tab.goto("/customers/new/")
    tab.locator("[name$=name]").first.fill("Nell Exempel")
    tab.locator("[name$=phone]").first.fill("12")
    tab.click("main button.main")


def refused_reading(tab, known):
    tab.goto(f"/records/{known['rows']['records']}/raw-water/")
    box = tab.locator("#answers [name='raw-ph']")
    box.fill("17")
    box.blur()
    refused = tab.locator(".ask.refused")
    refused.wait_for()


@pytest.mark.parametrize(
    ("refused", "role"),
    [(refused_sign_in, ""), (refused_customer, "dispatcher"), (refused_reading, "technician")],
    ids=["sign-in", "customer", "reading"],
)
@pytest.mark.parametrize("crowd", [SCREENS["390 light"]], ids=["390"], indirect=True)
def test_a_refusal_has_no_hurdle(crowd, product, axe, refused, role):
    known = product.ask(ROWS)
    tab = crowd.person(known["people"].get(role, "")).page
    refused(tab, known)
    tab.locator("main .say, main [role=alert]").first.wait_for()
    assert hurdles(axe, tab) == []
    assert sideways(tab) == []


def test_axe_and_the_measure_would_find_something(browser, axe):
    tab = browser.new_page(viewport=NARROW)
    tab.set_content("<p>bare</p><input><div style='width: 50em; background: red'>wide</div>")
    assert {said.split(":")[0] for said in hurdles(axe, tab)} >= {"html-has-lang", "label"}
    assert sideways(tab)
    tab.set_content("<a href='/'>small</a><p>in a sentence <a href='/'>read</a></p>")
    assert [said.split('"')[1] for said in small(tab, TARGET)] == ["small"]
    tab.close()
