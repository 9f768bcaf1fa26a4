"""Papers left at a house, read as PDF: from the act to what the household has in its hand."""

import io
import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from jobs.models import Company
from jobs.workflows.fills import Poured, record_fill
from jobs.workflows.notices import Danger, open_notice
from tests.acts import bottled
from tests.conftest import NOW
from tests.factories import make_product, make_startup_train, make_well

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def company(db):
    values = {"name": "Kestrel Water", "phone": "555-0110", "poison_phone": "1-800-222-1222"}
    return Company.objects.update_or_create(pk=1, defaults=values)[0]


def paper(client, name, pk):
    answer = client.get(reverse(name, args=[pk]))
    assert answer["Content-Type"] == "application/pdf"
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages]
    return re.sub(r"\s+", " ", " ".join(pages))


def test_the_notice_says_what_may_be_done_what_ends_it_and_whom_to_call(
    dispatcher, dispatcher_client
):
    well = make_well()
    site, now = well.site, timezone.now()
    said = {"by": dispatcher, "now": now - timedelta(days=1)}
    chlorine = Danger(site, "no_use", "chlorine in", cause="oxidant")
    open_notice(danger=chlorine, **said)
    flood = Danger(site, "no_drinking", "flooded on Sunday", cause="flood", well=well)
    open_notice(danger=flood, **said)
    bottled(site, at=now - timedelta(hours=2))
    text = paper(dispatcher_client, "notice-sheet", site.pk)
    for words in (
        "Do not use the water yet",
        "Not for drinking, cooking, ice, teeth, infant formula, washing, bathing",
        "Do not drink the water yet",
        "Why: flooded on Sunday.",
        "bottled water only: boiling does not take out nitrate, fuel or chemicals",
        "its result is not in yet",
        "Until one of us has read your taps",
        "Never switch on an empty one",
        "Call us: 555-0110",
        "local code and licensed practice",
    ):
        assert words in text
    assert "Day and night" not in text, "only where somebody answers"
    page = dispatcher_client.get(reverse("site-detail", args=[site.pk])).content.decode()
    assert reverse("notice-sheet", args=[site.pk]) in page


def test_the_label_says_what_is_in_the_tank_since_when_and_its_hazards(
    dispatcher, dispatcher_client
):
    feeder = make_startup_train().stages.get(kind="feeder")
    feeder.product = make_product("a-sentence", safety_class="Eye irritant. The label holds.")
    feeder.save()
    now = timezone.now()
    poured = Poured(at=now, strength_g_l=35.0314, level_after_gal=12)
    record_fill(stage=feeder, poured=poured, by=dispatcher, now=now)
    text = paper(dispatcher_client, "tank-label", feeder.pk)
    for words in (
        "hydrogen peroxide",
        "7 percent on its container",
        "As mixed: 35 g/L.",
        f"Mixed on {timezone.localtime(now):%B %-d, %Y}.",
        "EYE IRRITANT. THE LABEL HOLDS",
        "Class by the supplier's sheet: Eye irritant. The label holds.",
        "Never with chlorine, permanganate",
        "Poison Help: 1-800-222-1222",
        "unplug the dosing pump first",
        "Kestrel Water",
    ):
        assert words in text
    assert ".." not in text
    page = dispatcher_client.get(reverse("site-detail", args=[feeder.train.site_id]))
    assert reverse("tank-label", args=[feeder.pk]) in page.content.decode()


def test_without_a_class_on_file_it_can_damage_eyes(dispatcher_client):
    feeder = make_startup_train().stages.get(kind="feeder")
    product = make_product("no-class", safety_class="")
    feeder.product = product
    feeder.save()
    text = paper(dispatcher_client, "tank-label", feeder.pk)
    assert "CAN DAMAGE EYES" in text
    assert "Day mixed: not on file." in text


@pytest.mark.parametrize(
    ("oxidant", "words"),
    [
        ("peroxide", "foams, heats and bursts"),
        ("chlorine", "poisonous gas"),
        ("permanganate", "never with peroxide or acid"),
    ],
)
def test_the_safety_sheet_is_of_the_oxidant_in_the_tank(dispatcher_client, oxidant, words):
    feeder = make_startup_train().stages.get(kind="feeder")
    feeder.product = make_product(f"made-{oxidant}", oxidant=oxidant)
    feeder.save()
    text = paper(dispatcher_client, "safety-sheet", feeder.pk)
    assert words in text
    assert "rinse at once with clean running water for 15 to 20 minutes" in text
    assert "Never into a septic system, a sump, a ditch or a stream." in text
    assert "The label and the safety sheet of the product" in text


def test_the_slip_goes_with_the_bottle_and_says_when_it_must_be_there(dispatcher_client):
    """30 hours: US EPA, drinking water from household wells."""
    site = make_well().site
    sample = bottled(site, at=NOW, bottle="B-17", laboratory="County laboratory")
    text = paper(dispatcher_client, "sample-slip", sample.pk)
    for words in (
        "Bottle: B-17.",
        "Where it was filled: raw tap, before any treatment.",
        "When: June 10, 2026, 10:00 am, by",
        "Chlorine or peroxide in the water then: none.",
        "Laboratory: County laboratory.",
        "At the laboratory within 30 hours: by June 11, 2026, 4:00 pm.",
        "Received on, at:",
        "Kestrel Water",
    ):
        assert words in text
    page = dispatcher_client.get(reverse("site-detail", args=[site.pk])).content.decode()
    assert reverse("sample-slip", args=[sample.pk]) in page
