"""While the phone is below: the app is renewed, the system ends its Python."""

import pytest

from .apart import STATE
from .phone import UNDER_WAY, Phone
from .product import poll
from .test_without_signal import take_along
from .visitors import PHONE

pytestmark = pytest.mark.runtime

LATER = "worked out anew when there is signal again."
PART = "baseline"
#: the kit as a former version of the app has fetched it
OF_A_FORMER_VERSION = """async (user) => {
  const kept = await import("/static/jobs/kept.js");
  const kit = await kept.kitOf(user);
  kit.facts -= 1;
  for (const row of kit.visits) if (row.facts) row.facts.number -= 1;
  await kept.keepKit(kit);
}"""
FACTS_OF_KIT = """async (user) => {
  const kept = await import("/static/jobs/kept.js");
  return (await kept.kitOf(user)).facts;
}"""


@pytest.fixture
def job(product):
    pk, uuid, lead, user = product.rows(UNDER_WAY)[0]
    return {"pk": pk, "uuid": str(uuid), "lead": lead, "user": user}


@pytest.fixture
def phone(visit, job, product):
    """At the start-up under way, the day taken along, Python ready, and no signal."""
    person = visit(job["lead"], size=PHONE, is_cut=True)
    take_along(person.page)
    return Phone(person, job, product)


def is_ready(phone):
    poll(lambda: phone.page.evaluate(STATE) == "ready", 180)


def ended(phone):
    """Without a word, as a phone ends a program that takes too much memory."""
    (worker,) = phone.page.workers
    worker.evaluate("self.close()")


def test_a_day_taken_along_by_a_former_version_opens_and_keeps_entries(phone):
    user = phone.job["user"]
    phone.page.evaluate(OF_A_FORMER_VERSION, user)
    phone.cut()
    phone.page.goto(f"/records/{phone.job['pk']}/dial-back/")
    phone.ready()
    poll(lambda: phone.page.evaluate(STATE) == "unfit", 180)
    glass = phone.page.locator("#turnover")
    poll(lambda: glass.inner_text().endswith(LATER))
    text = phone.leave("tap-flow")
    assert phone.kept(text)["state"] == "waiting"
    poll(lambda: "Not sent. Kept on this phone" in phone.said())
    whole = f"main a[href='/records/{phone.job['pk']}/']"
    phone.page.locator(whole).first.click()  # pages stand as taken along
    poll(lambda: "still open" in phone.page.locator("h1").inner_text(), 60)
    phone.cut(False)
    assert phone.settled(text)["state"] == "kept"
    assert phone.effects(phone.row(text)) == ["kept"]
    phone.page.goto("/my-day/")  # with signal it is fetched anew by itself
    number = phone.page.locator("#take-along").get_attribute("data-facts")
    poll(lambda: str(phone.page.evaluate(FACTS_OF_KIT, user)) == number, 60)


def test_python_that_the_phone_has_ended_comes_back_once_and_entries_stay(phone):
    phone.open()
    is_ready(phone)
    phone.cut()
    ended(phone)
    first = phone.leave("tap-flow")
    assert phone.kept(first)["state"] == "waiting"
    poll(lambda: phone.page.evaluate(STATE) in ("starting", "failed"), 60)
    is_ready(phone)
    glass = phone.page.locator("#turnover")
    poll(lambda: "Worked out on this phone." in glass.inner_text(), 60)
    assert LATER not in glass.inner_text()
    ended(phone)  # the second time it is left alone
    second = phone.leave("tap-flow")
    assert phone.kept(second)["state"] == "waiting"
    poll(lambda: phone.page.evaluate(STATE) == "failed", 60)
    poll(lambda: glass.inner_text().endswith(LATER), 60)
    poll(lambda: "Not sent. Kept on this phone" in phone.said(), 60)
    phone.cut(False)
    states = [phone.settled(text)["state"] for text in (first, second)]
    assert states == ["kept", "kept"]
    assert phone.answer()[0] == second
    assert phone.effects(phone.row(first), phone.row(second)) == ["kept", "kept"]
    poll(lambda: LATER not in glass.inner_text(), 60)
