"""How a technician fills a record: box after box with the script, page after page without.

Only what stands on the screen is used: labels, boxes, buttons. `hours_pass` moves the waits that
have begun into the past, as if the person had come back later.
"""

import time

from .answers import STARTUP, answers_for
from .product import poll

BOXES = """() => [...document.querySelectorAll(
    "#answers input:not([type=hidden]), #answers select:not(.unit)")]
  .filter((box) => box.name && !box.name.includes("~") && box.checkVisibility())
  .map((box) => ({name: box.name, type: box.type, value: box.value}))"""

#: of one page; one that stays would be ticked for ever
MOST_WARNINGS = 20
#: the answer has taken its place on the page
SETTLED = "() => !document.querySelector('.htmx-request, .htmx-swapping, .htmx-settling')"

#: from the last answer to the press that it makes, ms
GOES_MS = 200
GOES = "() => Boolean(document.querySelector('.onward [data-goes]'))"

HOURS_PASS = """
from datetime import timedelta
from jobs.models import DialStep, Timer
for model, fields in ((DialStep, ["set_at"]), (Timer, ["started_at"])):
    for row in model.objects.filter(record_id={record}):
        for field in fields:
            setattr(row, field, getattr(row, field) - timedelta(hours={hours}))
        row.save()
"""


def pressed(page, button):
    """With the script the act is answered first, then the page is left."""
    with page.expect_navigation():
        button.click()


class Technician:
    def __init__(self, visitor, product, *, answers=None):
        self.page, self.product = visitor.page, product
        self.live = visitor.page.evaluate("document.documentElement.classList.contains('live')")
        self.answers = answers_for(product, self.record, {**STARTUP, **(answers or {})})
        self.saves_ms = []

    def pressed(self, button):
        pressed(self.page, button)
        self.has_gone_on(self.page.url)  # a press that leaves nothing open leads on

    # --- where -------------------------------------------------------------------------------

    @property
    def record(self):
        return int(self.page.url.split("/records/")[1].split("/")[0])

    def open_block(self, key):
        self.page.goto(f"/records/{self.record}/{key}/")

    def hours_pass(self, hours):
        self.product.ask(HOURS_PASS.format(record=self.record, hours=hours))
        self.page.reload()

    # --- answering -----------------------------------------------------------------------------

    def is_answered(self, box):
        if box["type"] in ("radio", "checkbox"):
            chosen = f"#answers [name='{box['name']}']:checked"
            return self.page.locator(chosen).count() > 0
        return bool(box["value"])

    def fill_block(self, *, passes=3, without="no line"):
        """Every box of the page that has an answer; answers may open further boxes."""
        self.read_cautions()
        here = self.page.url
        for _ in range(passes):
            open_boxes = [b for b in self.page.evaluate(BOXES) if not self.is_answered(b)]
            known = [box for box in open_boxes if box["name"] in self.answers]
            wanted = [box for box in known if not box["name"].startswith(without)]
            if not wanted:
                break
            for box in wanted:
                if not self.is_answered(box):
                    self.put(box, self.answers[box["name"]])
            if self.has_gone_on(here):
                return
            self.confirm_warnings()
            self.press("Save, stay here")
            self.read_cautions()
        self.run_cycles()

    def has_gone_on(self, here):
        """With the script the last answer, where it is touched, opens the next part by itself."""
        if not self.live:
            return False
        self.page.wait_for_timeout(GOES_MS)
        (goes,) = poll(lambda: [self.page.url != here or self.page.evaluate(GOES)])
        if goes:
            self.page.wait_for_url(lambda url: url != here)
        return goes

    def run_cycles(self):
        """The first jar of each tank is clear."""
        clear = self.page.locator("#answers button[name$='~cycle'][value$=':clear']")
        while before := clear.count():
            self.pressed(clear.first)
            assert clear.count() < before

    def put(self, box, text):
        named = f"#answers [name='{box['name']}']"
        if box["type"] == "radio":
            self.saving(lambda: self.page.locator(f"{named}[value='{text}']").check())
        elif box["type"] == "checkbox":
            self.saving(lambda: self.page.locator(named).check())
        elif box["type"] == "select-one":
            self.saving(lambda: self.page.locator(named).select_option(text))
        else:
            self.saving(lambda: self.type_into(named, text))

    def type_into(self, named, text):
        self.page.locator(named).fill(text)
        if self.live:
            self.page.locator(named).blur()

    def saving(self, act):
        """With the script each answer is kept when its box is left."""
        if not self.live:
            act()
            return
        begun = time.monotonic()
        with self.page.expect_response(lambda answer: answer.url.endswith("/answer/")) as kept:
            act()
        assert kept.value.status == 200, kept.value.text()
        self.saves_ms.append(1000 * (time.monotonic() - begun))
        self.page.wait_for_function(SETTLED)

    def confirm_warnings(self):
        sure = self.page.locator("#answers [name$='~sure']:not(:checked)")
        for _ in range(MOST_WARNINGS):
            if not sure.count():
                return
            self.saving(lambda: sure.first.check())
        raise AssertionError(f"not confirmed: {self.text()}")

    def read_cautions(self):
        button = self.page.get_by_role("button", name="I have read this")
        while button.count():
            before = button.count()
            self.pressed(button.first)
            assert button.count() < before

    def press(self, name):
        self.pressed(self.page.get_by_role("button", name=name).first)

    # --- dial-back -----------------------------------------------------------------------------

    def set_step(self, percent):
        self.page.locator("[name=setting_percent]").fill(percent)
        self.press("It is set: start the wait")

    def read_step(self, band, look):
        self.page.locator(f"[name=look][value={look}]").check()
        self.page.locator(f"[name=band][value='{band}']").check()
        self.page.locator("[name=iron_clear][value=yes]").check()
        odour = self.page.locator("[name=odour_clear][value=yes]")
        if self.live:
            self.pressed(odour)  # the last answer saves the reading
        else:
            odour.check()
            self.press("Save this reading")

    def text(self):
        return self.page.locator("main").inner_text()
