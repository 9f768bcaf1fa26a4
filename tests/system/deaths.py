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
from datetime import datetime
from zoneinfo import ZoneInfo

from django.conf import settings

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


def run(*, environment, log, sink, ask, family_of, poll, deaths, mails, writes, seed):  # noqa: PLR0913
    """What is left after so many deaths, as numbers. `mails` and `writes` are done meanwhile."""
    dice = random.Random(seed)
    ask(environment, FILL.format(each=mails // 2), 600)
    site = ask(environment, DESK)
    begun, killed = time.monotonic(), Counter()
    serving = start(environment, log)
    share = max(writes // max(deaths, 1), 1)
    allowed = threading.Semaphore(share)
    desks = [
        Desk(environment, site, range(part, writes, 2), lambda number: allowed.acquire(timeout=30))
        for part in range(2)
    ]
    try:
        for desk in desks:
            desk.start()
        while sum(killed.values()) < deaths and serving.poll() is None:
            time.sleep(dice.uniform(0.2, 2.5))
            name = dice.choice(["web_server", "worker"])
            victims = [pid for pid, words in family_of(serving.pid) if name in words]
            if not victims:
                continue
            os.kill(victims[0], signal.SIGKILL)
            killed[name] += 1
            allowed.release(share)
            if name == "worker":
                ask(environment, EXPIRE)
        allowed.release(10 * writes)
        for desk in desks:
            desk.join(PATIENCE_SECONDS)
        found = poll(lambda: settled(ask(environment, ROWS)), PATIENCE_SECONDS)
        alive = serving.poll() is None
    finally:
        serving.send_signal(signal.SIGTERM)
        serving.wait(90)
    kept = Counter(ask(environment, WRITES))
    acknowledged = [tag for desk in desks for tag in desk.acknowledged]
    return {
        "deaths": dict(killed),
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


def processes(children, command_line):
    """The members of a family with their words."""
    return lambda pid: [(child, command_line(child)) for child in children(pid)]


def told(figures):
    return json.dumps(figures, indent=2)
