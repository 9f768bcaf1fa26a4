"""Photos that a phone kept: the bytes come first, the act that names them in its turn."""

import hashlib
from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.urls import reverse

from jobs.models import OutboxMail, Photo, Picture
from jobs.records.loading import load_sheet
from tests.acts import arrived, closed
from tests.conftest import NOW, signed_in
from tests.factories import make_job, make_staff, make_visit, some_bytes
from tests.record_scenes import make_ready

from .phone import MINUTE, Phone

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"


def sent(phone, colour="red"):
    """The bytes of a photo, with the office; the number they have there."""
    number, content = uuid4(), some_bytes(colour)
    digest = {"X-SHA-256": hashlib.sha256(content).hexdigest()}
    where = reverse("photo-put", args=[number])
    assert phone.client.put(where, content, "image/jpeg", headers=digest).status_code == 201
    return str(number)


def said_of(phone, **words):
    return phone.tell("photo", **{"caption": "Injection point", "shows": "isolate", **words})


def test_it_was_taken_when_and_by_whom_the_phone_says_however_often_it_is_told(phone):
    number, at = sent(phone), NOW + 12 * MINUTE
    told = said_of(phone, photo=number, at=at, for_customer=True)
    assert told["state"] == "kept", told
    again = phone.send(phone.told[told["uuid"]]).json()
    assert (again["state"], again["again"]) == ("kept", True)
    assert said_of(phone, photo=number, at=at)["state"] == "kept"
    photo = Photo.objects.get()
    assert (photo.at, photo.by, photo.visit) == (at, phone.user, phone.visit)
    assert (photo.block, photo.caption) == ("isolate", "Injection point")
    assert photo.for_customer
    page = phone.client.get(reverse("record-photos", args=[phone.record.pk])).content.decode()
    assert "10 Jun 2026, 10:12" in page


def test_a_photo_of_one_part_of_one_line(phone):
    line = phone.record.template.lines.filter(block="isolate").first()
    feeder = phone.record.train.stages.get(kind="feeder")
    for shows, of in ((f"isolate/{line.key}", None), (f"isolate/{line.key}/{feeder.pk}", feeder)):
        told = said_of(phone, photo=sent(phone), shows=shows)
        assert told["state"] == "kept", told
        photo = Photo.objects.latest("pk")
        assert (photo.line_key, photo.stage) == (line.key, of)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ({"photo": str(uuid4())}, "The picture has not arrived. Take it again."),
        ({"photo": "no number"}, "The picture has not arrived. Take it again."),
        ({"caption": " "}, "What it shows: Say what the photo shows."),
        ({"caption": "x" * 121}, "What it shows: "),
        ({"shows": "no-such-part"}, "This record has no such part."),
        ({"shows": "isolate//9"}, ""),
    ],
)
def test_what_cannot_be_kept_says_why(phone, words, sentence):
    told = said_of(phone, **{"photo": sent(phone), **words})
    kept = not sentence
    assert told["state"] == ("kept" if kept else "refused")
    assert told.get("sentence", "").startswith(sentence)
    assert Photo.objects.count() == kept


def test_a_picture_of_somebody_else_has_not_arrived(phone):
    other = Phone(make_staff("technician"))
    assert said_of(phone, photo=sent(other))["state"] == "refused"
    assert Photo.objects.count() == 0


def test_told_after_the_record_was_closed_the_office_reads_what_it_showed(clock, dispatcher_client):
    record, visit, lead = make_ready()
    phone = Phone(lead, record, visit)
    clock(NOW + timedelta(hours=7))
    assert phone.tell("record-close", at=NOW + timedelta(hours=6))["state"] == "kept"
    late = said_of(phone, photo=sent(phone), at=NOW + timedelta(hours=5), caption="Leaking tee")
    assert (late["state"], late["sentence"][:22]) == ("refused", "This record is closed.")
    page = dispatcher_client.get(reverse("record-detail", args=[record.pk])).content.decode()
    assert "Photo, Leaking tee" in page


def test_a_visit_without_a_record_has_photos_of_its_day(phone, clock):
    visit = make_visit(
        job=make_job(kind="service"), lead=phone.user, starts_at=NOW + timedelta(hours=3)
    )
    clock(NOW + timedelta(hours=5))
    mine = Phone(phone.user, visit=visit)
    at = NOW + timedelta(hours=4)
    told = said_of(mine, photo=sent(mine), at=at, shows="")
    assert told["state"] == "kept", told
    photo = Photo.objects.get()
    assert (photo.visit, photo.record, photo.at) == (visit, None, at)
    before = said_of(mine, photo=sent(mine, "blue"), at=at - timedelta(days=1), shows="")
    assert (before["state"], before["asks"]) == ("look", "at")


