"""Photos on a phone: made smaller, kept until they are sent, or sent whole by the plain form."""

import io

import pytest
from PIL import Image

from .phone import FULL
from .product import poll
from .test_without_signal import take_along
from .visitors import PHONE, sideways

RECORD = """
import json
from jobs.models import ChecklistRecord, Visit
record = ChecklistRecord.objects.filter(closed_at=None, steps__isnull=False).first()
lead = Visit.objects.filter(job=record.job, status="on_site").get().lead
print(json.dumps({"record": record.pk, "lead": lead.username}))
"""
#: what other tests put into the record is taken out, for it holds no more than twelve
MAKE_ROOM = """
import json
from django.contrib.auth.models import User
from django.utils import timezone
from jobs.models import Photo
from jobs.workflows import photos
owner = User.objects.filter(groups__name="owner").first()
there = Photo.objects.filter(record=%(record)s, removed_at=None)
for photo in there:
    photos.remove(photo=photo, by=owner, now=timezone.now())
"""
KEPT = """
import json
from jobs.models import Photo
photo = Photo.objects.filter(caption={caption!r}).latest("pk")
picture = photo.picture
print(json.dumps({{"size": [picture.width, picture.height], "part": photo.block}}))
"""
#: how long before its arrival each was taken, in seconds, and how many pictures lie there
TAKEN = """
import json
from jobs.models import Act, Photo, Picture
photos = Photo.objects.filter(caption={caption!r})
names = {{str(photo.picture.uuid): photo.at for photo in photos}}
acts = [act for act in Act.objects.filter(kind="photo") if act.body["payload"]["photo"] in names]
told = {{act.body["payload"]["photo"]: act.received_at for act in acts}}
late = [(told[name] - at).total_seconds() for name, at in names.items() if name in told]
print(json.dumps([late, Picture.objects.filter(uuid__in=names).count()]))
"""
STATES = """async () => {
  const kept = await import("/static/jobs/kept.js");
  const rows = await kept.actsOf(Number(document.getElementById("sent").dataset.user));
  return rows.filter((row) => row.act.kind === "photo").map((row) => row.state);
}"""
PICTURES = """async () => {
  const kept = await import("/static/jobs/kept.js");
  return (await kept.photosOf(Number(document.getElementById("sent").dataset.user))).length;
}"""

#: a photo of so many bytes that waits; `erase` takes it back before it is ever sent
BIG = """async ({ bytes, record }) => {
  const kept = await import("/static/jobs/kept.js");
  const { actOf } = await import("/static/jobs/acts.js");
  window.erase = kept.takeBack;
  const photo = { uuid: crypto.randomUUID(), bytes: new ArrayBuffer(bytes), sha256: "" };
  const act = actOf("photo", { photo: photo.uuid, caption: "Big", shows: "" }, {});
  await kept.keepAct({ act, box: `photo/${photo.uuid}`, photo });
  return act.uuid;
}"""
#: an entry without a picture, kept and taken back
WORDS_KEPT = """async () => {
  const kept = await import("/static/jobs/kept.js");
  const { actOf, keep } = await import("/static/jobs/acts.js");
  const row = await keep({ act: actOf("acknowledge", { caution: "pit" }), box: "words" });
  await kept.takeBack(row.uuid);
  return row.state;
}"""

#: the bytes that leave the phone, which the browser does not tell otherwise
NOTED = """
const leave = window.fetch;
window.fetch = (where, how) => {
  if (how?.body instanceof ArrayBuffer) {
    const before = JSON.parse(sessionStorage.sent || "[]");
    sessionStorage.sent = JSON.stringify([...before, how.body.byteLength]);
  }
  return leave(where, how);
};
"""


@pytest.fixture(scope="module", autouse=True)
def room(product):
    product.ask(MAKE_ROOM % product.ask(RECORD))


