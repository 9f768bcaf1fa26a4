"""The invented company with 12 technicians and 60 visits a day: the office's pages as they fill."""

import re

import pytest

from .pages import ROWS
from .product import running
from .visitors import DESK, PHONE, sideways
from .walking import LAPTOP, WHOLE_ROWS, Crowd, hurdles

LOOKS = {
    "390 light": {"size": PHONE, "scheme": "light"},
    "390 dark": {"size": PHONE, "scheme": "dark"},
    "1280 light": {"size": DESK, "scheme": "light"},
    "1280 dark": {"size": DESK, "scheme": "dark"},
}
PAGES = {
    "worklist": ("dispatcher", "/worklist/"),
    "day": ("dispatcher", "/day/"),
    "week": ("dispatcher", "/week/"),
    "messages": ("dispatcher", "/messages/"),
    "house": ("dispatcher", "/sites/{sites}/"),
    "booking": ("dispatcher", "/promises/{promises}/book/"),
    "search": ("dispatcher", "/find/?q=lane"),
    "my-day": ("technician", "/my-day/"),
    "callbacks": ("owner", "/callbacks/"),
}
TECHNICIANS, VISITS = 12, 60


@pytest.fixture(scope="module")
def company():
    with running(DEMO_SIZE="large") as product:
        yield product


@pytest.fixture(scope="module")
def known(company):
    return company.ask(ROWS)


@pytest.fixture
def walk(browser, company, known):
    """walk(look) -> open(name), the tab at that page."""
    crowds = []

    def start(**screen):
        crowd = Crowd(browser, company.url, **screen)
        crowds.append(crowd)

        def opened(name):
            role, path = PAGES[name]
            tab = crowd.person(known["people"][role]).page
            answer = tab.goto(path.format(**known["rows"]))
            assert answer.status == 200, (name, answer.status)
            return tab

        return opened

    yield start
    trouble = [said for crowd in crowds for said in crowd.trouble()]
    for crowd in crowds:
        crowd.close()
    assert trouble == []


@pytest.mark.timeout(900)
@pytest.mark.parametrize("look", LOOKS.values(), ids=LOOKS)
def test_a_full_day_has_no_hurdle_and_stays_within_the_screen(walk, axe, look):
    opened, wrong = walk(**look), []
    for name in PAGES:
        tab = opened(name)
        wrong += [f"{name}: {said}" for said in sideways(tab) + hurdles(axe, tab)]
    assert not wrong, "\n".join(wrong)


def test_the_day_shows_everybody_and_each_visit(walk):
    tab = walk(**LOOKS["1280 light"])("day")
    said = re.search(r"(\d+) visits, (\d+) people", tab.locator("main").inner_text())
    links = tab.locator("main a[href^='/visits/']").evaluate_all("all => all.map(a => a.pathname)")
    shown = {path for path in links if re.fullmatch(r"/visits/\d+/", path)}
    assert (int(said[1]), int(said[2])) >= (VISITS, TECHNICIANS)
    assert len(shown) >= int(said[1])


def test_six_whole_rows_stand_on_the_first_screen_of_the_worklist(walk):
    tab = walk(size=LAPTOP, scheme="light")("worklist")
    assert tab.evaluate(WHOLE_ROWS) >= 6
