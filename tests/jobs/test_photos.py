"""Photos: taken on the phone, sent through either door, shown, removed, put back, cleared away."""

import hashlib
import io
import struct
import uuid
import zlib
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from jobs.models import LogEntry, Photo, Picture
from jobs.models.photos import photo_folder
from jobs.workflows.nights import run_due
from jobs.workflows.pictures import CANNOT_READ, KEPT_UNNAMED, TOO_LARGE
from tests.acts import closed
from tests.conftest import signed_in
from tests.factories import make_job, make_photo, make_staff, make_visit, some_bytes
from tests.record_scenes import make_house, make_ready

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"
    return photo_folder()


def put(client, content, number=None, digest=None, **more):
    where = reverse("photo-put", args=[number or uuid.uuid4()])
    digest = hashlib.sha256(content).hexdigest() if digest is None else digest
    return client.put(where, content, "image/jpeg", headers={"X-SHA-256": digest}, **more)


def chosen(content, name="IMG_0001.jpg"):
    return SimpleUploadedFile(name, content, content_type="image/jpeg")


def send(client, where, *contents, **boxes):
    boxes = {"caption": "Injection point", "shows": "", **boxes}
    return client.post(where, {"photos": [chosen(each) for each in contents], **boxes})


def of_record(record):
    return reverse("record-photos", args=[record.pk])


def removed(client, photo):
    """What is said to who removes it."""
    answer = client.post(reverse("photo-remove", args=[photo.pk]), follow=True)
    return answer.content.decode()


def page(client, where):
    answer = client.get(where)
    assert answer.status_code == 200
    return answer.content.decode()


