"""What every test may ask for: a fixed moment, people with roles, clients signed in."""

import gc
import zlib
from datetime import UTC, datetime

import pytest
from django.contrib.auth.models import Group, User
from django.core.management import call_command
from django.test import Client

from equipment import insert_only
from jobs.phone import runtime

#: a Wednesday, 10:00 in the company's zone (Eastern daylight time)
NOW = datetime(2026, 6, 10, 14, 0, tzinfo=UTC)


def make_person(username, *roles, **fields):
    user = User.objects.create_user(
        username, fields.pop("email", f"{username}@example.com"), "tank-heater-1", **fields
    )
    user.groups.set([Group.objects.get_or_create(name=role)[0] for role in roles])
    return user


def signed_in(user):
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def now():
    return NOW


@pytest.fixture
def clock(monkeypatch):
    """The clock on the wall of every page, at NOW; `clock(moment)` sets it."""

    def set_to(moment):
        monkeypatch.setattr("django.utils.timezone.now", lambda: moment)

    set_to(NOW)
    return set_to


@pytest.fixture
def rules_at_now(db, clock):
    """The rules that come with the program, and the clock at NOW."""
    call_command("load_rules", verbosity=0)


@pytest.fixture
def technician(db):
    return make_person("tess", "technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def dispatcher(db):
    return make_person("dana", "dispatcher", first_name="Dana", last_name="Birch")


@pytest.fixture
def owner(db):
    return make_person("omar", "owner", first_name="Omar", last_name="Cedar")


@pytest.fixture
def stranger(db):
    """An account without any role."""
    return make_person("sam")


@pytest.fixture
def technician_client(technician):
    return signed_in(technician)


@pytest.fixture
def dispatcher_client(dispatcher):
    return signed_in(dispatcher)


@pytest.fixture
def owner_client(owner):
    return signed_in(owner)


@pytest.fixture
def stranger_client(stranger):
    return signed_in(stranger)


@pytest.fixture(autouse=True)
def _flush_without_triggers(request):
    """Transactional tests empty every table at their end, which the triggers would refuse.

    The flush announces a migration, and so puts the triggers back.
    """
    marker = request.node.get_closest_marker("django_db")
    asked = {"transactional_db", "live_server"} & set(request.fixturenames)
    if not asked and not (marker and marker.kwargs.get("transaction")):
        yield
        return
    request.getfixturevalue("transactional_db")
    yield
    insert_only.remove()


def pytest_addoption(parser):
    parser.addoption(
        "--third",
        type=int,
        choices=(0, 1, 2),
        help="this third of what asks for the database; all of what is marked for it",
    )


USES_THE_DATABASE = {"db", "transactional_db", "live_server"}


def pytest_collection_modifyitems(config, items):
    """Marks what another database may answer differently.

    Without the browser's Python its tests are not run, and counted among those left out.
    """
    for item in items:
        asked = USES_THE_DATABASE & set(getattr(item, "fixturenames", ()))
        if asked or item.get_closest_marker("django_db"):
            item.add_marker(pytest.mark.database)
    third = config.getoption("third")
    if third is not None:
        config.hook.pytest_deselected(items=[row for row in items if not _is_of(third, row)])
        items[:] = [item for item in items if _is_of(third, item)]
    if runtime.is_whole():
        return
    left = [item for item in items if item.get_closest_marker("runtime")]
    if left:
        config.hook.pytest_deselected(items=left)
        items[:] = [item for item in items if item not in left]


def _is_of(third, item):
    """A file goes whole, so that its fixtures are not made three times."""
    marked = item.get_closest_marker("postgres") or item.get_closest_marker("redis")
    return bool(marked) or zlib.crc32(item.path.name.encode()) % 3 == third


def pytest_collection_finish(session):
    """What was imported stays: the collector need not look at it again after each few rows."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


DESELECTED = pytest.StashKey[int]()


def pytest_deselected(items):
    if not items:  # what failed last is run again, and nothing else was read
        return
    config = items[0].config
    config.stash[DESELECTED] = config.stash.get(DESELECTED, 0) + len(items)


def pytest_sessionfinish(session):
    if hasattr(session.config, "workeroutput"):
        session.config.workeroutput["deselected"] = session.config.stash.get(DESELECTED, 0)


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node):
    """Every worker leaves the same tests out; pytest-xdist itself does not say how many."""
    node.config.stash[DESELECTED] = getattr(node, "workeroutput", {}).get("deselected", 0)


def pytest_terminal_summary(terminalreporter, config):
    if config.stash.get(DESELECTED, 0):
        terminalreporter.write_line(
            f"{config.stash[DESELECTED]} deselected: they need more than Python, or long "
            "(.ci/run runs them)"
        )
    if not runtime.is_whole():
        terminalreporter.write_line(
            "Not run: what needs Python for the browser, which `make setup` could not bring."
        )
