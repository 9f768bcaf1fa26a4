"""Real processes that are killed at random while mail goes out and people write: what is kept?

A write counts as acknowledged when the page it leads to was named in an answer. Until then people
send the same form again, and so does this browser, with the same key.
"""

import http.cookiejar
import json
import os
import random
import re
import secrets
import signal
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from django.conf import settings

from jobs.workflows import restarts
from jobs.workflows.health import MOST_RESTARTS

from .mail_stack import EXPIRE, FILL, ROWS

#: as `serve` ends, but a part that is killed again and again is back at once
LAUNCH = "import sys; from config import family; family.PAUSES = (0.1,); sys.exit(family.main(0.0))"
DESK = """
from django.contrib.auth.models import Group, User
from equipment.models import Site
from jobs.access import ensure_groups
ensure_groups()
User.objects.get(username="zzmarked-lead").groups.add(Group.objects.get(name="dispatcher"))
print(Site.objects.order_by("pk").values_list("pk", flat=True)[0])
"""
WRITES = """
import json
from equipment.models import Measurement
print(json.dumps(list(Measurement.objects.values_list("method", flat=True))))
"""
WHOLE = """
import json
from django.db import connection
found = [["ok"]]
if connection.vendor == "sqlite":
    with connection.cursor() as cursor:
        found = cursor.execute("PRAGMA integrity_check").fetchall()
print(json.dumps(found))
"""
PATIENCE_SECONDS = 900


def start(environment, log):
    with open(log, "wb") as file:
        return subprocess.Popen(
            [sys.executable, "-c", LAUNCH],
            cwd=settings.BASE_DIR,
            env=environment | {"DJANGO_SETTINGS_MODULE": "config.settings"},
            stdout=file,
            stderr=subprocess.STDOUT,
        )


class Desk(threading.Thread):
    """One person who types figures and presses Save until an answer comes."""

    def __init__(self, environment, site, numbers, enough):
        super().__init__(daemon=True)
        self.address = f"http://{environment['LISTEN']}"
        self.page = f"{self.address}/sites/{site}/readings/new/"
        self.zone = ZoneInfo(environment.get("TIME_ZONE", "America/New_York"))
        self.numbers, self.enough = numbers, enough
        self.acknowledged, self.tries, self.refused = [], 0, ""
        self.jar = http.cookiejar.CookieJar()
        self.browser = urllib.request.build_opener(
            urllib.request.HTTPCookieProcessor(self.jar), NoRedirect
        )

    def run(self):
        said = {"username": "zzmarked-lead", "password": "tank-heater-1"}
        self.until_answered(f"{self.address}/sign-in/", said)
        for number in self.numbers:
            tag = f"write {number}"
            figure = {
                "about": "site",
                "quantity_key": "iron",
                "text": f"{1 + number / 1000:.3f}",
                "unit": "mg/L",
                "place": "raw",
                "origin": "measured",
                "method": tag,
                "measured_at": datetime.now(self.zone).strftime("%Y-%m-%dT%H:%M"),
                "once": secrets.token_urlsafe(16),
            }
            self.until_answered(self.page, figure)
            self.acknowledged.append(tag)
            self.enough(number)

    def until_answered(self, address, form):
        """Sends the same form again until an answer leads on."""
        while True:
            self.tries += 1
            try:
                token = self.token(address)
                data = urllib.parse.urlencode(form | {"csrfmiddlewaretoken": token}).encode()
                self.browser.open(address, data, timeout=30)
            except urllib.error.HTTPError as answer:
                if answer.code == 302:
                    return
                self.refused = f"{answer.code}: {answer.read().decode()[-1500:]}"
            except (OSError, http.client.HTTPException):
                pass  # killed in the middle: nobody knows whether it is kept
            time.sleep(0.05)

    def token(self, address):
        page = self.browser.open(address, timeout=30).read().decode()
        return re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page).group(1)


class NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *args):
        return None


class Watch(threading.Thread):
    """Somebody who asks /healthz twice a second and notes each change of the answer."""

    def __init__(self, environment):
        super().__init__(daemon=True)
        self.address = f"http://{environment['LISTEN']}/healthz"
        self.seen, self.over = [], threading.Event()

    def run(self):
        while not self.over.wait(0.5):
            said = self.said()
            if not self.seen or self.seen[-1][1:] != said:
                self.seen.append((time.monotonic(), *said))

    def said(self):
        """Whether all is well, and whether the worker is; nothing while nobody answers."""
        try:
            with urllib.request.urlopen(self.address, timeout=5) as answer:
                body = json.load(answer)
        except urllib.error.HTTPError as answer:
            body = json.load(answer)
        except (OSError, ValueError, http.client.HTTPException):
            return "silent", "silent"
        return body["status"], body.get("worker", "")

    def turned_after(self, begun):
        """Seconds from the first death until it said that all is not well."""
        return next(
            (
                round(at - begun)
                for at, word, _ in self.seen
                if at > begun and word not in ("ok", "silent")
            ),
            None,
        )

    def worked_after(self, moment):
        """Seconds from the last death until the worker is well, and stays so."""
        since = moment
        for at, _, worker in self.seen:
            if at > moment and worker != "ok":
                since = None
            elif since is None and at > moment:
                since = at
        return None if since is None else round(since - moment)