def png_header(width, height):
    """A PNG that says a size and brings no dots: what a bomb looks like before it is unpacked.

    Source: W3C, Portable Network Graphics (PNG) Specification, second edition, 2003, 11.2.2.
    """

    def chunk(kind, data):
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    nothing = zlib.compress(b"\0" * 1000)
    parts = (chunk(b"IHDR", header), chunk(b"IDAT", nothing), chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def test_what_is_kept_is_another_file_upright_and_without_place(folder):
    record, _, lead = make_house()
    exif = Image.Exif()
    exif[0x0112] = 6  # turn a quarter to the right (Exif 2.32, CIPA 2019, table 4: Orientation)
    exif[0x010F] = "Camera of somebody"
    exif.get_ifd(0x8825)[2] = (52.0, 30.0, 0.0)  # GPSLatitude, table 6
    sent = some_bytes(size=(2000, 1000), exif=exif)
    assert b"Camera of somebody" in sent
    send(signed_in(lead), of_record(record), sent)
    photo = Photo.objects.get()
    kept = photo.picture.read()
    with Image.open(io.BytesIO(kept)) as opened:
        assert (opened.format, opened.size) == ("JPEG", (800, 1600))
        assert dict(opened.getexif()) == {}
    assert b"Camera of somebody" not in kept
    assert (photo.picture.width, photo.picture.height) == (800, 1600)
    assert kept != sent
    assert photo.picture.path.parent == folder
    assert str(photo.picture.uuid) not in photo.picture.path.name
    assert photo.picture.path.stat().st_mode & 0o077 == 0


def test_several_photos_of_a_line_stand_on_record_part_visit_and_house(clock, dispatcher_client):
    record, visit, lead = make_house()
    client = signed_in(lead)
    form = page(client, of_record(record) + "?part=isolate")
    assert '<option value="isolate" selected>' in form
    line = record.template.lines.filter(block="isolate").first()
    pictures = [some_bytes("red"), some_bytes("blue", kind="PNG")]
    answer = send(client, of_record(record), *pictures, shows=f"isolate/{line.key}")
    assert answer.status_code == 302
    rows = Photo.objects.filter(record=record, line_key=line.key, block="isolate", visit=visit)
    assert rows.count() == 2
    for where in (
        reverse("record-detail", args=[record.pk]),
        reverse("record-block", args=[record.pk, "isolate"]),
        reverse("visit-detail", args=[visit.pk]),
        reverse("site-detail", args=[record.site_id]),
    ):
        for by in (client, dispatcher_client):
            assert page(by, where).count("Injection point") >= 2
    assert line.label in page(client, of_record(record))
    other = reverse("record-block", args=[record.pk, "hold"])
    assert "Injection point" not in page(client, other)


def test_the_bytes_are_for_those_who_may_read_the_record():
    record, _, lead = make_house()
    photo = make_photo(record=record, by=lead)
    for name in ("photo-picture", "photo-small"):
        where = reverse(name, args=[photo.pk])
        answer = signed_in(lead).get(where)
        assert answer["Content-Type"] == "image/jpeg"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert answer["Cache-Control"] == "no-store, private"
        assert signed_in(make_staff("technician")).get(where).status_code == 404
        assert Client().get(where).url.startswith(reverse("sign-in"))
    photo.picture.path.unlink()
    gone = reverse("photo-picture", args=[photo.pk])
    assert signed_in(lead).get(gone).status_code == 404


def test_bytes_come_first_and_the_act_that_names_them_second():
    record, _, lead = make_house()
    client, number, content = signed_in(lead), uuid.uuid4(), some_bytes()
    assert put(client, content, number).status_code == 201
    assert put(client, content, number).status_code == 200
    assert Picture.objects.count() == 1
    assert Photo.objects.count() == 0
    for _ in range(2):
        named = {"sent": str(number), "caption": "Drain", "shows": ""}
        assert client.post(of_record(record), named).status_code == 302
    assert Photo.objects.get().picture.uuid == number


@pytest.mark.parametrize(
    ("content", "digest", "status", "words"),
    [
        (some_bytes("red"), None, 422, "Another picture was sent under this number."),
        (some_bytes(), "0" * 64, 422, "arrived damaged"),
        (some_bytes(), "", 422, "without its sum"),
        (b"x" * (3 * 2**20 + 1), None, 413, "larger than 3 MB"),
    ],
)
def test_the_door_refuses_with_a_sentence(content, digest, status, words):
    _, _, lead = make_house()
    client, number = signed_in(lead), uuid.uuid4()
    put(client, some_bytes(), number)
    answer = put(client, content, number, digest)
    assert (answer.status_code, words in answer.json()["error"]) == (status, True)
    assert Picture.objects.count() == 1


def test_a_number_of_somebody_else_is_neither_overwritten_nor_named():
    record, _, lead = make_house()
    number, other = uuid.uuid4(), signed_in(make_staff("technician"))
    put(other, some_bytes(), number)
    assert put(signed_in(lead), some_bytes(), number).status_code == 422
    named = {"sent": str(number), "caption": "Drain", "shows": ""}
    answer = signed_in(lead).post(of_record(record), named)
    assert answer.status_code == 422
    assert "has not arrived" in answer.content.decode()
    assert Photo.objects.count() == 0


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"not a picture at all", CANNOT_READ),
        (some_bytes(size=(300, 300))[:400], CANNOT_READ),
        (some_bytes(kind="GIF"), CANNOT_READ),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", CANNOT_READ),
        (png_header(5001, 5000), TOO_LARGE),
        (png_header(20_000, 20_000), TOO_LARGE),
    ],
    ids=["empty", "text", "cut off", "gif", "svg", "just too large", "bomb"],
)
def test_a_bad_picture_is_one_clear_sentence_and_the_good_ones_are_kept(folder, content, words):
    record, _, lead = make_house()
    client = signed_in(lead)
    answer = send(client, of_record(record), some_bytes("red"), content, caption="Twin tanks")
    text = answer.content.decode()
    assert answer.status_code == 422
    assert words in text.replace("The submitted file is ", "")
    assert 'value="Twin tanks"' in text
    kept = Picture.objects.get()
    assert f'name="sent" value="{kept.uuid}"' in text
    assert len(list(folder.iterdir())) == 2, "a picture and its small one"
    again = client.post(
        of_record(record), {"sent": str(kept.uuid), "caption": "Twin tanks", "shows": ""}
    )
    assert again.status_code == 302
    assert Photo.objects.get().caption == "Twin tanks"


def test_a_size_that_is_allowed_fails_only_for_what_it_lacks():
    """25 megapixels pass the header: the file then turns out to hold no dots."""
    record, _, lead = make_house()
    text = send(signed_in(lead), of_record(record), png_header(5000, 5000)).content.decode()
    assert CANNOT_READ in text


def test_nothing_chosen_or_no_words_is_said_at_the_field():
    record, _, lead = make_house()
    client = signed_in(lead)
    text = client.post(of_record(record), {"caption": "Drain", "shows": ""}).content.decode()
    assert "Choose a photo, or take one." in text
    text = send(client, of_record(record), some_bytes(), caption=" ").content.decode()
    assert "Say what the photo shows." in text
    assert Picture.objects.count() == 1
    assert Photo.objects.count() == 0


