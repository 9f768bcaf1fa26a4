"""Worker, beat and web as processes of their own, and a mail server that remembers."""

import asyncio
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from contextlib import contextmanager
from pathlib import Path

import redis
from aiosmtpd.controller import Controller
from django.conf import settings
from django.test import override_settings

from config.family import parts

#: stands in every name, street and address of these tests; found nowhere outside the database
MARK = "Zzmarked"

FILL = """
from datetime import timedelta
from django.contrib.auth.models import Group, User
from django.utils import timezone
from equipment.models import Site
from jobs.mail.about import account_invitation, visit_confirmation
from jobs.models import Company, Customer, Job, SiteTenure, Visit
now = timezone.now()
Company.objects.update_or_create(pk=1, defaults=dict(mail_from_hour=0, mail_until_hour=24))
lead = User.objects.create_user("zzmarked-lead", "zzmarked-lead@example.com", "tank-heater-1",
                                first_name="Zzmarked", last_name="Lead")
for number in range({each}):
    user = User.objects.create_user(f"zzmarked-{{number}}", f"zzmarked-s{{number}}@example.com",
                                    None, first_name="Zzmarked")
    account_invitation.write(user=user, now=now)
    customer = Customer.objects.create(name=f"Zzmarked {{number}}",
                                       email=f"zzmarked-c{{number}}@example.com")
    site = Site.objects.create(street=f"{{number}} Zzmarked Road", town="Zzmarked Ford")
    SiteTenure.objects.create(customer=customer, site=site, from_on="2020-01-01")
    job = Job.objects.create(site=site, kind="service", reported_on=now.date(), opened_at=now,
                             opened_by=lead, customer=customer)
    start = now + timedelta(days=3)
    visit = Visit.objects.create(job=job, lead=lead, status="confirmed", starts_at=start,
                                 ends_at=start + timedelta(hours=1), arrive_from=start,
                                 arrive_until=start + timedelta(hours=1), booked_at=now,
                                 booked_by=lead)
    visit_confirmation.write(visit=visit, now=now)
print("[]")
"""
ROWS = """
import json
from jobs.models import OutboxMail
print(json.dumps(list(OutboxMail.objects.values("mail_class", "state", "message_id", "starts"))))
"""
#: the holder of these leases is dead, so waiting three minutes would show nothing more
EXPIRE = """
from datetime import timedelta
from django.utils import timezone
from jobs.models import OutboxMail
OutboxMail.objects.filter(state__in=["claimed", "sending"]).update(
    lease_until=timezone.now() - timedelta(seconds=1))
print("[]")
"""


class Sink:
    """Takes every message and waits a little before it says so, to widen the gap."""

    def __init__(self, pause=0.03):
        self.pause, self.taken = pause, Counter()

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        head = envelope.content.decode("utf-8", "replace")
        identity = next(line for line in head.splitlines() if line.startswith("Message-ID:"))
        self.taken[identity.removeprefix("Message-ID:").strip()] += 1
        await asyncio.sleep(self.pause)
        return "250 taken"

    @property
    def count(self):
        return self.taken.total()


@contextmanager
def mail_server(port, pause=0.03):
    sink = Sink(pause)
    controller = Controller(sink, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield sink
    finally:
        controller.stop()


class Stack:
    def __init__(self, environment, folder):
        self.environment, self.folder, self.running = environment, Path(folder), []
        with override_settings(OWN_BROKER=not environment["CELERY_BROKER_URL"]):
            self.parts = parts()

    def start(self, part, *words):
        """One of web, worker, beat, with a log of its own."""
        log = self.folder / f"{part}-{len(self.running)}.log"
        with open(log, "wb") as file:
            process = subprocess.Popen(
                [sys.executable, "-m", *self.parts[part], *words],
                cwd=settings.BASE_DIR,
                env=self.environment,
                stdout=file,
                stderr=subprocess.STDOUT,
                stdin=subprocess.DEVNULL,
                process_group=0,
            )
        self.running.append(process)
        return process

    def start_clock(self, *words):
        """With a broker on the network; in memory the worker wakes itself."""
        return [self.start("beat", *words)] if "beat" in self.parts else []

    def manage(self, *words):
        return subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=settings.BASE_DIR,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=True,
        ).stdout

    def kill(self, process):
        """The process and its children at once, as when the power goes."""
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()

    def stop(self):
        for process in self.running:
            if process.poll() is None:
                process.terminate()
        deadline = time.monotonic() + 40
        for process in self.running:
            try:
                process.wait(max(deadline - time.monotonic(), 0.1))
            except subprocess.TimeoutExpired:
                self.kill(process)

    def logs(self):
        return "".join(path.read_text(errors="replace") for path in self.folder.glob("*.log"))

    def broker_content(self):
        """Everything the broker holds, as text; in memory nobody can look."""
        return redis_content(redis.Redis.from_url(self.environment["CELERY_BROKER_URL"]))


def redis_content(client):
    read = {
        b"string": client.get,
        b"hash": client.hgetall,
        b"set": client.smembers,
        b"list": lambda key: client.lrange(key, 0, -1),
        b"zset": lambda key: client.zrange(key, 0, -1),
    }
    found = [f"{key!r} {read[client.type(key)](key)!r}" for key in client.scan_iter()]
    client.close()
    return "\n".join(found)
