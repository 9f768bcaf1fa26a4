"""People who walk from page to page, and what hinders somebody on each."""

from urllib.parse import urlsplit

from .visitors import Visitor

WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
#: a whole document, not a part that another page fetches
IS_PAGE = "() => document.doctype !== null && document.contentType === 'text/html'"
#: an office's smallest screen, and the rows of the worklist that stand on it whole
LAPTOP = {"width": 1280, "height": 800}
WHOLE_ROWS = """() => [...document.querySelectorAll("#rows tbody tr:has(td.acts-cell)")]
  .filter((row) => row.getBoundingClientRect().bottom <= innerHeight).length"""


class Crowd:
    """The people who open the pages, each signed in once."""

    def __init__(self, browser, url, **screen):
        self.browser, self.url, self.screen = browser, url, screen
        self.visitors = {}

    def person(self, username):
        if username not in self.visitors:
            visitor = Visitor(self.browser, self.url, **self.screen)
            self.visitors[username] = visitor.sign_in(username) if username else visitor
        return self.visitors[username]

    def open(self, page):
        """The tab at that page, None where the address leads elsewhere or is no page."""
        tab = self.person(page.who).page
        try:
            answer = tab.goto(page.path)
        except Exception as refusal:  # a file to keep
            if "ERR_ABORTED" in str(refusal) or "Download" in str(refusal):
                return None
            raise
        assert answer.status == 200, f"{page}: {page.path} answers {answer.status}"
        is_page = urlsplit(tab.url).path == urlsplit(page.path).path and tab.evaluate(IS_PAGE)
        return tab if is_page else None

    def trouble(self):
        return [said for visitor in self.visitors.values() for said in visitor.trouble]

    def close(self):
        for visitor in self.visitors.values():
            visitor.close()


def hurdles(axe, tab):
    # what lies under a line at the thumb is scrolled clear of it by whoever presses it
    tab.locator(".sent, .onward").evaluate_all(
        "all => all.forEach(one => { one.style.position = 'static' })"
    )
    found = axe.run(tab, options={"runOnly": {"type": "tag", "values": WCAG}})
    return [
        f"{rule['id']}: {node['target'][0]}"
        for rule in found.response["violations"]
        for node in rule["nodes"]
    ]
