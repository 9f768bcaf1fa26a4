"""The customer's record read as PDF: each sentence beside the rows it is made from."""

import io
import re
from datetime import timedelta
from email import message_from_bytes
from email.policy import default

import pytest
from django.core.management import call_command
from django.urls import reverse
from pypdf import PdfReader

from jobs.models import Company, Document, OutboxMail, Photo
from jobs.workflows.answers import Place, override_gate, skip_line
from jobs.workflows.corrections import Right, correct_record
from jobs.workflows.outbox import send_due
from tests.acts import bottled
from tests.conftest import NOW, signed_in
from tests.factories import make_photo, some_bytes
from tests.jobs.test_records import close
from tests.record_scenes import answer, make_ready

pytestmark = pytest.mark.django_db
VERDICTS = re.compile(r"\b(safe|safely|pure|clean water|good water|potable|healthy)\b", re.I)


@pytest.fixture(autouse=True)
def company(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"
    call_command("load_rules", verbosity=0)
    told = {
        "name": "Kestrel Water",
        "street": "2 Pumphouse Yard",
        "phone": "555-0110",
        "emergency_phone": "",
        "poison_phone": "1-800-222-1222",
        "licence_note": "Invented 0000",
    }
    return Company.objects.update_or_create(pk=1, defaults=told)[0]


def pages_of(content):
    reader = PdfReader(io.BytesIO(content))
    pages = [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]
    assert all(f"page {n} of {len(pages)}" in page for n, page in enumerate(pages, 1))
    return reader, pages


def printed(record):
    content = bytes(record.documents.first().content)
    return " ".join(pages_of(content)[1]).replace("\u202f", " ").replace("\u00a0", " ")


def closed_one(*, photos=0, without=(), before=None, **answers):
    record, visit, lead = make_ready(
        answers={"raw-manganese": "0.12", "tap-manganese": "< 0.02", **answers}, without=without
    )
    for _ in range(photos):
        make_photo(record=record, by=lead, visit=visit, for_customer=True)
    if before:
        before(record, lead)
    close(record, visit, lead)
    record.refresh_from_db()
    return record


def test_two_pages_tagged_with_title_and_language():
    record = closed_one(photos=3)
    reader, pages = pages_of(bytes(record.documents.get().content))
    assert len(pages) == 2
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert root["/Lang"] == "en"
    assert record.site.street in reader.metadata.title


def test_it_leads_with_kit_day_and_tap_and_names_what_is_beyond_a_guideline():
    """Iron 0.3 and manganese 0.05 mg/L, pH 6.5 to 8.5: 40 CFR 143.3 (National Secondary Drinking
    Water Regulations, US EPA)."""
    record = closed_one(**{"tap-iron": "< 0.05", "tap-sulfide": "0.8", "tap-ph": "6.1"})
    text = printed(record)
    first = text.index("By field kit, June 10, 2026, at the kitchen tap, cold.")
    assert first < text.index("hydrogen sulfide 0.8")
    assert "Beyond its guideline: hydrogen sulfide 0.8 mg/L, pH 6.1." in text
    assert "Not found: iron, manganese, peroxide." in text
    assert "Iron mg/L 3 < 0.05 0.3 EPA guideline for taste and stains not found above 0.05" in text
    assert "6.5 to 8.5 EPA guideline for taste and stains outside it" in text
    assert not VERDICTS.search(text)


def beyond(text):
    """What the front says is beyond a guideline."""
    return text.partition("Beyond its guideline:")[2].partition(". ")[0]


def pass_over(record, lead):
    """Iron is left above its limit by name."""
    override_gate(record=record, line_key="tap-iron", reason="bed is still young", by=lead, now=NOW)


def test_only_a_figure_that_was_found_is_beyond_a_guideline():
    """Iron 0.3 mg/L: 40 CFR 143.3. What a kit does not find is not above what it can find."""
    text = printed(closed_one(before=pass_over, **{"tap-iron": "0.4"}))
    assert "iron 0.4 mg/L" in beyond(text)
    assert "above: stains are possible" in text


@pytest.mark.parametrize(
    ("figure", "says"),
    [
        ("0.09", "above: stains are possible"),
        ("0.2", "above 0.1, the health line for infants: no infant formula with it"),
        ("1", "above 0.3, the health line for everyone: ask your doctor before you drink it"),
    ],
)
def test_manganese_is_compared_with_its_health_lines_besides_stains(figure, says):
    """0.1 mg/L for infants, 0.3 for others: Manganese in Drinking Water, Minnesota Department of
    Health."""
    text = printed(closed_one(**{"tap-manganese": figure}))
    assert "health: 0.1 for infants, 0.3 for others (Minnesota)" in text
    assert says in text
    assert ("health line" in text) == (figure != "0.09")
    assert not VERDICTS.search(text)


def test_a_kit_that_is_too_coarse_says_no_more_than_it_can():
    text = printed(closed_one(before=pass_over, **{"tap-iron": "< 0.5"}))
    assert "iron" not in beyond(text)
    assert "not found above 0.5" in text


def test_peroxide_is_compared_with_what_the_company_allows_after_the_carbon(company):
    Company.objects.update(peroxide_after_carbon_mg_l=0.7)
    assert "0.7 our own, after the carbon" in printed(closed_one())


def test_figures_stand_as_typed_and_what_was_not_taken_is_said():
    def leave_out(record, lead):
        skip_line(
            record=record, place=Place("tap-ph"), reason="meter did not settle", by=lead, now=NOW
        )

    record = closed_one(before=leave_out, **{"raw-iron": "3.10", "tap-hardness": "10"})
    text = printed(record)
    assert "Iron mg/L 3.10 < 0.05" in text
    assert "not taken: meter did not settle" in text
    assert "pH, kitchen tap: left out. meter did not settle" in text.replace("Meter", "meter")
    # 17.1 mg/L as CaCO3 is one grain in a US gallon: 64.799 mg (NIST SP 811) over 3.785 L
    assert re.search(r"Hardness grains .{1,12} 0\.58 none counted for the softener", text)


@pytest.mark.parametrize("word", ["drain line", "minutes in the tank", "pressure drop"])
def test_what_is_no_promise_to_a_household_stays_with_us(word):
    assert word not in printed(closed_one()).lower()


def test_settings_stand_as_they_were_left_with_hours_as_a_household_reads_them():
    text = printed(closed_one())
    for words in (
        "Dosing pump setting 8.7 mL a minute, drawn from a cylinder 20 %",
        "Backwashing filter: hour of the backwash 4 am",
        "Softener: hour of the backwash 5 am",
        "Bypass of the tanks SERVICE (treated)",
        "Handed over to C. Prudhomme, June 10, 2026, 3:00 pm.",
        "License: Invented 0000.",
    ):
        assert words in text


def test_kits_shut_offs_and_warranty_are_what_the_technician_told():
    told = {
        "kits": "strips lot 7K, until 03/2027",
        "shut-offs": "Ball valve left of the pressure tank",
        "warranty": "valve 5 years, from us",
    }

    def tell(record, lead):
        for key, words in told.items():
            answer(record, lead, key, words)

    text = printed(closed_one(before=tell))
    assert "Test kits. Strips lot 7K, until 03/2027." in text
    assert "Shut-offs. Ball valve left of the pressure tank." in text
    assert "Warranty. Valve 5 years, from us." in text
    assert "Test kits. Name and expiry were not noted." in printed(closed_one())


def test_what_is_awaited_of_bacteria_is_said_with_bottle_and_laboratory():
    assert "Bacteria: no sample is on file with us." in printed(closed_one())

    def bottle(record, lead):
        bottled(record.site, at=NOW - timedelta(days=1), laboratory="County laboratory")

    text = printed(closed_one(before=bottle))
    sample = "Bacteria sample of June 9, 2026, raw tap, before any treatment, County laboratory"
    assert f"{sample}: the result is still to come." in text


def test_what_was_not_tested_is_named_with_what_to_do_each_year():
    text = printed(closed_one())
    assert "Arsenic, lead, copper, nitrate, radon, uranium, PFAS and pesticides." in text
    assert "Nothing here says anything about them." in text
    assert "nitrate and bacteria tested every year by a laboratory; ask your county" in text


def test_cautions_stand_by_strength_and_are_of_the_oxidant_in_the_tank():
    text = printed(closed_one())
    stop, twice, know = (text.index(words) for words in ("Stop: water", "Look twice:", "Know:"))
    assert stop < twice < know
    assert "Hydrogen peroxide: strong oxidiser." in text
    assert "poisonous gas" not in text, "of chlorine"
    assert "local code and licensed practice come before" in text
    assert "555-0110 our office" in text
    assert "day and night" not in text, "only where somebody answers"


def test_only_chosen_photos_are_printed_and_the_rest_stays_with_us():
    def photograph(record, lead):
        make_photo(record=record, by=lead, caption="Bypass, tag hung", for_customer=True)
        make_photo(record=record, by=lead, caption="Messy cellar")
        gone = make_photo(record=record, by=lead, caption="Blurred", for_customer=True)
        signed_in(lead).post(reverse("photo-remove", args=[gone.pk]))
        lost = make_photo(record=record, by=lead, caption="Lost file", for_customer=True)
        lost.picture.path.unlink()

    record = closed_one(before=photograph)
    text = printed(record)
    assert "Bypass, tag hung" in text
    for words in ("Messy cellar", "Blurred", "Lost file"):
        assert words not in text
    reader, _ = pages_of(bytes(record.documents.get().content))
    assert len([image for page in reader.pages for image in page.images]) == 1


def test_the_office_the_technician_and_the_letter_have_the_same_bytes(
    mailoutbox, dispatcher_client
):
    record = closed_one(photos=1)
    kept = bytes(Document.objects.get(record=record).content)
    where = reverse("document", args=[record.documents.get().pk])
    assert dispatcher_client.get(where).content == kept
    mail = OutboxMail.objects.get(template="record_summary")
    send_due(clock=lambda: mail.not_before + timedelta(minutes=1), asked_to_end=lambda: False)
    letters = [message_from_bytes(each.message().as_bytes(), policy=default) for each in mailoutbox]
    parts = [part for letter in letters for part in letter.walk()]
    (attached,) = [part for part in parts if part.get_content_type() == "application/pdf"]
    assert attached.get_content() == kept


def test_a_correction_is_printed_as_a_newer_version_with_the_same_photos():
    record = closed_one(photos=1)
    lead = record.closed_by
    right = Right("0.2", "decimal point slipped", "mg/L")
    later = NOW + timedelta(hours=7)
    correct_record(record=record, item_key="tap-iron", side="", right=right, by=lead, now=later)
    text = printed(record)
    assert "Version 2, June 10, 2026, 5:00 pm, replaces the one before." in text
    assert "Why: Decimal point slipped." in text
    assert "Iron mg/L 3 0.2 0.3" in text
    assert Photo.objects.get().caption in text


def test_a_long_record_goes_on_without_losing_a_photo():
    record = closed_one(photos=6)
    _, pages = pages_of(bytes(record.documents.get().content))
    assert len(pages) <= 3
    assert " ".join(pages).count("Drain with its air gap") == 6
    assert len(some_bytes()) < len(bytes(record.documents.get().content))
