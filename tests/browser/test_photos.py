"""Photos on a phone: made smaller by the script, or sent as they are by the plain form."""

import io

from PIL import Image

from .visitors import PHONE, sideways

RECORD = """
import json
from jobs.models import ChecklistRecord, Visit
record = ChecklistRecord.objects.filter(closed_at=None, steps__isnull=False).first()
lead = Visit.objects.filter(job=record.job, status="on_site").get().lead
print(json.dumps({"record": record.pk, "lead": lead.username}))
"""
KEPT = """
import json
from jobs.models import Photo
photo = Photo.objects.filter(caption={caption!r}).latest("pk")
picture = photo.picture
print(json.dumps({{"size": [picture.width, picture.height], "part": photo.block}}))
"""

#: the bytes that leave the phone, which the browser does not tell otherwise
NOTED = """
const leave = window.fetch;
window.fetch = (where, how) => {
  const before = JSON.parse(sessionStorage.sent || "[]");
  sessionStorage.sent = JSON.stringify([...before, how.body.size]);
  return leave(where, how);
};
"""


def noise(width, height):
    """A picture a phone would take: many colours, so that it does not pack to nothing."""
    small = Image.effect_noise((width // 8, height // 8), 90).convert("RGB")
    out = io.BytesIO()
    small.resize((width, height)).save(out, "JPEG", quality=95)
    return {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def test_the_phone_makes_a_photo_smaller_before_it_is_sent(visit, product):
    known = product.ask(RECORD)
    page = visit(known["lead"], size=PHONE).page
    page.add_init_script(NOTED)
    chosen = [noise(4000, 3000), noise(1200, 900)]
    page.goto(f"/records/{known['record']}/photos/?part=fill")
    page.locator("[name=photos]").set_input_files(chosen)
    page.get_by_label("What it shows").fill("Two tanks")
    page.get_by_role("button", name="Keep these photos").click()
    page.get_by_role("link", name="Two tanks").first.wait_for()
    assert page.get_by_role("link", name="Two tanks").count() == 2
    large, small = page.evaluate("JSON.parse(sessionStorage.sent)")
    assert 0 < small < large < len(chosen[0]["buffer"]) / 2
    assert product.ask(KEPT.format(caption="Two tanks")) == {"size": [1200, 900], "part": "fill"}
    assert sideways(page) == []


def test_a_picture_that_cannot_be_read_is_said_and_nothing_is_lost(visit, product):
    known = product.ask(RECORD)
    page = visit(known["lead"], size=PHONE).page
    page.goto(f"/records/{known['record']}/photos/")
    bad = {"name": "odd.jpg", "mimeType": "image/jpeg", "buffer": b"no picture"}
    page.locator("[name=photos]").set_input_files([bad])
    page.get_by_label("What it shows").fill("Odd one")
    page.get_by_role("button", name="Keep these photos").click()
    page.get_by_text("odd.jpg: This picture cannot be read. Use the camera button.").wait_for()
    assert page.get_by_label("What it shows").input_value() == "Odd one"


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