class Reaper:
    """Kills one process of a family at a time, and counts whom."""

    def __init__(self, serving, family_of, dice):
        self.serving, self.family_of, self.dice = serving, family_of, dice
        self.killed, self.first, self.last = Counter(), None, None

    def strike(self):
        """Some process that lives, each kind as likely; its kind."""
        time.sleep(self.dice.uniform(0.2, 2.5))
        living = dict(self.family_of(self.serving.pid))
        if not living:
            return ""
        kind = self.dice.choice(sorted(living))
        try:
            os.kill(living[kind], signal.SIGKILL)
        except ProcessLookupError:
            return ""
        self.killed[kind] += 1
        self.last = time.monotonic()
        self.first = self.first or self.last
        return kind


def run(*, environment, log, sink, ask, family_of, poll, deaths, mails, writes, seed):  # noqa: PLR0913
    """What is left after so many deaths, as numbers. `mails` and `writes` are done meanwhile.

    A tenth of the deaths comes after that, when nobody writes and nothing leaves.
    """
    dice = random.Random(seed)
    ask(environment, FILL.format(each=mails // 2), 600)
    site = ask(environment, DESK)
    begun, idle = time.monotonic(), deaths // 10
    serving = start(environment, log)
    reaper, watch = Reaper(serving, family_of, dice), Watch(environment)
    share = max(writes // max(deaths, 1), 1)
    allowed = threading.Semaphore(share)
    desks = [
        Desk(environment, site, range(part, writes, 2), lambda number: allowed.acquire(timeout=30))
        for part in range(2)
    ]
    try:
        watch.start()
        poll(lambda: watch.seen and watch.seen[-1][1] == "ok", PATIENCE_SECONDS)
        for desk in desks:
            desk.start()
        while reaper.killed.total() < deaths - idle and serving.poll() is None:
            kind = reaper.strike()
            if kind:
                allowed.release(share)
            if kind.startswith("worker"):
                ask(environment, EXPIRE)
        allowed.release(10 * writes)
        for desk in desks:
            desk.join(PATIENCE_SECONDS)
        poll(lambda: settled(ask(environment, ROWS)), PATIENCE_SECONDS)
        while reaper.killed.total() < deaths and serving.poll() is None:
            reaper.strike()
        poll(lambda: watch.said()[1] == "ok", PATIENCE_SECONDS)
        found = ask(environment, ROWS)
        alive = serving.poll() is None
        watch.over.set()
    finally:
        serving.send_signal(signal.SIGTERM)
        serving.wait(90)
    kept = Counter(ask(environment, WRITES))
    acknowledged = [tag for desk in desks for tag in desk.acknowledged]
    return {
        "deaths": dict(reaper.killed),
        "deaths when idle": idle,
        "health turned after": watch.turned_after(reaper.first),
        "worker well after": watch.worked_after(reaper.last),
        "restarts forgotten after": forgotten_after(Path(environment["DATA_DIR"])),
        "seconds": round(time.monotonic() - begun),
        "the command lived": alive,
        "database": ask(environment, WHOLE)[0][0],
        "writes acknowledged": len(acknowledged),
        "writes sent": sum(desk.tries for desk in desks),
        "writes lost": sum(1 for tag in acknowledged if not kept[tag]),
        "writes doubled": sum(1 for times in kept.values() if times > 1),
        **{f"{name} mail": mail_of(found, sink, name) for name in ("staff", "customer")},
    }


def settled(rows):
    open_states = {"queued", "claimed", "sending"}
    return None if open_states & {row["state"] for row in rows} else rows


def mail_of(rows, sink, mail_class):
    taken = {
        row["message_id"]: (sink.taken[row["message_id"]], row["state"])
        for row in rows
        if row["mail_class"] == mail_class
    }
    return {
        "rows": len(taken),
        "lost": sum(1 for times, state in taken.values() if not times and state != "unknown"),
        "doubled": sum(1 for times, _ in taken.values() if times > 1),
        "unknown": sum(1 for _, state in taken.values() if state == "unknown"),
    }


def forgotten_after(folder):
    """Minutes until /healthz counts no part that was started again too often."""
    now, path = datetime.now(UTC), folder / "run" / "restarts.json"
    for minutes in range(62):
        counts = restarts.recent(path, now=now + timedelta(minutes=minutes))
        if all(times <= MOST_RESTARTS for times in counts.values()):
            return minutes
    return None


def processes(children, command_line):
    """Kind and number of the members of a family, and of one child of its worker."""

    def living(pid):
        for child in children(pid):
            words = command_line(child)
            kind = next((name for name in ("web_server", "worker", "beat") if name in words), "")
            if kind:
                yield kind, child
            if kind == "worker":
                yield from (("worker's child", own) for own in children(child)[:1])

    return living


def told(figures):
    return json.dumps(figures, indent=2)
