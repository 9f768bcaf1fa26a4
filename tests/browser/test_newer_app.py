"""The app or the phone's database changes while acts wait: old or new stands, and each act once."""

import random
import subprocess
import sys

import pytest

from .apart import KEEPS
from .phone import UNDER_WAY, Phone
from .product import ROOT, free_port, poll
from .schedules import answers
from .test_kept import START, kept, states
from .test_kept import UNDER_WAY as FIRST
from .test_without_signal import take_along
from .visitors import PHONE, Visitor

KILLS = 12
#: the same pages under another address: for the browser a newer worker, which waits
NEWER = """async () => {
  const how = { type: "module", updateViaCache: "none" };
  await navigator.serviceWorker.register("/sw.js?newer=yes", how);
}"""
WORKERS = """async () => {
  const found = await navigator.serviceWorker.getRegistration("/");
  const asked = (each) => (each ? new URL(each.scriptURL).search : null);
  return [found.active, found.waiting].map(asked);
}"""
#: begins to add a store and does not wait for it
BEGIN_NEWER_SHAPE = """async () => {
  const kept = await import("/static/jobs/kept.js");
  const more = (base) => base.createObjectStore("more", { keyPath: "name" });
  kept.openBase([...kept.SHAPES, more]);
}"""
#: as whichever version of the app finds it
FOUND = """async () => {
  const kept = await import("/static/jobs/kept.js");
  const more = (base) => base.createObjectStore("more", { keyPath: "name" });
  const base = await kept.openBase().catch(() => kept.openBase([...kept.SHAPES, more]));
  const rows = base.transaction("acts").objectStore("acts").getAll();
  await new Promise((done) => { rows.onsuccess = done; });
  base.close();
  return rows.result.map((row) => row.uuid);
}"""


@pytest.mark.runtime
def test_a_newer_app_waits_until_it_is_taken_over_and_each_act_has_one_effect(visit, product):
    pk, uuid, lead, user = product.rows(UNDER_WAY)[0]
    job = {"pk": pk, "uuid": str(uuid), "lead": lead, "user": user}
    phone = Phone(visit(lead, size=PHONE, is_cut=True), job, product)
    page = phone.page
    take_along(page)
    phone.open()
    phone.cut()
    text = phone.leave("tap-flow")
    assert phone.kept(text)["state"] == "waiting"
    phone.context.route("**/field/acts", lambda route: route.abort())
    phone.cut(False)
    page.goto("/my-day/")
    poll(lambda: page.evaluate(KEEPS) == "yes")
    page.evaluate(NEWER)
    poll(lambda: page.evaluate(WORKERS) == ["", "?newer=yes"], 120)
    take_over = page.locator("[data-take-over]")
    poll(take_over.is_visible)
    assert phone.row(text)["state"] == "waiting"
    with page.expect_navigation():
        take_over.click()
    poll(lambda: page.evaluate(WORKERS) == ["?newer=yes", None])
    assert phone.row(text)["state"] == "waiting"
    phone.context.unroute("**/field/acts")
    phone.open()
    poll(lambda: phone.row(text)["state"] != "waiting", 90)
    assert phone.effects(phone.row(text)) == [phone.row(text)["state"]]


def test_killed_while_the_phone_s_database_takes_a_newer_shape_the_acts_are_there(visit, product):
    under_way = product.ask(FIRST)
    person = visit(under_way["lead"], size=PHONE, is_cut=True)
    person.page.goto("/static/jobs/mark.svg")
    names = {name for name, _ in kept(person.page, under_way, 3)}
    for _ in range(5):
        killed = person.context.new_page()
        killed.goto("/static/jobs/mark.svg")
        killed.evaluate(BEGIN_NEWER_SHAPE)
        killed.close()
        found = person.context.new_page()
        found.goto("/static/jobs/mark.svg")
        assert names <= set(found.evaluate(FOUND))
        found.close()


class WebServer:
    """One more web server over the product's data, which nobody starts again by himself.

    The command waits longer after each death, up to a minute: too long for twelve of them.
    """

    def __init__(self, product):
        self.address = f"127.0.0.1:{free_port()}"
        self.url = f"http://{self.address}"
        self.environment = product.environment | {"LISTEN": self.address}

    def start(self):
        command = [sys.executable, "-m", "config.web_server"]
        self.process = subprocess.Popen(command, cwd=ROOT, env=self.environment)
        poll(lambda: answers(self), 120)
        return self

    def kill(self):
        self.process.kill()
        self.process.wait()


@pytest.fixture
def alone(product):
    started = WebServer(product)
    try:
        yield started.start()
    finally:
        started.kill()


def test_thirty_acts_over_servers_that_are_killed_have_thirty_effects_in_order(
    browser, product, alone
):
    """Twelve servers, one after the other, die with acts on their way."""
    under_way, chance = product.ask(FIRST), random.Random(9)
    person = Visitor(browser, alone.url, size=PHONE, is_cut=True).sign_in(under_way["lead"])
    page = person.page
    page.goto("/static/jobs/mark.svg")
    names = [name for name, _ in kept(page, under_way, 30)]
    page.evaluate(START, under_way["user"])
    for _ in range(KILLS):
        page.wait_for_timeout(chance.randint(0, 400))
        alone.kill()
        alone.start()
        page.evaluate("() => { sender.send(); }")

    def settled():
        page.evaluate("() => { sender.send(); }")
        return "waiting" not in states(page, under_way).values()

    poll(settled, 180)
    person.close()
    held = product.rows(HELD.format(user=under_way["user"]))
    wanted = [name.replace("-", "") for name in names]
    found = [str(name).replace("-", "") for name, _ in held]
    assert [name for name in found if name in wanted] == wanted


HELD = """
  SELECT a.uuid, n.state FROM jobs_act a JOIN jobs_actanswer n ON n.act_id = a.id
  WHERE a.user_id = {user} ORDER BY n.id
"""
