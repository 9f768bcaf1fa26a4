"""The database of the browser and the sender, without a page around them."""

import pytest

from .product import poll
from .visitors import PHONE

UNDER_WAY = """
import json
from jobs.models import ChecklistRecord, Visit
record = ChecklistRecord.objects.filter(closed_at=None, steps__isnull=False).first()
visit = Visit.objects.filter(job=record.job, status="on_site").get()
print(json.dumps({"record": str(record.uuid), "lead": visit.lead.username, "user": visit.lead_id}))
"""
EFFECTS = """
import json
from jobs.models import Act
rows = Act.objects.filter(uuid__in={names!r}).order_by("pk")
print(json.dumps([[str(row.uuid), row.answer.state] for row in rows]))
"""
#: acts of a caution that nobody asks about: any number of them, each with its own effect
PREPARE = """async ({user, record, count}) => {
  const kept = await import("/static/jobs/kept.js");
  const made = [];
  for (let number = 0; number < count; number += 1) {
    const act = {
      uuid: crypto.randomUUID(), act: 1, user, kind: "answer", record, visit: null,
      at: new Date().toISOString(), after: "", needs: "",
      payload: {line: "tap-flow", stage: null, side: "", text: String(2 + number), unit: "gpm",
        version: 0},
    };
    await kept.keepDraft({user, box: `${record}/tap-flow`, text: String(2 + number)});
    made.push(await kept.keepAct({act, box: `${record}/tap-flow`}));
  }
  return made.map((row) => [row.uuid, row.act.after]);
}"""
START = """async (user) => {
  const { Sender } = await import("/static/jobs/sender.js");
  window.sender = new Sender({user, hello: "/field/hello", acts: "/field/acts"});
  sender.start();
}"""
STATES = """async (user) => {
  const kept = await import("/static/jobs/kept.js");
  return (await kept.actsOf(user)).map((row) => [row.uuid, row.state]);
}"""
DRAFTS = """async (user) => {
  const kept = await import("/static/jobs/kept.js");
  return (await kept.draftsOf(user)).length;
}"""


@pytest.fixture
def under_way(product):
    return product.ask(UNDER_WAY)


@pytest.fixture
def phone(visit, under_way):
    person = visit(under_way["lead"], size=PHONE, is_cut=True)
    person.page.goto("/static/jobs/mark.svg")  # a page that sends nothing by itself
    return person


def kept(page, under_way, count=1):
    told = {"user": under_way["user"], "record": under_way["record"], "count": count}
    return page.evaluate(PREPARE, told)


def states(page, under_way):
    return dict(page.evaluate(STATES, under_way["user"]))


def test_an_act_takes_the_place_of_its_draft_and_rests_on_the_one_before(phone, under_way):
    rows = kept(phone.page, under_way, 3)
    assert [after for _, after in rows] == ["", rows[0][0], rows[1][0]]
    assert phone.page.evaluate(DRAFTS, under_way["user"]) == 0
    assert set(states(phone.page, under_way).values()) == {"waiting"}


def test_what_waits_is_sent_in_order_and_has_one_effect_from_two_tabs(phone, under_way, product):
    names = [name for name, _ in kept(phone.page, under_way, 4)]
    other = phone.context.new_page()
    other.goto("/my-day/")
    for page in (phone.page, other):
        page.evaluate(START, under_way["user"])
    poll(lambda: "waiting" not in states(other, under_way).values())
    effects = product.ask(EFFECTS.format(names=names))
    assert [name for name, _ in effects] == names
    assert dict(effects) == states(phone.page, under_way)


def test_an_answer_that_is_lost_is_given_again(phone, under_way, product):
    """The office has kept it; the phone never heard of it, and sends it once more."""
    lost = []

    def lose(route):
        route.fetch()
        lost.append(route.request.post_data_json["uuid"])
        route.abort()

    phone.page.route("**/field/acts", lose, times=1)
    (name, _), *_ = kept(phone.page, under_way)
    phone.page.evaluate(START, under_way["user"])
    poll(lambda: states(phone.page, under_way)[name] != "waiting")
    assert lost == [name]
    assert [found for found, _ in product.ask(EFFECTS.format(names=[name]))] == [name]


def test_another_person_on_the_phone_sends_nothing_of_it(phone, under_way, product):
    (name, _), *_ = kept(phone.page, under_way)
    phone.page.evaluate(START, under_way["user"] + 1000)
    poll(lambda: phone.page.evaluate("sender.trouble") == "person")
    assert states(phone.page, under_way)[name] == "waiting"
    assert product.ask(EFFECTS.format(names=[name])) == []


def test_a_newer_shape_adds_stores_and_keeps_what_waits(phone, under_way):
    (name, _), *_ = kept(phone.page, under_way)
    stores = phone.page.evaluate(
        """async () => {
          const kept = await import("/static/jobs/kept.js");
          const more = (base) => base.createObjectStore("more");
          const base = await kept.openBase([...kept.SHAPES, more]);
          const names = [...base.objectStoreNames];
          base.close();
          return names;
        }"""
    )
    assert "more" in stores
    found = phone.page.evaluate(
        """() => new Promise((done) => {
          indexedDB.open("revisit").onsuccess = ({target}) => {
            const all = target.result.transaction("acts").objectStore("acts").getAll();
            all.onsuccess = () => done(all.result.map((row) => row.uuid));
          };
        })"""
    )
    assert name in found
