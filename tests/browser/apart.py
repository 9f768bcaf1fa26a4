"""A technician without signal: the same hands, and pages that the phone draws itself."""

import json
import re
import time
from collections import Counter
from contextlib import contextmanager
from urllib.parse import quote

from .product import poll
from .technician import SETTLED, Technician

#: from a touched tile to the box that it leads to, ms
LED_MS = 150

#: time goes on for the phone alone, its steady clock with it
CLOCK = """(() => {
  const moved = () => {
    try { return Number(localStorage.getItem("moved") || 0); } catch { return 0; }
  };
  const wall = Date.now.bind(Date);
  Date.now = () => wall() + moved();
  const steady = performance.now.bind(performance);
  performance.now = () => steady() + moved();
})()"""
MOVE = """(hours) => {
  const before = Number(localStorage.getItem("moved") || 0);
  localStorage.setItem("moved", String(before + hours * 3600e3));
}"""
DRAWN = "document.documentElement.dataset.drawn || '0'"
STATE = "document.documentElement.dataset.python || ''"
KEEPS = "document.documentElement.dataset.keeps || ''"
#: every act of a person on this phone, or nothing where the browser does not say so in time
KEPT = """async (user) => {
  const kept = await import("/static/jobs/kept.js");
  const late = new Promise((done) => { setTimeout(done, 5000, null); });
  const rows = await Promise.race([kept.actsOf(user), late]);
  return (rows || []).map((row) => ({
    uuid: row.uuid, state: row.state, kind: row.act.kind, payload: row.act.payload,
    said: row.answer ? row.answer.sentence || row.answer.against || "" : "",
  }));
}"""


#: where the hand is led, and what kind of box it is; "" where nothing has the focus
FOCUSED = """() => {
  const box = document.activeElement;
  return box && box.closest("#answers") && box.matches("input[type=text]") ? box.name : "";
}"""
STILL_OPEN = re.compile(r"(\d+) answers? (?:is|are) still open")
#: a figure is typed without its unit, which stands beside the box
FIGURE = re.compile(r"^[<>]?\s*[\d.]+(?:-[\d.]+)?")


#: boxes, and jars of a backwash whose next one is due
BOXES_IN_ORDER = """() => [...document.querySelectorAll(
    "#answers input:not([type=hidden]), #answers select:not(.unit), "
    + "#answers button[name$='~cycle'][value$=':clear']")]
  .filter((box) => box.name && (!box.name.includes("~") || box.name.endsWith("~cycle")))
  .filter((box) => box.checkVisibility())
  .map((box) => ({name: box.name, type: box.type, value: box.value}))"""
#: the last box was left, and the page is about to go on by itself
IS_ENDED = "() => Boolean(document.querySelector('.onward button.main[data-goes]'))"
#: the line that a box stands in
LINE = "xpath=ancestor::div[contains(concat(' ', @class, ' '), ' ask ')][1]"
#: more than a page has
MOST_BOXES = 60


def is_about(answer, name):
    """The answer to a line that was left."""
    sent = answer.request.post_data or ""
    return answer.url.endswith("/answer/") and f"item={quote(name.partition(':')[0])}" in sent


