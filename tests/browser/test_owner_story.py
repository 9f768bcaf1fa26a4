"""The owner: callbacks by installer, the jobs behind a number, and both as files."""

import csv
import io

from .visitors import DESK, PHONE, sideways


def test_from_the_report_to_the_jobs_and_the_file(visit):
    page = visit("osric", size=DESK, scheme="dark").page
    page.get_by_role("link", name="Callbacks").first.click()
    page.locator("table.evidence").first.wait_for()
    assert page.locator("table.evidence svg.plot").count() > 2
    rows = page.locator("table.evidence").first.locator("tbody tr")
    judged = rows.locator("a[href*='what=judgeable']")
    assert judged.count() >= 3
    number, job_list = int(judged.first.inner_text()), judged.first.get_attribute("href")
    page.goto(job_list)
    behind = page.locator("main table tbody tr").count()
    assert behind == number

    page.go_back()
    with page.expect_download() as kept:
        page.get_by_role("link", name="jobs as CSV").click()
    text = kept.value.path().read_text(encoding="utf-8-sig")
    lines = list(csv.reader(io.StringIO(text)))
    assert len(lines) > number
    assert not [cell for line in lines for cell in line if cell.startswith(("=", "+", "@"))]


def test_another_window_on_a_phone(visit):
    page = visit("osric", size=PHONE).page
    page.goto("/callbacks/")
    page.get_by_role("link", name="What is counted").click()
    page.get_by_role("link", name="365 days").click()
    page.wait_for_url("**window=365**")
    assert sideways(page) == []


def test_a_phone_shows_the_answer_and_opens_one_part_at_a_time(visit):
    """Three screens of 844 px; a desk shows all parts, and so does paper."""
    page = visit("osric", size=PHONE).page
    page.goto("/callbacks/")
    assert page.evaluate("document.documentElement.scrollHeight") <= 3 * 844
    people, causes = page.locator("#people table"), page.locator("#causes table").first
    assert not people.is_visible()
    page.get_by_role("link", name="Each installer beside the others").click()
    people.wait_for()
    assert sideways(page) == []
    page.get_by_role("link", name="Why we go back").click()
    causes.wait_for()
    assert not people.is_visible()
    page.emulate_media(media="print")
    assert people.is_visible()
    page.emulate_media(media="screen")
    page.set_viewport_size(DESK)
    assert people.is_visible()
    assert causes.is_visible()


def test_a_rule_is_changed_and_changed_back(visit):
    page = visit("osric", size=DESK).page
    page.goto("/rules/")
    page.locator("main table a, main li a").first.click()
    page.wait_for_load_state()
    box = page.locator("main input[type=number]").first
    before = box.input_value()
    for value in (str(int(before) + 1), before):
        address = page.url
        page.locator("main input[type=number]").first.fill(value)
        for button in ("Show what it would do", "Keep the rule"):
            page.get_by_role("button", name=button).click()
            page.wait_for_load_state()
        page.goto(address)
        assert page.locator("main input[type=number]").first.input_value() == value
