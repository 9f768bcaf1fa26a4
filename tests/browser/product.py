"""The product as a user starts it: one command, a demo in a folder of its own, a free port.

With STORIES_DATABASE_URL (a PostgreSQL database that may be emptied) and STORIES_BROKER_URL the
same data stands there, since a demo keeps to its own file whatever the settings say.
"""

import json
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from email import message_from_bytes, policy
from pathlib import Path

import psycopg

ROOT = Path(__file__).resolve().parents[2]
PASSWORD = "tank-heater-1"
#: a large demo on a busy machine takes minutes
START_SECONDS = 600
STOP_SECONDS = 60
#: the clock of the company stands at this hour whenever the tests run: office and mail are open,
#: the start-up of the day is under way and its dial-back not finished
COMPANY_HOUR = 8


#: the stories are of a day of work: on a Saturday or Sunday who comes to the houses is at work too
AT_WORK = """
from datetime import time
from django.contrib.auth.models import User
from django.utils import timezone
from jobs.models import Company, WorkHours
from jobs.models.company import company_day
company, day = Company.load(), company_day(timezone.now())
hours = {"works_from": time(company.work_from_hour), "works_until": time(company.work_until_hour)}
for person in User.objects.filter(groups__name="technician") if day.weekday() > 4 else ():
    WorkHours.objects.get_or_create(person=person, weekday=day.weekday(), defaults=hours)
print("true")
"""


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as found:
        return found.getsockname()[1]


def zone_in_the_morning():
    """A zone in which it is that hour now."""
    ahead = (COMPANY_HOUR - datetime.now(UTC).hour + 11) % 24 - 11
    return f"Etc/GMT{-ahead:+d}" if ahead else "Etc/GMT"


def poll(ask, seconds=60):
    """The first true answer before the deadline; a page that is being left answers nothing."""
    deadline = time.monotonic() + seconds
    while not (answer := _of_page(ask)):
        if time.monotonic() > deadline:
            raise TimeoutError(f"nothing happened within {seconds} s")
        time.sleep(0.1)
    return answer


def _of_page(ask):
    try:
        return ask()
    except Exception as error:  # of the browser, which the tests without one have not
        if "Execution context was destroyed" not in str(error):
            raise
        return None


@contextmanager
def running(**settings):
    """One in a folder of its own: pytest's are cleared when other runs begin beside this one."""
    with tempfile.TemporaryDirectory(prefix="product-") as folder:
        product = Product(folder, **settings)
        try:
            yield product.start().at_work()
        finally:
            product.stop()


class Product:
    def __init__(self, folder, **settings):
        self.folder = Path(folder)
        self.log = self.folder / "serve.log"
        self.address = f"127.0.0.1:{free_port()}"
        self.url = f"http://{self.address}"
        self.seconds_to_first_page = 0.0
        kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
        self.environment = kept | {
            "DEPLOYMENT": "demo",
            "DATA_DIR": str(self.folder),
            "LISTEN": self.address,
            "DEMO_PASSWORD": PASSWORD,
            "TIME_ZONE": zone_in_the_morning(),
            "TICK_SECONDS": "1",
            **settings,
        }
        self.servers = os.environ.get("STORIES_DATABASE_URL", "")
        if self.servers:
            self.environment |= {
                "DEPLOYMENT": "test",
                "DATABASE_URL": self.servers,
                "CELERY_BROKER_URL": os.environ["STORIES_BROKER_URL"],
            }

    @property
    def data_dir(self):
        return self.folder if self.servers else self.folder / "demo"

    def start(self):
        self.folder.mkdir(parents=True, exist_ok=True)
        if self.servers:
            self._fill_servers()
        begun = time.monotonic()
        with self.log.open("wb") as log:
            self.process = subprocess.Popen(
                [sys.executable, "manage.py", "serve"],
                cwd=ROOT,
                env=self.environment,
                stdout=log,
                stderr=subprocess.STDOUT,
            )
        poll(self._answers_or_ended, START_SECONDS)
        self.seconds_to_first_page = time.monotonic() - begun
        return self

    def at_work(self):
        """Everybody of today who goes to houses, whatever weekday the tests run on."""
        self.ask(AT_WORK)
        return self

    def set_ahead(self, hours):
        """From the next start on its clock stands so far ahead, as if it had been off meanwhile."""
        ahead = str(ROOT / "tests" / "browser" / "ahead")
        self.environment |= {"PYTHONPATH": ahead, "CLOCK_AHEAD_H": str(hours)}

    def _fill_servers(self):
        with psycopg.connect(self.servers, autocommit=True) as database:
            database.execute("DROP SCHEMA public CASCADE")
            database.execute("CREATE SCHEMA public")
        for command in ("prepare", "load_demo"):
            subprocess.run(
                [sys.executable, "manage.py", command],
                cwd=ROOT,
                env=self.environment,
                check=True,
                capture_output=True,
                timeout=300,
            )

    def _answers_or_ended(self):
        if self.process.poll() is not None:
            raise RuntimeError(f"the product ended at its start:\n{self.log.read_text()[-3000:]}")
        try:
            with urllib.request.urlopen(f"{self.url}/healthz", timeout=5) as answer:
                return answer.status == 200
        except (urllib.error.URLError, OSError):
            return False

    def stop(self):
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(STOP_SECONDS)

    def ask(self, program):
        """What a program prints as JSON that runs on this installation's own data."""
        done = subprocess.run(
            [sys.executable, "manage.py", "shell", "-v", "0", "-c", program],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(done.stderr)
        return json.loads(done.stdout) if done.stdout.strip() else None

    def rows(self, query):
        """What one SELECT finds in this installation's data, without starting a process."""
        if self.servers:
            with psycopg.connect(self.servers) as database:
                return database.execute(query).fetchall()
        with closing(sqlite3.connect(self.data_dir / "data.sqlite3", timeout=20)) as database:
            return database.execute(query).fetchall()

    def letters(self):
        """Every letter that the worker has written so far."""
        files = sorted((self.data_dir / "mail").glob("**/*.eml"))
        return [message_from_bytes(file.read_bytes(), policy=policy.default) for file in files]
