"""One press that answers several lines: each of their answers opens lines, and each comes once."""

import re
from collections import Counter

from .product import poll
from .technician import SETTLED
from .test_technician_story import BOOKED, arrive_and_begin
from .visitors import PHONE

KEYS = """() => [...document.querySelectorAll("#answers .item[data-key]")]
  .map((line) => line.dataset.key)"""


def test_a_line_that_several_answers_open_at_once_stands_there_once(visit, product):
    booked = product.ask(BOOKED.format(street="12 Sedgewren Lane"))
    person = visit(booked["lead"], size=PHONE)
    page = person.page
    arrive_and_begin(page, booked["visit"])
    page.goto(page.url.replace("/isolate/", "/disinfect/"))
    with page.expect_response(lambda answer: answer.url.endswith("/answer/")):
        page.locator("#answers [name='disinfect-scope'][value='here']").check()
    together = page.get_by_role("button", name=re.compile("^All [0-9] stand so$"))
    together.wait_for()
    told = []  # each line that the press answers has an answer of its own
    page.on("response", lambda answer: answer.url.endswith("/answer/") and told.append(answer))
    lines = int(re.search("[0-9]", together.inner_text())[0])
    together.click()
    poll(lambda: page.evaluate(SETTLED) and len(told) == lines)
    page.wait_for_function(SETTLED)
    stand = Counter(page.evaluate(KEYS))
    opened = [key for key in stand if key.startswith("sanitised")]
    assert len(opened) == 3
    assert [key for key, times in stand.items() if times > 1] == []
