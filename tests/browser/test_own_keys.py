"""Keys of our own on a phone: the signs before a figure, and the bands of a strip."""

import pytest

from .phone import BACK, STOOD, UNDER_WAY, Phone
from .product import poll
from .visitors import PHONE, TARGET, sideways

IRON, PEROXIDE = "tap-iron", "peroxide-retention"
FOCUSED = "document.activeElement.name || ''"


@pytest.fixture(scope="module")
def job(product):
    pk, uuid, lead, user = product.rows(UNDER_WAY)[0]
    found = {"pk": pk, "uuid": str(uuid), "lead": lead, "user": user}
    stood = {
        line: (side, text, unit) for line, side, text, unit in product.rows(STOOD.format(pk=pk))
    }
    yield found
    rows = [(line, *stood.get(line, ("", "", "mg/L"))) for line in (IRON, PEROXIDE)]
    product.ask(BACK.format(pk=pk, rows=rows, lead=lead))


@pytest.fixture
def phone(visit, job, product):
    return Phone(visit(job["lead"], size=PHONE), job, product).open("baseline")


def key(phone, name, sign):
    return phone.page.locator(f"#answers [name='{name}~sign'][value='{sign}']")


def test_a_figure_below_the_range_of_the_kit_is_pressed_and_typed_on_a_keypad(phone):
    page = phone.page
    for sign in ("", "<", ">"):
        box = key(phone, IRON, sign).locator("xpath=..").bounding_box()
        assert min(box["width"], box["height"]) >= TARGET
    assert sideways(page) == []
    asked = []
    page.on("request", lambda sent: asked.append(sent.url))
    key(phone, IRON, "<").tap()
    assert (
        page.evaluate(FOCUSED) == IRON
    )  # the keypad is open, and nothing was sent without a figure
    assert not [url for url in asked if url.endswith("/answer/")]
    page.keyboard.type("0.05")
    page.keyboard.press("Enter")
    assert phone.settled("< 0.05")["state"] == "kept"
    assert phone.answer(IRON)[0] == "< 0.05"
    page.reload()
    assert key(phone, IRON, "<").is_checked()
    assert phone.box(IRON).input_value() == "0.05"
    key(phone, IRON, "").tap()  # it was found after all
    assert phone.settled("0.05")["state"] == "kept"


def test_the_keys_are_reached_and_heard_without_a_finger(phone):
    page = phone.page
    phone.leave(IRON, "0.07")
    phone.settled("0.07")
    key(phone, IRON, "").focus()
    page.keyboard.press("ArrowRight")
    assert page.evaluate(FOCUSED) == f"{IRON}~sign"
    assert phone.settled("< 0.07")["state"] == "kept"
    named = page.get_by_role("radio", name="below the range of the kit")
    assert named.count() > 2
    group = page.get_by_role(
        "group", name="Iron, kitchen tap: as read, or beyond the range of the kit"
    )
    assert group.get_by_role("radio").count() == 3
    page.keyboard.press("ArrowRight")
    assert phone.settled("> 0.07")["state"] == "kept"


def test_a_draft_keeps_its_sign(phone):
    phone.box(IRON).fill("")
    key(phone, IRON, "<").tap()
    phone.page.keyboard.type("0.0")
    poll(lambda: "< 0.0" in phone.drafts())


def test_a_band_of_a_strip_is_one_touch(phone):
    page = phone.page
    bands = page.get_by_role("group", name="One of these: Peroxide before the carbon")
    if phone.box(PEROXIDE).input_value():
        bands.locator("xpath=..").locator("summary").tap()
    band = bands.get_by_role("button", name="5 to 10", exact=True)
    assert min(band.bounding_box()[side] for side in ("width", "height")) >= TARGET
    band.tap()
    assert phone.settled("5-10")["state"] == "kept"
    assert phone.answer(PEROXIDE)[0] == "5-10"