class Apart(Technician):
    """Counts what the hands do: taps, keys (with "next"), seconds until the page answers."""

    def __init__(self, visitor, product, *, answers, types_over=()):
        self.page, self.product, self.live = visitor.page, product, True
        self.answers, self.types_over, self.saves_ms = answers, types_over, []
        self.counted = Counter()

    @property
    def taps(self):
        return sum(number for what, number in self.counted.items() if what != "key")

    @property
    def keys(self):
        return self.counted["key"]

    def tap(self, what, number=1):
        self.counted[what] += number

    @contextmanager
    def uncounted(self):
        before = Counter(self.counted)
        yield
        self.counted = before

    def drawn(self, act, seconds=30):
        before = self.page.evaluate(DRAWN)
        act()
        poll(lambda: self.page.evaluate(DRAWN) != before, seconds)

    def pressed(self, button):
        """A press that leaves nothing open leads on."""
        self.tap("button")
        self.drawn(button.click)
        here = self.page.evaluate(DRAWN)
        if self.page.evaluate(IS_ENDED):
            poll(lambda: self.page.evaluate(DRAWN) != here)

    def open_block(self, key):
        """On by the button at the thumb; by the list of all parts where that leads elsewhere."""
        if self.page.url.endswith(f"/{key}/"):
            return
        onward = self.page.locator(".onward button")
        if onward.count():
            self.tap("next part")
            self.drawn(onward.click)
        if self.page.url.endswith(f"/{key}/"):
            return
        overview = f"/records/{self.record}/"
        if not self.page.url.endswith(overview):
            self.overview()
        self.tap("all parts")
        self.drawn(self.page.locator(f"#log a[href='{overview}{key}/']").click)

    @property
    def part(self):
        """The part of the record that stands on the page, by its address."""
        return self.page.url.rstrip("/").rpartition("/")[2]

    def go_on(self, part):
        """On to the part behind this one, if the page did not lead there; to no closing."""
        onward = self.page.locator(".onward .act:not(.quiet)")
        if self.part == part and "close the record" not in onward.inner_text():
            self.tap("next part")
            self.drawn(onward.click)
        return self.part not in (part, "close")

    def overview(self):
        self.tap("all parts")
        self.drawn(self.page.locator(f"main a[href='/records/{self.record}/']").first.click)

    def open_answers(self):
        """How many the list of all parts says are open still."""
        return int(poll(lambda: STILL_OPEN.search(self.text()))[1])

    def hours_pass(self, hours):
        self.page.evaluate(MOVE, hours)

    # --- answering, from box to box as a hand is led --------------------------------------------

    def fill_block(self, *, passes=MOST_BOXES, without="no line"):
        """Where the hand is led, else the first open box of the page; stops are read by name."""
        self.read_cautions()
        self.take_what_stands()
        key = self.page.url
        for _ in range(passes):
            boxes = self.wanted(without)
            led = [box for box in boxes if box["name"] == self.page.evaluate(FOCUSED)]
            if not boxes or self.page.url != key:
                break
            self.answer((led or boxes)[0])
            self.confirm_warnings()
            self.read_cautions()

    def wanted(self, without):
        """Open boxes that this person knows an answer to, in the order of the page."""
        return [
            box
            for box in self.page.evaluate(BOXES_IN_ORDER)
            if self.is_cycle(box) or self.is_wanted(box, without)
            if self.is_cycle(box) or not self.is_answered(box)
        ]

    def is_cycle(self, box):
        return box["name"].endswith("~cycle")

    def answer(self, box):
        if self.is_cycle(box):
            clear = f"#answers button[name='{box['name']}'][value$=':clear']"
            self.pressed(self.page.locator(clear))
        else:
            self.put(box, self.answers[box["name"]])

    def is_wanted(self, box, without):
        """As found is asked where something was set before, and nothing was before a start-up."""
        is_known = box["name"] in self.answers and not box["name"].startswith(without)
        return is_known and not box["name"].endswith(":found")

    def take_what_stands(self):
        """Figures that are no readings, by one press."""
        whole = self.page.locator("#answers .stands button[name=take]")
        if whole.count():
            self.take(whole)

    def take(self, button):
        self.tap("take")
        *_, (last, _, _) = json.loads(button.get_attribute("value"))
        here = self.page.evaluate(DRAWN)
        with self.page.expect_response(lambda answer: is_about(answer, last), timeout=60_000):
            button.click()
        self.led(here)

    def led(self, here):
        """The answer stands, and the hand was led on; from the last one to another page."""
        poll(lambda: self.page.evaluate(SETTLED))
        self.page.wait_for_timeout(LED_MS)
        if self.page.evaluate(IS_ENDED):
            poll(lambda: self.page.evaluate(DRAWN) != here)

    def put(self, box, text):
        named = f"#answers [name='{box['name']}']"
        here = self.page.evaluate(DRAWN)
        if whole := self.said_of_several(named):
            self.take(whole)
            return
        if box["type"] in ("radio", "checkbox"):
            self.tap("tile" if box["type"] == "radio" else "tick")
            super().put(box, text)
            self.led(here)
            return
        if day := self.tile_of(named, text):
            self.take(day)
            return
        is_offered = re.split("[.:]", box["name"])[0] not in self.types_over
        if is_offered and (offer := self.offered(named)):
            self.take(offer)
            return
        if self.page.evaluate(FOCUSED) != box["name"]:
            self.tap("box")
            self.page.locator(named).click()
        typed = self.figure(named, text)
        self.counted["key"] += len(typed) + 1
        self.saving(lambda: self.type_and_go_on(typed))
        self.led(here)

    def offered(self, named):
        """The button that puts what stands on file into the box by one press, if there is one."""
        place = f"[id='{self.page.locator(named).get_attribute('id')}-offers'] button[name=take]"
        return self.page.locator(place).first if self.page.locator(place).count() else None

    def said_of_several(self, named):
        """The button that answers this line and others, where all it says is what was done."""
        ask = self.page.locator(named).first.locator(LINE)
        for button in ask.locator("[id$='-offers'] button[name=take]").all():
            puts = json.loads(button.get_attribute("value"))
            if len(puts) > 1 and all(self.says(name, said) for name, said, _ in puts):
                return button
        return None

    def says(self, name, said):
        """A figure is put without its unit."""
        answer = self.answers.get(name, "")
        figure = FIGURE.match(answer)
        return said in (answer, figure and figure[0])

    def tile_of(self, named, text):
        """The tile of the box that says just this, where nothing is measured."""
        ask = self.page.locator(named).first.locator(LINE)
        tile = ask.locator(".tiles button[name=take]").filter(has_text=re.compile(f"^{text}$"))
        return tile.first if tile.count() else None

    def figure(self, named, text):
        """What fingers type; who types words writes them out."""
        is_words = self.page.locator(named).get_attribute("inputmode") is None
        return text if is_words else FIGURE.match(text)[0]

    def type_and_go_on(self, typed):
        self.page.keyboard.type(typed)
        self.page.keyboard.press("Enter")

    def saving(self, act):
        """As with signal; who answers is the phone, and the machine may be busy."""
        begun = time.monotonic()
        of_line = lambda answer: answer.url.endswith("/answer/")  # noqa: E731
        with self.page.expect_response(of_line, timeout=60_000) as kept:
            act()
        assert kept.value.headers["x-worked-out"] == "phone"
        assert kept.value.status == 200, kept.value.text()
        self.saves_ms.append(1000 * (time.monotonic() - begun))
        poll(lambda: self.page.evaluate(SETTLED))

    # --- dial-back -------------------------------------------------------------------------------

    def set_step(self, percent):
        """The advice stands in the box; only another figure is typed."""
        box = self.page.locator("[name=setting_percent]")
        if float(box.input_value() or 0) != float(percent):
            self.tap("box")
            self.counted["key"] += len(percent)
        super().set_step(percent)

    def read_step(self, band, look):
        self.tap("tile", 3)  # the last one saves the reading
        super().read_step(band, look)
