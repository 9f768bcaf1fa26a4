"""Deaths of web server and worker while letters leave and figures are typed, and what is left."""

import tempfile
import time
from pathlib import Path

from tests.system import deaths
from tests.system.mail_stack import Stack, mail_server
from tests.system.test_serve import (
    ask,
    children,
    command_line,
    database_of_its_own,
    free_port,
    own_environment,
    poll,
)

from .clock import head, line

#: the server thinks so long over a message, so that many deaths fall into a sending
PAUSE_S = 0.15


def show(asked):
    head(f"{asked.deaths} deaths over {asked.mails} mails and {asked.writes} writes")
    with tempfile.TemporaryDirectory(prefix="deaths-") as folder, database_of_its_own() as url:
        found = measured(asked, Path(folder), url)
    line("database and broker", f"{url.partition(':')[0] or 'sqlite'}, {found['broker']}")
    line("seconds", f"{found['seconds']}")
    whom = ", ".join(f"{kind} {times}" for kind, times in sorted(found["deaths"].items()))
    line("deaths", whom)
    line("of these when nobody writes and nothing leaves", f"{found['deaths when idle']}")
    line("health says so, seconds after the first", f"{found['health turned after']}")
    line("worker well again, seconds after the last", f"{found['worker well after']}")
    line("minutes until the restarts are an hour old", f"{found['restarts forgotten after']}")
    line("the command that keeps them lived", "yes" if found["the command lived"] else "no", "yes")
    line("integrity of the database", found["database"], "ok")
    line("writes sent until acknowledged", f"{found['writes sent']}")
    line("writes acknowledged", f"{found['writes acknowledged']}", str(asked.writes))
    line("of these lost, doubled", f"{found['writes lost']}, {found['writes doubled']}", "0, 0")
    for name in ("staff", "customer"):
        mail = found[f"{name} mail"]
        line(f"mail to {name}: lost without a word", f"{mail['lost']} of {mail['rows']}", "0")
        line(f"mail to {name}: sent twice", f"{mail['doubled']}", "0" if name == "customer" else "")
        line(f"mail to {name}: said to be unknown", f"{mail['unknown']}")


def measured(asked, folder, url):
    port = free_port()
    environment = own_environment(folder, url) | {"EMAIL_URL": f"smtp://127.0.0.1:{port}"}
    Stack(environment, folder).manage("prepare")
    with mail_server(port, PAUSE_S) as sink:
        found = deaths.run(
            environment=environment,
            log=folder / "serve.log",
            sink=sink,
            ask=ask,
            family_of=deaths.processes(children, command_line),
            poll=poll,
            deaths=asked.deaths,
            mails=asked.mails,
            writes=asked.writes,
            seed=int(time.time()),
        )
    broker = environment["CELERY_BROKER_URL"].partition(":")[0] or "memory"
    return found | {"broker": broker}
