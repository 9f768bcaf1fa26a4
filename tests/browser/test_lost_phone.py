"""A phone that was reported lost forgets everything as soon as it is heard of."""

from .phone import KEPT, UNDER_WAY, Phone
from .product import poll
from .visitors import DESK, PHONE

#: stores of the phone's database that still hold something, but for what is noted of the phone
HELD = """async () => {
  const base = await new Promise((done, failed) => {
    const asked = indexedDB.open("revisit");
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => failed(asked.error);
  });
  const names = [...base.objectStoreNames].filter((name) => name !== "meta");
  const all = base.transaction(names);
  const counted = await Promise.all(names.map((name) => new Promise((done) => {
    const asked = all.objectStore(name).count();
    asked.onsuccess = () => done([name, asked.result]);
  })));
  base.close();
  return counted.filter(([, count]) => count);
}"""
LAST = """
import json
from jobs.models import Phone
phone = Phone.objects.filter(user__username={lead!r}).first()
print(json.dumps({{"pk": phone and phone.pk}}))
"""
WIPED = """
import json
from jobs.models import Phone
print(json.dumps(Phone.objects.get(pk={pk}).wiped_at is not None))
"""


def test_it_forgets_what_it_kept_and_asks_who_is_there(visit, product):
    pk, uuid, lead, user = product.rows(UNDER_WAY)[0]
    job = {"pk": pk, "uuid": str(uuid), "lead": lead, "user": user}
    phone = Phone(visit(lead, size=PHONE, is_cut=True), job, product).open()
    known = poll(lambda: product.ask(LAST.format(lead=lead))["pk"])
    phone.cut()
    phone.kept(phone.leave("tap-flow"))
    assert phone.page.evaluate(HELD)
    office = visit("marit", size=DESK).page
    office.goto("/phones/")
    button = office.locator(f"form[action='/phones/{known}/lost/'] button")
    button.click()
    office.get_by_text("is signed out everywhere.").wait_for()
    phone.cut(False)
    poll(lambda: phone.page.evaluate("location.pathname") == "/sign-in/")
    assert phone.page.evaluate(HELD) == []
    assert phone.page.evaluate(KEPT, user) == []
    assert product.ask(WIPED.format(pk=known)) is True
