"""The pages of a record: what a technician sees, types, and gets back."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import Answer, DoNotUse, LogEntry, Override
from jobs.records.loading import load_sheet
from jobs.workflows.notices import Danger, open_notice
from jobs.workflows.records import close_record
from tests.conftest import NOW, signed_in
from tests.factories import make_staff, make_visit
from tests.record_scenes import (
    acknowledge_all,
    answer,
    answer_all,
    make_house,
    make_ready,
    read_final_step,
)

pytestmark = pytest.mark.django_db
HTMX = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def house():
    record, visit, lead = make_house()
    return record, visit, lead, signed_in(lead)


def page(record, block):
    return reverse("record-block", args=[record.pk, block])


def test_every_page_of_a_start_up_opens(house):
    record, _, _, client = house
    keys = [block.key for block in load_sheet(record, now=NOW).blocks]
    assert " ".join(keys) == (
        "isolate hold disinfect flush raw-water fill backwash brine rinse stop-test dial-back "
        "program baseline handover"
    ).replace("flush ", "")
    for key in keys:
        answered = client.get(page(record, key))
        assert answered.status_code == 200, key
        assert "<h1>" in answered.content.decode()


def test_the_overview_lists_all_parts_and_says_what_is_open(house):
    record, _, _, client = house
    html = client.get(reverse("record-detail", args=[record.pk])).content.decode()
    assert "still open" in html
    assert "Which dosing pump setting does this water need?" in html


def test_save_without_script_keeps_every_box_and_goes_on(house):
    record, _, _, client = house
    answered = client.post(
        page(record, "isolate"), {"scope": "new", "isolated": "yes", "switching": "switch_load"}
    )
    assert answered.status_code == 302
    assert answered.url == page(record, "hold")
    kept = dict(Answer.objects.exclude(line_key="uses-asked").values_list("line_key", "text"))
    assert kept == {"scope": "new", "isolated": "yes", "switching": "switch_load"}


def test_a_refused_page_keeps_everything_typed_and_says_one_sentence(house):
    record, _, _, client = house
    answered = client.post(
        page(record, "raw-water"), {"raw-iron": "3", "raw-ph": "71", "raw-manganese": "< 0.05"}
    )
    html = answered.content.decode()
    assert answered.status_code == 422
    assert 'value="71"' in html
    assert "must be 0 to 14" in html
    assert re.search(r'value="&lt;"\s+id="a-raw-manganese-below" checked', html)
    assert 'value="0.05"' in html
    assert Answer.objects.filter(line_key="raw-ph").count() == 0
    assert Answer.objects.get(line_key="raw-iron").text == "3"
    assert LogEntry.objects.filter(verb="answer_refused").count() == 1


def test_a_sign_is_picked_where_the_keypad_has_none(house):
    record, _, _, client = house
    picked = {"raw-iron": "0.05", "raw-iron~sign": "<", "raw-iron~unit": "mg/L", "stay": "1"}
    client.post(page(record, "raw-water"), picked)
    assert Answer.objects.get(line_key="raw-iron").text == "< 0.05"
    client.post(page(record, "raw-water"), picked)
    assert Answer.objects.get(line_key="raw-iron").version == 1, "the same answer is no new one"
    html = client.get(page(record, "raw-water")).content.decode()
    assert re.search(r'value="&lt;"\s+id="a-raw-iron-below" checked', html)


def test_a_sign_has_a_key_of_its_own_with_words_for_who_hears_the_page(house):
    record, _, _, client = house
    html = " ".join(client.get(page(record, "raw-water")).content.decode().split())
    keys = re.findall(
        r'<input type="radio" name="raw-iron~sign" value="(.*?)" id="(.*?)"( checked)?> '
        r'<span aria-hidden="true">(.*?)</span><span class="vh">(.*?)</span>',
        html,
    )
    assert [(value, shown, said) for value, _, _, shown, said in keys] == [
        ("", "=", "as read"),
        ("&lt;", "&lt;", "below the range of the kit"),
        ("&gt;", "&gt;", "above the range of the kit"),
    ]
    assert [checked.strip() for _, _, checked, _, _ in keys] == ["checked", "", ""]
    assert 'name="raw-iron~sign"' in html
    assert 'name="raw-temperature~sign"' not in html, "a thermometer reads no less than it can"


def test_one_answer_is_saved_as_it_is_left_and_comes_back_alone(house):
    record, _, _, client = house
    answered = client.post(
        reverse("record-answer", args=[record.pk]),
        {"item": "raw-iron", "raw-iron": "12", "raw-iron~unit": "mg/L"},
        **HTMX,
    )
    html = answered.content.decode()
    assert answered.status_code == 200
    assert "<html" not in html
    assert "Look twice" in html
    assert Answer.objects.get(line_key="raw-iron").text == "12"


def test_a_refused_answer_comes_back_as_typed(house):
    record, _, _, client = house
    answered = client.post(
        reverse("record-answer", args=[record.pk]), {"item": "raw-ph", "raw-ph": "abc"}, **HTMX
    )
    assert answered.status_code == 422
    assert 'value="abc"' in answered.content.decode()


def test_yes_i_checked_is_one_tap(house):
    record, _, lead, client = house
    answer(record, lead, "raw-iron", "12")
    client.post(
        reverse("record-answer", args=[record.pk]),
        {"item": "raw-iron", "raw-iron": "12", "raw-iron~unit": "mg/L", "raw-iron~sure": "1"},
        **HTMX,
    )
    assert Answer.objects.get(line_key="raw-iron").warning_confirmed_at is not None


def test_an_answer_renews_the_glasses_of_its_page(house):
    record, _, lead, client = house
    answer_all(record, lead, without=("steps", "feed-time"))
    feeder = load_sheet(record, now=timezone.now()).feeder
    name = f"feed-time.{feeder.pk}"
    html = client.post(
        reverse("record-answer", args=[record.pk]),
        {"item": name, name: "180", f"{name}~unit": "s"},
        **HTMX,
    ).content.decode()
    glass = html.split('id="feeder-calibration" hx-swap-oob')[1]
    assert "hx-swap-oob" in html
    assert "needs: dosing pump setting" in glass


def test_a_line_is_left_open_with_a_reason_and_a_gate_passed_over_by_name(house):
    record, _, lead, client = house
    client.post(page(record, "raw-water"), {"skip": "raw-sulfide", "raw-sulfide~skip": "no kit"})
    assert Answer.objects.get(line_key="raw-sulfide").skip_reason == "no kit"
    answered = client.post(page(record, "isolate"), {"over": "air-gap", "air-gap~over": ""})
    assert answered.status_code == 422
    client.post(page(record, "isolate"), {"over": "air-gap", "air-gap~over": "next week"})
    assert Override.objects.get().by == lead
    client.post(page(record, "isolate"), {"unover": "air-gap"})
    assert Override.objects.count() == 0


def test_a_stop_is_read_by_name(house):
    record, _, lead, client = house
    html = client.get(page(record, "isolate")).content.decode()
    assert "I have read this. Tess Alder" in html
    client.post(
        reverse("record-acknowledge", args=[record.pk]), {"caution": "pressure", "block": "isolate"}
    )
    html = client.get(page(record, "isolate")).content.decode()
    assert "Read by Tess Alder" in html
    assert html.count("caution halt") == 1


def pour(client, record, **typed):
    site = record.site_id
    sent = {f"told-{site}": "C. Prudhomme", f"asked-{site}": "on", **typed}
    return client.post(reverse("record-pour", args=[record.pk]), sent)


def test_the_contact_time_survives_the_phone_and_opens_the_notice(house):
    record, _, lead, client = house
    answer(record, lead, "disinfect-scope", "here")
    begin = {"line": "contact", "block": "disinfect", "do": "start", "sure": "1"}
    said = client.post(reverse("record-timer", args=[record.pk]), begin, follow=True)
    assert "First “All told: pour”" in said.content.decode()
    assert not record.timers.exists()
    pour(client, record)
    client.post(
        reverse("record-timer", args=[record.pk]),
        {"line": "contact", "block": "disinfect", "do": "start", "sure": "1"},
    )
    timer = record.timers.get()
    assert timer.needed_minutes == 12 * 60
    notice = DoNotUse.objects.standing().get()
    assert notice.level == "no_use"
    client.post(
        reverse("record-timer", args=[record.pk]),
        {"line": "contact", "block": "disinfect", "do": "start", "sure": "1"},
    )
    assert record.timers.get().started_at == timer.started_at
    assert "data-started-at" in client.get(page(record, "disinfect")).content.decode()


def test_the_notice_is_lifted_on_a_low_reading_taken_after_a_high_one(house):
    record, _, lead, client = house
    now = timezone.now()
    open_notice(danger=Danger(record.site, "no_use", "chlorine in", "oxidant"), by=lead, now=now)
    answer(record, lead, "disinfect-scope", "here", now=now)
    lift = reverse("record-lift", args=[record.pk])
    answer(record, lead, "flush-low", "0.1", now=now)
    client.post(lift, {"block": "flush"})
    assert DoNotUse.objects.standing().count() == 1
    answer(record, lead, "flush-high", "5", now=now + timedelta(minutes=1))
    client.post(lift, {"block": "flush"})
    assert DoNotUse.objects.standing().count() == 1, "the low reading is older than the high one"
    answer(record, lead, "flush-low", "0.2", now=now + timedelta(minutes=2))
    client.post(lift, {"block": "flush"})
    assert DoNotUse.objects.get().lifted_on_reading.endswith("cold tap 0.2, no hot water")


def test_the_dial_back_goes_from_setting_to_reading_to_keeping(house):
    record, _, lead, client = house
    answer_all(record, lead, without=("steps",), now=timezone.now())
    html = client.get(page(record, "dial-back")).content.decode()
    assert "Setting to start from" in html
    client.post(reverse("record-step", args=[record.pk]), {"setting_percent": "40"})
    html = client.get(page(record, "dial-back")).content.decode()
    assert "a few bubbles" in html
    assert "Three turnovers" in html
    refused = client.post(reverse("record-step-read", args=[record.pk, 1]), {"look": "milky"})
    assert refused.status_code == 422
    assert "Choose what the strip shows" in refused.content.decode()
    client.post(
        reverse("record-step-read", args=[record.pk, 1]),
        {"look": "milky", "band": "10-25", "iron_clear": "yes"},
    )
    step = record.steps.get()
    assert (step.residual_low_mg_l, step.residual_high_mg_l) == (10, 25)
    html = client.get(page(record, "dial-back")).content.decode()
    assert 'class="late">early' in html
    answered = client.post(
        reverse("record-step-read", args=[record.pk, 1]), {"keep": "1"}, follow=True
    )
    assert "three turnovers" in answered.content.decode()
    assert not record.steps.filter(is_final=True).exists()


def test_closing_lists_what_is_missing_and_where(house):
    record, _, _, client = house
    html = client.get(reverse("record-close", args=[record.pk])).content.decode()
    assert "stand against closing" in html
    assert page(record, "stop-test") in html
    assert client.post(reverse("record-close", args=[record.pk])).status_code == 422


def test_a_ready_record_is_closed_printed_and_not_changed():
    record, _, lead = make_ready()
    client = signed_in(lead)
    answered = client.post(reverse("record-close", args=[record.pk]), follow=True)
    html = answered.content.decode()
    assert "Closed " in html
    document = record.documents.get()
    pdf = client.get(reverse("document", args=[document.pk]))
    assert pdf["Content-Type"] == "application/pdf"
    assert pdf.content == bytes(document.content)
    printed = client.get(reverse("record-print", args=[record.pk])).content.decode()
    assert "local code and licensed practice" in printed
    refused = client.post(page(record, "raw-water"), {"raw-iron": "9"})
    assert refused.status_code == 422
    assert "closed" in refused.content.decode()
    assert "Next: " not in client.get(page(record, "baseline")).content.decode()


def test_nothing_a_technician_reads_uses_the_office_words():
    record, visit, lead = make_ready()
    close_record(record=record, visit=visit, by=lead, now=timezone.now())
    client = signed_in(lead)
    addresses = [page(record, block.key) for block in load_sheet(record, now=NOW).blocks]
    addresses += [reverse("record-print", args=[record.pk]), reverse("my-day")]
    for address in addresses:
        html = client.get(address).content.decode().split("<main", 1)[1]
        text = re.sub(r"<[^>]+>", " ", html).lower()
        found = re.findall(r"\b(train|stage|assessment|gate)s?\b", text)
        assert found == [], f"{address}: {found}"


def test_another_technician_does_not_reach_the_record_and_the_office_only_reads(house, dispatcher):
    record, *_ = house
    other = signed_in(make_staff("technician"))
    for name in ("record-detail", "record-print", "record-close"):
        assert other.get(reverse(name, args=[record.pk])).status_code == 404
    assert other.get(page(record, "isolate")).status_code == 404
    office = signed_in(dispatcher)
    assert "Next: " not in office.get(page(record, "isolate")).content.decode()
    office.post(page(record, "isolate"), {"scope": "new"})
    assert not Answer.objects.filter(line_key="scope").exists()


def test_a_page_asks_the_database_a_bounded_number_of_times(house, django_assert_max_num_queries):
    record, _, lead, client = house
    answer_all(record, lead, without=("steps",))
    read_final_step(record, lead)
    acknowledge_all(record, lead)
    with django_assert_max_num_queries(27):
        client.get(page(record, "dial-back"))
    with django_assert_max_num_queries(24):
        client.get(reverse("record-detail", args=[record.pk]))


def test_my_day_shows_todays_visits_and_leads_to_the_record():
    record, visit, lead = make_house()
    now = timezone.now()
    make_visit(
        job=record.job, lead=lead, starts_at=now, slots=False, status="on_site", arrived_at=now
    )
    html = signed_in(lead).get(reverse("my-day")).content.decode()
    assert "Go on with the record" in html
    assert reverse("record-next", args=[record.pk]) in html
    assert "911" in html
    assert "1-800-222-1222" in html, "Poison Help, before anybody put a number"
    assert "15 to 20 minutes, lenses out" in html


def test_a_record_is_begun_from_the_job(house):
    record, _, lead, client = house
    answered = client.get(reverse("record-open", args=[record.job_id]))
    assert answered.url == reverse("record-next", args=[record.pk])
    stranger = signed_in(make_staff("technician"))
    assert stranger.get(reverse("record-open", args=[record.job_id])).status_code == 404