def noise(width, height):
    """A picture a phone would take: many colours, so that it does not pack to nothing."""
    small = Image.effect_noise((width // 8, height // 8), 90).convert("RGB")
    out = io.BytesIO()
    small.resize((width, height)).save(out, "JPEG", quality=95)
    return {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def opened(page, known, part="fill"):
    """The form, once its script has taken it over."""
    page.goto(f"/records/{known['record']}/photos/?part={part}")
    ready(page)
    return page


def ready(page):
    poll(lambda: page.locator("#photos-form").get_attribute("data-keeps") == "yes")


def take(page, caption, *pictures):
    page.locator("[name=photos]").set_input_files(list(pictures))
    page.get_by_label("What it shows").fill(caption)
    page.get_by_role("button", name="Keep these photos").click()


def waiting(page, caption):
    return page.locator("#photos-waiting li").filter(has_text=caption)


def test_the_phone_makes_a_photo_smaller_before_it_is_sent(visit, product):
    known = product.ask(RECORD)
    page = visit(known["lead"], size=PHONE).page
    page.add_init_script(NOTED)
    chosen = [noise(4000, 3000), noise(1200, 900)]
    take(opened(page, known), "Two tanks", *chosen)
    page.get_by_role("link", name="Two tanks").first.wait_for()
    assert page.get_by_role("link", name="Two tanks").count() == 2
    large, small = page.evaluate("JSON.parse(sessionStorage.sent)")
    assert 0 < small < large < len(chosen[0]["buffer"]) / 2
    assert product.ask(KEPT.format(caption="Two tanks")) == {"size": [1200, 900], "part": "fill"}
    assert sideways(page) == []


def test_a_picture_that_cannot_be_read_is_said_and_nothing_is_lost(visit, product):
    known = product.ask(RECORD)
    page = visit(known["lead"], size=PHONE).page
    bad = {"name": "odd.jpg", "mimeType": "image/jpeg", "buffer": b"no picture"}
    take(opened(page, known), "Odd one", bad)
    page.get_by_text("odd.jpg: This picture cannot be read. Use the camera button.").wait_for()
    assert page.get_by_label("What it shows").input_value() == "Odd one"


def test_photos_taken_without_signal_wait_here_and_are_sent_once(visit, product):
    known = product.ask(RECORD)
    phone = visit(known["lead"], size=PHONE, is_cut=True)
    page = opened(phone.page, known)
    phone.context.set_offline(True)
    take(page, "No bars here", noise(1600, 1200), noise(800, 600))
    poll(lambda: waiting(page, "No bars here").count() == 2)
    first = waiting(page, "No bars here").first
    assert "Not sent. Kept on this phone" in first.inner_text()
    assert first.locator("canvas").count() == 1
    assert page.get_by_label("What it shows").input_value() == ""
    take(page, "By mistake", noise(800, 600))
    waiting(page, "By mistake").get_by_role("button", name="Erase it here").click()
    poll(lambda: waiting(page, "By mistake").count() == 0)
    assert page.evaluate(STATES) == ["waiting", "waiting"]
    assert product.ask(TAKEN.format(caption="No bars here")) == [[], 0]
    page.wait_for_timeout(3000)
    phone.context.set_offline(False)
    poll(lambda: page.get_by_role("link", name="No bars here").count() == 2)
    late, pictures = product.ask(TAKEN.format(caption="No bars here"))
    assert (len(late), pictures) == (2, 2)
    assert min(late) >= 2
    assert waiting(page, "No bars here").count() == 0
    poll(lambda: page.evaluate(PICTURES) == 0)


def test_the_form_opens_without_signal_from_the_day_that_was_taken_along(visit, product):
    known = product.ask(RECORD)
    phone = visit(known["lead"], size=PHONE, is_cut=True)
    page = phone.page
    take_along(page)
    phone.context.set_offline(True)
    opened(page, known, part="backwash")
    assert "No signal: this page is as of" in page.locator(".from-kit").inner_text()
    assert page.get_by_label("Part of the record").input_value() == "backwash"
    take(page, "In the cellar", noise(800, 600))
    poll(lambda: waiting(page, "In the cellar").count())
    page.reload()
    ready(page)
    poll(lambda: waiting(page, "In the cellar").count())
    phone.context.set_offline(False)
    poll(lambda: page.get_by_role("link", name="In the cellar").count(), 60)
    kept = product.ask(KEPT.format(caption="In the cellar"))
    assert kept == {"size": [800, 600], "part": "backwash"}


def test_a_photo_that_is_refused_says_why_and_goes_when_that_was_read(visit, product):
    known = product.ask(RECORD)
    page = opened(visit(known["lead"], size=PHONE).page, known)
    page.route("**/field/photos/*", refuse)
    take(page, "Too large", noise(800, 600))
    refused = waiting(page, "Too large")
    refused.get_by_text("Not saved. It has more dots than we take.").wait_for()
    assert refused.locator("canvas").count() == 1
    refused.get_by_role("button", name="Read: put it away").click()
    poll(lambda: refused.count() == 0)
    page.reload()
    ready(page)
    poll(lambda: page.evaluate(PICTURES) == 0)
    assert page.evaluate(STATES)[-1] == "refused"


def refuse(route):
    route.fulfill(status=422, json={"error": "It has more dots than we take."})


def test_a_full_phone_says_so_and_sends_at_once_where_there_is_signal(visit, product):
    known = product.ask(RECORD)
    phone = visit(known["lead"], size=PHONE, is_cut=True)
    page = opened(phone.page, known)
    page.evaluate(FULL)
    phone.context.set_offline(True)
    take(page, "Full phone", noise(800, 600))
    page.get_by_text("Not sent: no connection. It is still chosen here").wait_for()
    assert page.locator("[name=photos]").evaluate("(box) => box.files.length") == 1
    phone.context.set_offline(False)
    page.get_by_role("button", name="Keep these photos").click()
    page.get_by_role("link", name="Full phone").wait_for()
    assert product.ask(TAKEN.format(caption="Full phone"))[1] == 1


def test_forty_megabytes_of_photos_may_wait_and_words_go_on(visit, product):
    """One photo of almost as much waits already; erased, there is room again."""
    known = product.ask(RECORD)
    phone = visit(known["lead"], size=PHONE, is_cut=True)
    page = opened(phone.page, known)
    phone.context.set_offline(True)
    big = page.evaluate(BIG, {"bytes": 40 * 2**20 - 1000, "record": known["record"]})
    take(page, "One too many", noise(800, 600))
    page.get_by_text("NOT kept on this phone: there is no room.").wait_for()
    assert page.locator("[name=photos]").evaluate("(box) => box.files.length") == 1
    assert page.evaluate(PICTURES) == 1
    assert page.evaluate(WORDS_KEPT) == "waiting"
    assert page.evaluate("(uuid) => window.erase(uuid)", big)
    page.get_by_role("button", name="Keep these photos").click()
    poll(lambda: waiting(page, "One too many").count())
    phone.context.set_offline(False)
    page.get_by_role("link", name="One too many").wait_for()


def test_without_script_the_plain_form_takes_the_camera_s_own_file(visit, product):
    known = product.ask(RECORD)
    page = visit(known["lead"], size=PHONE, script=False).page
    page.goto(f"/records/{known['record']}/photos/?part=backwash")
    page.locator("[name=photos]").set_input_files([noise(4000, 3000)])
    page.get_by_label("What it shows").fill("Drain, plain")
    page.get_by_role("button", name="Keep these photos").click()
    page.get_by_role("link", name="Drain, plain").wait_for()
    kept = product.ask(KEPT.format(caption="Drain, plain"))
    assert kept == {"size": [1600, 1200], "part": "backwash"}
