"""One product and one browser for all tests of this folder; each person's console is watched."""

from pathlib import Path

import pytest

from .product import running
from .visitors import Visitor, open_browser

HERE = Path(__file__).parent
FAILED = pytest.StashKey[bool]()


def pytest_collection_modifyitems(items):
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item):
    report = yield
    if report.failed:
        item.stash[FAILED] = True
    return report


@pytest.fixture(scope="session")
def product():
    with running() as started:
        yield started


@pytest.fixture
def server():
    """A product of its own, that may go and come back with the same data."""
    with running() as started:
        yield started


@pytest.fixture(scope="session")
def browser():
    with open_browser() as opened:
        yield opened


@pytest.fixture
def visit(browser, product, request, tmp_path):
    """visit(username, size=..., scheme=..., script=...) -> a person who has signed in."""
    visitors = []

    def start(username="", **screen):
        visitor = Visitor(browser, product.url, **screen)
        visitors.append(visitor)
        return visitor.sign_in(username) if username else visitor

    yield start
    if request.node.stash.get(FAILED, False):
        for number, visitor in enumerate(visitors):
            print(visitor.last_seen(tmp_path / f"last-screen-{number}.png"))
    for visitor in visitors:
        visitor.close()
    trouble = sorted({said for visitor in visitors for said in visitor.trouble})
    assert not trouble, "\n".join(trouble)


@pytest.fixture(scope="session")
def axe():
    from axe_playwright_python.sync_playwright import Axe  # of the group browser

    return Axe()
