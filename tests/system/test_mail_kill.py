"""Real processes, real broker, a real mail server: what is left when the worker is killed.

Per class the rows are compared with what the server took. Nothing is lost without a trace; a
customer gets no message twice; staff may get one twice, under the same Message-ID.
"""

import base64
import http.cookiejar
import random
import re
import socket
import statistics
import time
import urllib.parse
import urllib.request

import pytest

from .mail_stack import EXPIRE, FILL, MARK, ROWS, Stack, mail_server
from .test_serve import ask, free_port, healthz, poll

pytestmark = pytest.mark.system
EACH = 100  # of each class
KILLS = 6
ASKED = """
import json
from jobs.models import PasswordAsk
print(json.dumps(PasswordAsk.objects.count()))
"""
OPEN_STATES = {"queued", "claimed", "sending"}


@pytest.fixture
def stack(environment, tmp_path):
    environment["EMAIL_URL"] = f"smtp://127.0.0.1:{free_port()}"
    (tmp_path / "logs").mkdir()
    started = Stack(environment, tmp_path / "logs")
    started.manage("migrate", "-v", "0")
    yield started
    started.stop()


@pytest.fixture
def sink(environment, stack):
    with mail_server(int(environment["EMAIL_URL"].rpartition(":")[2])) as server:
        yield server


def rows(environment):
    return ask(environment, ROWS)


def all_settled(environment):
    found = rows(environment)
    return None if OPEN_STATES & {row["state"] for row in found} else found


def tally(found, sink, mail_class):
    """Of one class: rows, lost without a trace, unknown, taken twice, unknown but taken."""
    of_class = [row for row in found if row["mail_class"] == mail_class]
    taken = {row["message_id"]: sink.taken[row["message_id"]] for row in of_class}
    unknown = {row["message_id"] for row in of_class if row["state"] == "unknown"}
    never = {identity for identity, times in taken.items() if times == 0}
    return {
        "rows": len(of_class),
        "never delivered": len(never),
        "lost": len(never - unknown),
        "unknown": len(unknown),
        "unknown but delivered": len(unknown - never),
        "duplicates": sum(times - 1 for times in taken.values() if times > 1),
        "sent but not delivered": sum(
            1 for row in of_class if row["state"] == "sent" and not taken[row["message_id"]]
        ),
        "states": sorted({row["state"] for row in of_class}),
    }


def test_kill_nine_of_the_worker_loses_nothing_without_a_trace(
    stack, sink, environment, tmp_path, capsys
):
    seed = int(time.time())
    dice = random.Random(seed)
    ask(environment, FILL.format(each=EACH))
    stack.start("web"), stack.start_clock()
    on_network = bool(environment["CELERY_BROKER_URL"])
    begun, seen_in_broker = time.monotonic(), ""
    for _ in range(KILLS):
        worker = stack.start("worker")
        enough = sink.count + dice.randint(8, 24)
        poll(lambda wanted=enough: sink.count >= wanted)
        time.sleep(dice.uniform(0, 0.05))  # anywhere between two steps
        stack.kill(worker)
        ask(environment, EXPIRE)
        if on_network:
            seen_in_broker += poll(stack.broker_content)  # beat goes on, nobody takes
    stack.start("worker")
    found = poll(lambda: all_settled(environment), 180)
    staff, customer = (tally(found, sink, name) for name in ("staff", "customer"))
    with capsys.disabled():
        print(f"\n{KILLS} kills in {time.monotonic() - begun:.0f} s, seed {seed}")
        print(f"staff    {staff}\ncustomer {customer}")
    assert staff["rows"] == customer["rows"] == EACH
    for of_class in (staff, customer):
        assert of_class["lost"] == 0
        assert of_class["sent but not delivered"] == 0
    assert staff["states"] == ["sent"]
    assert staff["duplicates"] <= KILLS
    assert customer["duplicates"] == 0
    assert customer["unknown"] <= KILLS
    assert set(sink.taken) <= {row["message_id"] for row in found}  # each one an identity of ours
    assert poll(lambda: healthz(environment))
    assert bool(seen_in_broker) == on_network
    nothing_personal(stack.logs(), seen_in_broker)


def test_two_clocks_and_two_workers_send_everything_once(stack, sink, environment, capsys):
    ask(environment, FILL.format(each=EACH))
    stack.start_clock(), stack.start("worker"), stack.start("worker")
    stack.start_clock()
    found = poll(lambda: all_settled(environment), 120)
    staff, customer = (tally(found, sink, name) for name in ("staff", "customer"))
    assert {process.poll() for process in stack.running} == {None}
    with capsys.disabled():
        print(f"\ntwo clocks, two workers\nstaff    {staff}\ncustomer {customer}")
    assert sink.count == 2 * EACH
    assert set(sink.taken.values()) == {1}
    assert {row["state"] for row in found} == {"sent"}


def test_a_term_in_the_middle_leaves_no_doubt(stack, sink, environment):
    ask(environment, FILL.format(each=EACH))
    stack.start_clock()
    for _ in range(2):
        worker = stack.start("worker")
        enough = sink.count + 20
        poll(lambda wanted=enough: sink.count >= wanted)
        worker.terminate()
        assert worker.wait(60) == 0
        assert "sending" not in {row["state"] for row in rows(environment)}
        assert "claimed" not in {row["state"] for row in rows(environment)}
    stack.start("worker")
    found = poll(lambda: all_settled(environment), 120)
    assert {row["state"] for row in found} == {"sent"}
    assert set(sink.taken.values()) == {1}


def nothing_personal(logs, broker):
    """Ids only, in what processes write down and in what passes between them."""
    bodies = broker + "".join(decoded(word) for word in broker.replace("\\", "").split('"'))
    for text in (logs, bodies):
        assert MARK.lower() not in text.lower()
        assert "@example.com" not in text


def decoded(word):
    """Celery wraps the arguments of a task in base64."""
    try:
        return base64.b64decode(word, validate=True).decode("utf-8", "replace")
    except ValueError:
        return ""


def test_a_broken_broker_delays_no_page(environment, tmp_path):
    """No page asks the broker for anything, so one that refuses or is silent holds none up."""
    with socket.create_server(("127.0.0.1", 0)) as silent:
        stack = Stack(environment, tmp_path)
        stack.manage("migrate", "-v", "0")
        ask(environment, FILL.format(each=1))
        for port in (free_port(), silent.getsockname()[1]):
            environment["CELERY_BROKER_URL"] = f"redis://127.0.0.1:{port}/0"
            web = stack.start("web")
            poll(lambda: seconds_of_asking_for_a_password(environment))
            times = [seconds_of_asking_for_a_password(environment) for _ in range(9)]
            stack.kill(web)
            assert statistics.median(times) < 1
    found = rows(environment)
    assert [row["state"] for row in found] == ["queued"] * len(found)
    assert len(found) == 2  # invitation and confirmation
    # who asked for a password is noted; the worker looks whose address it is
    assert ask(environment, ASKED) >= 1


def seconds_of_asking_for_a_password(environment):
    """A form that causes a message, opened and sent; None while nobody answers."""
    address = f"http://{environment['LISTEN']}/password/"
    browser = urllib.request.build_opener(
        urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
    )
    begun = time.monotonic()
    try:
        page = browser.open(address, timeout=10).read().decode()
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page).group(1)
        form = {"csrfmiddlewaretoken": token, "email": "zzmarked-lead@example.com"}
        data = urllib.parse.urlencode(form).encode()
        assert browser.open(address, data, timeout=10).status == 200
    except OSError:
        return None
    return time.monotonic() - begun
