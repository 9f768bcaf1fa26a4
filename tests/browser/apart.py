"""A technician without signal: the same hands, and pages that the phone draws itself."""

import time

from .product import poll
from .technician import SETTLED, Technician

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


class Apart(Technician):
    """Counts what the hands do: taps, characters, seconds until the page answers."""

    def __init__(self, visitor, product, *, answers):
        self.page, self.product, self.live = visitor.page, product, True
        self.answers, self.saves_ms = answers, []
        self.taps = self.characters = self.presses = 0

    def drawn(self, act, seconds=30):
        before = self.page.evaluate(DRAWN)
        act()
        poll(lambda: self.page.evaluate(DRAWN) != before, seconds)

    def pressed(self, button):
        self.taps += 1
        self.presses += 1
        self.drawn(button.click)

    def open_block(self, key):
        """By the list of all parts, as a person goes."""
        if self.page.url.endswith(f"/{key}/"):
            return
        overview = f"/records/{self.record}/"
        if not self.page.url.endswith(overview):
            self.drawn(self.page.locator(f"main a[href='{overview}']").first.click)
        self.drawn(self.page.locator(f"#log a[href='{overview}{key}/']").click)
        self.taps += 2

    def hours_pass(self, hours):
        self.page.evaluate(MOVE, hours)

    def put(self, box, text):
        self.taps += 1
        if box["type"] not in ("radio", "checkbox", "select-one"):
            self.characters += len(text)
        super().put(box, text)

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