def test_the_office_removes_what_nobody_should_see_and_says_so(dispatcher):
    visit = make_visit(job=make_job(), lead=make_staff("technician"), starts_at=NOW)
    phone = Phone(visit.lead, visit=arrived(visit, at=NOW))
    told = said_of(phone, photo=sent(phone), caption="Face at the door", shows="")
    assert told["state"] == "kept", told
    closed(visit, at=NOW + timedelta(hours=1))
    photo, office = Photo.objects.get(), signed_in(dispatcher)
    where = reverse("photo-detail", args=[photo.pk])
    assert "Remove this photo" not in phone.client.get(where).content.decode()
    assert "Remove this photo" in office.get(where).content.decode()
    office.post(reverse("photo-remove", args=[photo.pk]))
    page = reverse("visit-photos", args=[visit.pk])
    for client in (phone.client, office):
        assert "Removed: <em>Face at the door</em>" in client.get(page).content.decode()
        assert client.get(reverse("photo-picture", args=[photo.pk])).status_code == 404
    back = reverse("photo-put-back", args=[photo.pk])
    assert back not in phone.client.get(page).content.decode()
    assert back in office.get(page).content.decode()
    phone.client.post(back)
    photo.refresh_from_db()
    assert photo.removed_by == dispatcher
    office.post(back)
    photo.refresh_from_db()
    assert photo.removed_at is None


def test_what_stands_on_the_paper_of_a_closed_record_stays(clock, dispatcher):
    record, visit, lead = make_ready()
    phone = Phone(lead, record, visit)
    clock(NOW + timedelta(hours=7))
    for shown in (True, False):
        said_of(phone, photo=sent(phone), at=NOW + timedelta(hours=5), for_customer=shown)
    assert phone.tell("record-close", at=NOW + timedelta(hours=6))["state"] == "kept"
    office = signed_in(dispatcher)
    for photo in Photo.objects.all():
        office.post(reverse("photo-remove", args=[photo.pk]))
        photo.refresh_from_db()
        assert (photo.removed_at is None) == photo.for_customer
    assert Picture.objects.count() == 2


@pytest.fixture
def of_a_stranger(clock):
    """A photo on the paper of a closed record, who took it, and the record."""
    call_command("load_rules", verbosity=0)
    record, visit, lead = make_ready()
    phone = Phone(lead, record, visit)
    clock(NOW + timedelta(hours=7))
    said_of(phone, photo=sent(phone), at=NOW + timedelta(hours=5), for_customer=True)
    assert phone.tell("record-close", at=NOW + timedelta(hours=6))["state"] == "kept"
    return Photo.objects.get(), lead, record


def test_the_office_takes_a_photo_off_a_closed_record_with_a_reason(
    of_a_stranger, dispatcher, owner, clock
):
    photo, lead, record = of_a_stranger
    clock(NOW + timedelta(hours=9))
    office, where = signed_in(dispatcher), reverse("photo-remove", args=[photo.pk])
    page = office.get(reverse("photo-detail", args=[photo.pk])).content.decode()
    assert "It should not be on the customer" in page
    assert (
        b"should not be"
        not in signed_in(lead).get(reverse("photo-detail", args=[photo.pk])).content
    )
    signed_in(lead).post(where, {"reason": "a face"})
    office.post(where, {"reason": " "})
    photo.refresh_from_db()
    assert photo.removed_at is None
    for _ in range(2):
        office.post(where, {"reason": "a face at the window"})
    photo.refresh_from_db()
    version = record.corrections.get()
    assert (photo.removed_by, version.version) == (dispatcher, 2)
    assert (version.after, version.reason) == ("taken off", "a face at the window")
    old, new = record.documents.order_by("pk")
    assert len(new.content) < len(old.content)
    opened = {
        who: [
            signed_in(who).get(reverse("document", args=[each.pk])).status_code
            for each in (old, new)
        ]
        for who in (lead, dispatcher, owner)
    }
    assert opened == {lead: [404, 200], dispatcher: [404, 200], owner: [200, 200]}
    assert signed_in(lead).get(reverse("photo-picture", args=[photo.pk])).status_code == 404
    letter = OutboxMail.objects.get(key__startswith=f"record:{record.pk}:version:2:")
    assert letter.context["correction"] == version.pk
    text = office.get(reverse("record-detail", args=[record.pk])).content.decode()
    assert "a face at the window" in text
    office.post(reverse("photo-put-back", args=[photo.pk]))
    photo.refresh_from_db()
    assert photo.removed_at
    assert load_sheet(record, now=NOW + timedelta(hours=10)).missing() == []
