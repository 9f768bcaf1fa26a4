"""Every page of the access matrix, read as its people read it: nearly a year after its rows."""

import re
from datetime import timedelta
from html import unescape

import pytest
from django.conf import settings

from tests.conftest import NOW, signed_in
from tests.factories import make_staff
from tests.jobs.test_access_matrix import address, world
from tests.matrix import lines

pytestmark = pytest.mark.django_db
#: 10 June of one year is read on 6 April of the next
LATER = NOW + timedelta(days=300)
MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
#: a day with its month, in either order, and no year behind it
YEARLESS = re.compile(
    rf"\b(?:(\d{{1,2}})\s({'|'.join(MONTHS)})[a-z]*|({'|'.join(MONTHS)})[a-z]*\s(\d{{1,2}}))\b"
    r"(?!,?\s\d{4}|\d)"
)
#: months around that day: what is shown without a year there is of that year
NEAR = ("Mar", "Apr", "May")
CODE_WORD = re.compile(r"(?<![\w./@-])[a-z]+(?:_[a-z]+)+\b")


@pytest.fixture
def read(clock):
    """(name, what stands on the page in words, its HTML) of each page that answers."""
    office = make_staff("technician", "dispatcher", "owner")
    made = world(office, office)
    clock(LATER)
    client = signed_in(office)
    found = []
    for line in lines():
        if "GET" not in line["methods"].split() or line["url_name"] == "sign-out":
            continue
        page = client.get(address(line["url_name"], made))
        if page.status_code == 200 and page.get("Content-Type", "").startswith("text/html"):
            html = page.content.decode()
            found.append((line["url_name"], words(html), html))
    assert len(found) > 80
    return found


def words(html):
    """What is seen: no head, no script, no attributes."""
    body = re.sub(r"(?s)<head>.*?</head>|<script.*?</script>|<!--.*?-->", " ", html)
    body = re.sub(r"(?s)<(code|pre)\b.*?</\1>", " ", body)
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", body)).split())


def test_no_day_of_another_year_without_its_year(read):
    wrong = []
    for name, text, _ in read:
        for found in YEARLESS.finditer(text):
            if (found[2] or found[3]) not in NEAR:
                wrong.append(f"{name}: {text[max(0, found.start() - 30) : found.end() + 12]}")
    assert wrong == []


def test_no_code_word_and_no_words_of_the_form_library(read):
    wrong = [
        f"{name}: {found[0]}"
        for name, text, _ in read
        for found in [*CODE_WORD.finditer(text), *re.finditer("Ensure this value", text)]
    ]
    assert wrong == []


def test_every_button_names_its_act(read):
    saved = re.compile(r"<button[^>]*>\s*(Save|Submit|OK|Send)\s*</button>")
    assert [name for name, _, html in read if saved.search(html)] == []


# --- where no row of that test stands -------------------------------------------------------------

#: the columns of a week, whose heading says the year
OF_ONE_WEEK = {"visits/week.html", "visits/_week_cell.html"}


def test_a_template_writes_no_day_without_the_year_beside_it():
    folder, wrong = settings.BASE_DIR / "templates", []
    for path in folder.rglob("*.html"):
        for number, line in enumerate(path.read_text().splitlines(), 1):
            forms = re.findall(r"date:[\"']([^\"']*)[\"']", line)
            lacking = [form for form in forms if re.search("[jd].*[MFN]", form) and "Y" not in form]
            name = str(path.relative_to(folder))
            if lacking and "Y" not in forms and name not in OF_ONE_WEEK:
                wrong.append(f"{name}:{number} {lacking[0]}")
    assert wrong == []


def test_the_pattern_finds_what_it_looks_for():
    assert YEARLESS.search("due 10 Jun, window")
    assert YEARLESS.search("of Wednesday, June 10 at")
    assert not YEARLESS.search("due 10 Jun 2026, window")
    assert not YEARLESS.search("on June 10, 2026.")
    assert CODE_WORD.search("kind visit_confirmation sent")
    assert not CODE_WORD.search("see x@example.com/a_b and /x_y/ tests")