def test_twelve_a_record_and_six_of_them_for_the_customer():
    record, _, lead = make_house()
    client = signed_in(lead)
    colours = ("red", "blue", "green", "black", "white", "gray", "navy")
    for_customer = send(
        client, of_record(record), *map(some_bytes, colours), for_customer="on", caption="A"
    )
    assert "At most 6 photos go on the customer" in for_customer.content.decode()
    for count in (7, 5):
        assert send(client, of_record(record), *map(some_bytes, colours[:count])).status_code == 302
    text = send(client, of_record(record), some_bytes("lime")).content.decode()
    assert "There are 12 photos, which is the most. Remove one first." in text
    removed(client, Photo.objects.first())
    assert send(client, of_record(record), some_bytes("lime")).status_code == 302
    text = send(client, of_record(record), some_bytes("tan")).content.decode()
    assert "There are 12 photos" in text


def test_who_took_it_removes_it_and_puts_it_back_until_the_record_closes():
    record, visit, lead = make_ready()
    client = signed_in(lead)
    send(client, of_record(record), some_bytes(), caption="Drain")
    photo = Photo.objects.get()
    where, picture = (reverse(name, args=[photo.pk]) for name in ("photo-detail", "photo-picture"))
    colleague = make_staff("technician")
    make_visit(job=record.job, lead=colleague, starts_at=visit.starts_at + timedelta(days=1))
    assert "remove" not in page(signed_in(colleague), where).lower()
    assert "Only who took a photo removes it." in removed(signed_in(colleague), photo)
    assert "Removed: Drain" in removed(client, photo)
    assert client.get(picture).status_code == 404
    assert "Removed: <em>Drain</em>" in page(client, reverse("record-detail", args=[record.pk]))
    client.post(reverse("photo-put-back", args=[photo.pk]))
    assert client.get(picture).status_code == 200
    assert LogEntry.objects.filter(verb__in=["photo_removed", "photo_put_back"]).count() == 2
    client.post(reverse("record-close", args=[record.pk]))
    record.refresh_from_db()
    assert record.is_closed
    assert "This record is closed." in removed(client, photo)
    assert "Keep these photos" not in page(client, of_record(record))
    assert (
        "This record is closed."
        in send(client, of_record(record), some_bytes("red")).content.decode()
    )
    photo.refresh_from_db()
    assert photo.removed_at is None


def test_words_and_the_customers_sight_are_changed_on_its_page():
    record, _, lead = make_house()
    photo = make_photo(record=record, by=lead)
    where = reverse("photo-detail", args=[photo.pk])
    client = signed_in(lead)
    client.post(where, {"caption": "Injection point, upright", "for_customer": "on"})
    photo.refresh_from_db()
    assert (photo.caption, photo.for_customer) == ("Injection point, upright", True)
    assert "On the customer's record" in page(client, where).replace("&#x27;", "'")
    assert "Say what the photo shows." in client.post(where, {"caption": ""}).content.decode()


def test_photos_of_a_visit_need_no_record_and_end_with_it():
    lead = make_staff("technician")
    visit = make_visit(job=make_job(), lead=lead, starts_at=timezone.now())
    client, where = signed_in(lead), reverse("visit-photos", args=[visit.pk])
    assert send(client, where, some_bytes(), caption="Gate that sticks").status_code == 302
    photo = Photo.objects.get()
    assert (photo.visit, photo.record, photo.site) == (visit, None, visit.job.site)
    assert "Gate that sticks" in page(client, reverse("visit-detail", args=[visit.pk]))
    removed(client, photo)
    client.post(reverse("photo-put-back", args=[photo.pk]))
    visit.status, visit.arrived_at = "on_site", visit.starts_at
    visit.save()
    closed(visit)
    assert "photos stay as they are" in removed(client, photo)
    assert "This visit has ended" in send(client, where, some_bytes("red")).content.decode()


def test_the_night_clears_what_nothing_names_and_what_was_removed_long_ago(folder):
    record, _, lead = make_house()
    client, now = signed_in(lead), timezone.now()
    put(client, some_bytes("red"))
    standing, wrong = (make_photo(record=record, by=lead, now=now) for _ in range(2))
    removed(client, wrong)
    (folder / "left.jpg").write_bytes(b"of a line that broke")
    assert run_due(clock=lambda: now + KEPT_UNNAMED - timedelta(hours=1)) == 1
    assert len(list(folder.iterdir())) == 7
    assert run_due(clock=lambda: now + KEPT_UNNAMED + timedelta(days=1)) == 1
    assert {path.name for path in folder.iterdir()} == {
        standing.picture.path.name,
        standing.picture.small_path.name,
    }
    assert Picture.objects.count() == 2
    answer = signed_in(lead).post(reverse("photo-put-back", args=[wrong.pk]), follow=True)
    assert "removed too long ago" in answer.content.decode()
