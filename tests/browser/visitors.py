"""A browser, and people in front of it whose console is watched."""

import os
import re
import shutil
from contextlib import contextmanager

from .product import PASSWORD

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE = {"width": 390, "height": 844}
NARROW = {"width": 320, "height": 640}
DESK = {"width": 1280, "height": 900}
#: CSS pixels; WCAG 2.2 asks for 24 (2.5.8), a wet glove for 48: common practice, no source
TARGET = 48
#: a refused form answers so on purpose, which the browser notes in its console
ON_PURPOSE = re.compile(r"Failed to load resource: .* status of (403|404|409|422|425) ")
#: a line that a test cuts, or a server that it ends, is noted by the browser as well
CUT = re.compile(
    r"Failed to load resource: (net::ERR_|.* status of 401 )"
    r"|htmx:(afterRequest|sendError), |Response Status Error Code (403|425) "
)
PATIENCE_MS = 15_000


def executable():
    return os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"


@contextmanager
def open_browser():
    from playwright.sync_api import sync_playwright  # of the group browser

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=executable(), args=ARGUMENTS)
        yield browser
        browser.close()


class Visitor:
    """One person at one screen. `trouble` gathers what no page may cause."""

    def __init__(self, browser, url, *, size=DESK, scheme="light", script=True, is_cut=False):
        self.trouble = []
        self.is_cut = is_cut
        self.context = browser.new_context(
            base_url=url,
            viewport=size,
            color_scheme=scheme,
            java_script_enabled=script,
            has_touch=size["width"] < 500,
            reduced_motion="reduce",
        )
        self.context.set_default_timeout(PATIENCE_MS)
        self.context.on("console", self._console)
        self.context.on("weberror", self._script)
        self.context.on("response", self._response)
        self.page = self.context.new_page()

    def _console(self, message):
        expected = ON_PURPOSE.match(message.text) or (self.is_cut and CUT.match(message.text))
        if message.type in ("error", "warning") and not expected:
            where = message.page.url if message.page else ""
            self.trouble.append(f"{where}: {message.type}: {message.text}")

    def _script(self, error):
        """A library that is being fetched while the line is cut lets go of a promise of its own."""
        if not (self.is_cut and str(error.error).endswith("Failed to fetch")):
            self.trouble.append(f"script: {error.error}")

    def _response(self, response):
        if response.status >= 500:
            self.trouble.append(f"{response.url}: {response.status}")

    def sign_in(self, username):
        self.page.goto("/sign-in/")
        self.page.fill("[name=username]", username)
        self.page.fill("[name=password]", PASSWORD)
        self.page.click("main button[type=submit]")
        self.page.wait_for_url(lambda url: "/sign-in/" not in url)
        return self

    def last_seen(self, picture):
        """Where a failed test stands, in words and as a picture."""
        self.page.screenshot(path=picture, full_page=True)
        text = self.page.locator("body").inner_text()
        return f"{self.page.url}\n{text[:1500]}\n{picture}"

    def close(self):
        self.context.close()


#: wider than the window, and not inside something that scrolls by itself
SIDEWAYS = """() => {
  const wide = document.documentElement.clientWidth;
  const found = [];
  const whole = document.documentElement.scrollWidth;
  if (whole > wide) found.push("page " + whole);
  const scrolls = (element) => {
    for (let up = element.parentElement; up; up = up.parentElement) {
      if (/auto|scroll|hidden|clip/.test(getComputedStyle(up).overflowX) && up !== document.body
          && up !== document.documentElement) return true;
    }
    return false;
  };
  for (const element of document.body.querySelectorAll("*")) {
    const box = element.getBoundingClientRect();
    if (box.width && box.right > wide + 1 && !scrolls(element)) {
      const name = element.tagName.toLowerCase() + "." + element.className;
      found.push(name + " to " + Math.round(box.right));
    }
  }
  return found.slice(0, 4);
}"""


#: lower or narrower than a wet glove hits; a link within a sentence is read, not aimed at
SMALL = """(least) => {
  const found = [];
  const inSentence = (link) => [...link.parentElement.childNodes].some(
    (node) => node.nodeType === Node.TEXT_NODE && node.textContent.trim().length > 2);
  for (const one of document.querySelectorAll(
      "a[href], button, summary, select, textarea, input:not([type=hidden])")) {
    const ticked = one.matches("[type=checkbox], [type=radio], [type=file]");
    const target = (ticked && one.closest("label")) || one;
    const box = target.getBoundingClientRect();
    const style = getComputedStyle(target);
    if (!box.width || style.visibility === "hidden" || style.clipPath !== "none") continue;
    if (box.right < 0 || box.bottom < 0) continue;  // shown when it is tabbed to
    if (one.matches("a") && style.display === "inline" && inSentence(one)) continue;
    if (box.height + 0.5 < least || box.width + 0.5 < least / 2) {
      const words = (one.innerText || one.name || "").trim().slice(0, 24);
      found.push(`${one.tagName.toLowerCase()} "${words}" ${Math.round(box.width)} x `
        + Math.round(box.height));
    }
  }
  return found.slice(0, 6);
}"""


def small(page, least):
    """Targets that are lower than so many pixels, empty where none is."""
    return page.evaluate(SMALL, least)


def sideways(page):
    """What sticks out to the right, empty where nothing does."""
    return page.evaluate(SIDEWAYS)
