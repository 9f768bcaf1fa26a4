"""While the phone is below: a limit or visit is changed, the app renewed, its Python ended."""

from contextlib import suppress

import pytest

from .apart import STATE
from .phone import UNDER_WAY, Phone
from .product import poll
from .test_without_signal import take_along
from .visitors import PHONE

pytestmark = pytest.mark.runtime

LATER = "worked out anew when there is signal again."
PART = "baseline"
#: as if it were typed a minute ago
A_MINUTE_AGO = """async () => {
  const { sender } = await import("/static/jobs/thumb.js");
  sender.clock.offset -= 60_000;
}"""
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
#: the owner's page keeps another figure; what stood before is printed
TARGET = """
import json
from django.contrib.auth.models import User
from django.utils import timezone
from jobs.models import Company
from jobs.workflows.owner_edits import save_owned, version_of
company = Company.load()
before, company.iron_target_mg_l = company.iron_target_mg_l, {figure}
owner = User.objects.filter(groups__name="owner").first()
save_owned(row=company, seen=version_of(company), by=owner, now=timezone.now())
print(json.dumps(before))
"""
#: every visit of the job called off, and one that is closed somebody else's; what stood before
CALLED_OFF = """
import json
from django.contrib.auth.models import User
from jobs.models import Visit
stood = {stood!r}
other = {{"lead_id": User.objects.get(username="marit").pk, "helper_id": None}}
rows = list(Visit.objects.filter(job__records={record}))
names = ("status", "lead_id", "helper_id")
print(json.dumps([[row.pk, {{name: getattr(row, name) for name in names}}] for row in rows]))
for row in rows:
    now = other if row.status == "closed" else {{"status": "cancelled"}}
    Visit.objects.filter(pk=row.pk).update(**stood.get(row.pk, now))
"""


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


@pytest.fixture
def target(product):
    """target(figure) puts another limit for iron at the tap; afterwards the former one stands."""
    former = []

    def put(figure):
        former.append(product.ask(TARGET.format(figure=figure)))

    yield put
    if former:
        product.ask(TARGET.format(figure=former[0]))


def test_a_limit_that_was_changed_is_said_in_its_new_words(phone, target):
    phone.open(PART)
    is_ready(phone)
    phone.cut()
    iron, before = phone.box("tap-iron"), phone.box("tap-iron").input_value()
    target(0.1)
    phone.page.evaluate(A_MINUTE_AGO)
    iron.fill("0.2")
    poll(lambda: "Passed." in phone.page.locator("#s-tap-iron").inner_text())
    iron.blur()
    assert phone.kept("0.2")["state"] == "waiting"
    phone.cut(False)
    assert phone.settled("0.2")["state"] == "kept"
    poll(lambda: "1 to look at" in phone.line())
    assert "The company has changed it since" in phone.said("tap-iron")
    assert "0.1" in phone.said("tap-iron")
    phone.page.goto("/field/kept/")
    first = phone.page.locator("#kept-acts > li").first
    poll(lambda: "The company has changed it since" in first.inner_text())
    first.get_by_role("button", name="Read: put it away").click()
    poll(lambda: "to look at" not in phone.line())
    phone.open(PART)
    assert "Does not pass" in phone.page.locator("#s-tap-iron").inner_text()
    iron = phone.box("tap-iron")
    iron.fill(before)  # as it stood, open or not: others go on with this record
    iron.blur()
    poll(lambda: phone.answer("tap-iron")[0] == before)


@pytest.fixture
def cancelled(product, job):
    """cancelled(True) as if the office had called off every visit; afterwards they stand again."""
    stood = {}

    def put(is_off):
        before = {} if is_off else stood
        found = product.ask(CALLED_OFF.format(record=job["pk"], stood=before))
        stood.clear()
        stood.update(found if is_off else [])

    yield put
    if stood:
        put(False)


def _pressed(press):
    from playwright.sync_api import TimeoutError as PlaywrightTimeout  # of the group browser

    with suppress(TimeoutError, PlaywrightTimeout):
        return press()
    return False


def test_an_entry_of_a_cancelled_visit_is_copied_out_and_sent_again(phone, cancelled):
    phone.open()
    phone.cut()
    text = phone.leave("tap-flow")
    assert phone.kept(text)["state"] == "waiting"
    cancelled(True)
    phone.cut(False)
    assert phone.settled(text)["state"] == "refused"
    phone.page.goto("/field/kept/")
    first = phone.page.locator("#kept-acts > li").first
    poll(lambda: "cancelled: call the office" in first.inner_text())
    assert text in first.inner_text()
    to_copy, copied = first.get_by_label("To copy"), first.get_by_role("button", name="Copied")

    def is_copied():  # the list is drawn anew when the phone has looked for news
        first.get_by_role("button", name="Copy it").click(timeout=2000)
        return poll(lambda: copied.count() or to_copy.count(), 3)

    poll(lambda: _pressed(is_copied))
    send = first.get_by_role("button", name="Send it again")
    send.click()  # too early: it comes back, and nothing of it is lost
    poll(lambda: [row["state"] for row in phone.rows() if row["text"] == text] == ["refused"] * 2)
    poll(lambda: phone.page.get_by_role("button", name="Send it again").count() == 1)
    cancelled(False)
    send.click()
    poll(lambda: phone.row(text)["state"] == "kept")
    assert phone.answer()[0] == text
    poll(lambda: "to look at" not in phone.line())


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
