"""Twenty deaths of web server and worker while 200 letters leave and 200 figures are typed."""

import time

import pytest

from . import deaths
from .mail_stack import Stack, mail_server
from .test_serve import ask, children, command_line, free_port, poll

pytestmark = pytest.mark.system


def test_twenty_deaths_lose_no_write_and_mail_nobody_twice(environment, tmp_path, capsys):
    port = free_port()
    environment["EMAIL_URL"] = f"smtp://127.0.0.1:{port}"
    (tmp_path / "logs").mkdir()
    Stack(environment, tmp_path / "logs").manage("prepare")
    seed = int(time.time())
    with mail_server(port) as sink:
        found = deaths.run(
            environment=environment,
            log=tmp_path / "logs" / "serve.log",
            sink=sink,
            ask=ask,
            family_of=deaths.processes(children, command_line),
            poll=poll,
            deaths=20,
            mails=200,
            writes=200,
            seed=seed,
        )
    with capsys.disabled():
        print(f"\nseed {seed}\n{deaths.told(found)}")
    assert found["the command lived"]
    assert found["database"] == "ok"
    assert sum(found["deaths"].values()) == 20
    assert found["writes acknowledged"] == 200
    assert found["writes lost"] == found["writes doubled"] == 0
    assert found["staff mail"]["lost"] == found["customer mail"]["lost"] == 0
    assert found["customer mail"]["doubled"] == 0
    assert found["customer mail"]["unknown"] <= 20
