"""What leaves: the same bytes each time, plain words, standing notices, no promise of safety."""

import re
from datetime import date, timedelta

import pytest
from django.conf import settings
from icalendar import Calendar

from jobs.mail.about import (
    KINDS,
    account_invitation,
    record_summary,
    visit_cancelled,
    visit_confirmation,
    visit_moved,
)
from jobs.mail.letters import keep_rendered, letter_of
from jobs.models import Company, DoNotUse, Job, OutboxMail, Visit
from jobs.workflows.sites import begin_tenure
from tests import factories
from tests.acts import booked, moved, sold
from tests.acts import opened as asked_for

from .about import one_of_every_kind
from .about.first_ones import a_record
from .letters import (
    NOW,
    a_visit,
    calendar_of,
    customer_mail,
    html_of,
    opened,
    staff_mail,
    text_of,
    words_of,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def test_every_kind_has_its_words_and_a_letter_these_tests_read():
    mails = one_of_every_kind()
    assert sorted(set(KINDS) - set(mails)) == [], "a function of that name in tests/jobs/mail/about"
    for name, mail in mails.items():
        assert mail.template == name
        message = opened(mail)
        assert len(str(message["Subject"])) > 8
        assert "{" not in text_of(mail) + str(message["Subject"])
        assert "<h1" in html_of(mail)


def test_a_kind_has_the_name_of_its_module_and_its_template_is_there():
    assert {name: kind.name for name, kind in KINDS.items()} == {name: name for name in KINDS}
    shared = {"base", "customer", "visit"}
    files = {path.stem for path in (settings.BASE_DIR / "templates/jobs/emails").iterdir()}
    assert files - shared == set(KINDS)


def test_names_in_a_subject_stand_there_as_they_are_written():
    Company.objects.update_or_create(pk=1, defaults={"name": "Rill & Daughter's"})
    mail = account_invitation.write(user=factories.make_staff("dispatcher"), now=NOW)
    assert opened(mail)["Subject"] == "Your account at Rill & Daughter's"
    assert "Rill & Daughter's. " in text_of(mail)
    assert "Rill &amp; Daughter" in html_of(mail)


def test_no_letter_says_that_the_water_is_safe():
    for mail in one_of_every_kind().values():
        words = re.findall(r"[a-z-]+", (text_of(mail) + html_of(mail)).lower())
        assert {"safe", "safely", "pure", "harmless"} & set(words) == set()


def test_customers_read_no_trade_words():
    for mail in one_of_every_kind().values():
        if mail.customer:
            words = set(re.findall(r"[a-z-]+", text_of(mail).lower()))
            assert {"train", "stage", "assessment", "gate", "oxidant", "residual"} & words == set()


def test_a_confirmation_tells_day_window_place_person_and_purpose():
    job = factories.make_job(kind=Job.Kind.RECHECK, now=NOW)
    lead = factories.make_staff("technician", first_name="Rae", last_name="Fern")
    mail = customer_mail(job=job, lead=lead)
    text = " ".join(text_of(mail).split())
    for part in (
        "Rae Fern comes on Saturday, June 20, between 10:00 am and 11:00 am",
        "to check the setting of the small dosing pump",
        job.site.street,
        "Somebody over 18 at home",
    ):
        assert part in text
    assert opened(mail)["Subject"] == "Visit on Saturday, June 20, between 10:00 am and 11:00 am"


def test_times_are_those_of_the_house():
    site = factories.make_site(time_zone="America/Denver")
    mail = customer_mail(job=factories.make_job(site=site, now=NOW))
    assert "between 8:00 am and 9:00 am" in " ".join(text_of(mail).split())


def test_a_standing_notice_is_in_every_letter_to_the_house():
    job = factories.make_job(now=NOW)
    factories.make_notice(site=job.site, level=DoNotUse.Level.NO_DRINKING, now=NOW)
    mail = customer_mail(job=job)
    sentence = "Do not drink the water yet. Our notice of Wednesday, June 10, 2026 still holds"
    assert sentence in html_of(mail)
    assert sentence.upper() in text_of(mail)


def test_a_lifted_notice_is_not(owner):
    job = factories.make_job(now=NOW)
    factories.make_notice(site=job.site, now=NOW, lifted_at=NOW, lifted_by=owner)
    assert "NOTICE" not in text_of(customer_mail(job=job))


def test_the_record_is_attached_with_cautions_and_what_comes_next():
    record = a_record()
    Company.objects.update_or_create(pk=1, defaults={"poison_phone": "555-0199"})
    factories.make_follow_up(site=record.site, due_on=date(2026, 6, 24), now=NOW)
    mail = record_summary.write(record=record, now=NOW)
    (attached,) = opened(mail).iter_attachments()
    assert attached.get_content() == b"%PDF-1.7 a"
    assert attached.get_content_type() == "application/pdf"
    text = " ".join(text_of(mail).split())
    assert "unplug the small dosing pump" in text
    assert "label and the safety sheet" in text
    assert "Poison Help: 555-0199" in text
    assert "About June 24, 2026: to check the setting" in text


def test_a_record_without_its_document_is_not_written():
    mail = record_summary.write(record=factories.make_record(now=NOW), now=NOW)
    with pytest.raises(LookupError):
        opened(mail)


def test_the_bytes_and_the_identity_are_the_same_at_every_attempt():
    mail = customer_mail()
    first = bytes(opened(mail).as_bytes())
    sent = [letter_of(mail).message().as_bytes() for _ in range(5)]
    assert len(set(sent)) == 1
    assert opened(mail)["Message-ID"] == mail.message_id
    assert first == opened(mail).as_bytes()
    assert letter_of(mail).message()["Message-ID"] == mail.message_id


def test_an_address_corrected_meanwhile_is_used():
    mail = customer_mail()
    opened(mail)
    mail.customer.email = "corrected@example.com"
    mail.customer.save()
    keep_rendered(mail)
    assert mail.recipient == "corrected@example.com"
    assert letter_of(mail).to == ["corrected@example.com"]
    assert opened(mail)["To"] == "corrected@example.com"


NASTY = [
    "Ada\r\nBcc: victim@example.com",
    "Ada\nSubject: other",
    "Ada\x0bBcc: x@a.example",
    "Ada\u2028Bcc: x@a.example",
    "<script>alert(1)</script>",
    "A" * 100,
    "\u202eada",
    "{{ company.phone }}",
    "=?utf-8?q?x?=",
]


@pytest.mark.parametrize("name", NASTY, ids=range(len(NASTY)))
def test_names_add_no_header_no_recipient_and_no_markup(name):
    customer = factories.make_customer(name=name)
    site = factories.make_site(customer=customer, street=name, town=name[:60])
    Company.objects.update_or_create(pk=1, defaults={"name": name[:80]})
    lead = factories.make_staff("technician", first_name=name[:60])
    mail = customer_mail(job=factories.make_job(site=site, now=NOW), lead=lead)
    message = opened(mail)
    assert message["To"] == customer.email
    assert message["Bcc"] is None
    assert message.get_all("Subject") == [message["Subject"]]
    assert letter_of(mail).recipients() == [customer.email]
    assert "<script>" not in html_of(mail)


def test_one_click_stop_headers_are_on_mail_to_customers_only():
    customers, staff = opened(customer_mail()), opened(staff_mail())
    assert customers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert customers["List-Unsubscribe"].strip().startswith("<http")
    assert staff["List-Unsubscribe"] is None


# --- calendar files: RFC 5545 3.8.4.7 (UID), 3.8.7.4 (SEQUENCE); RFC 5546 3.2.2 and 3.2.5
#     (REQUEST, CANCEL); RFC 6047 2.4 (the method parameter equals METHOD)


def test_calendar_keeps_its_uid_and_raises_its_sequence_to_the_cancellation():
    visit = a_visit()
    rows = [visit_confirmation.write(visit=visit, now=NOW)]
    for turn in (1, 2, 3):
        visit.sequence = turn
        for name in ("starts_at", "ends_at", "arrive_from", "arrive_until"):
            setattr(visit, name, getattr(visit, name) + timedelta(days=1))
        visit.save()
        rows.append(visit_moved.write(visit=visit, now=NOW))
        calendar_of(rows[-1])
    visit.sequence, visit.status = 4, Visit.Status.CANCELLED
    visit.save()
    rows.append(visit_cancelled.write(visit=visit, now=NOW))
    found, methods = [], []
    for mail in rows[1:]:
        part, text = calendar_of(mail)
        calendar = Calendar.from_ical(text)
        (event,) = calendar.walk("VEVENT")
        assert part.get_param("method") == calendar["METHOD"]
        assert part.get_content_charset() == "utf-8"
        found.append((str(event["UID"]), int(event["SEQUENCE"])))
        methods.append(str(calendar["METHOD"]))
    assert len({uid for uid, _ in found}) == 1
    assert [sequence for _, sequence in found] == [1, 2, 3, 4]
    assert methods == ["REQUEST", "REQUEST", "REQUEST", "CANCEL"]


def test_calendar_holds_the_window_told_in_the_zone_of_the_house():
    site = factories.make_site(time_zone="America/Denver")
    visit = a_visit(job=factories.make_job(site=site, now=NOW))
    _, text = calendar_of(visit_confirmation.write(visit=visit, now=NOW))
    (event,) = Calendar.from_ical(text).walk("VEVENT")
    assert event["DTSTART"].dt == visit.arrive_from
    assert event["DTEND"].dt == visit.arrive_until
    assert event["DTSTART"].params["TZID"] == "America/Denver"
    assert [str(zone["TZID"]) for zone in Calendar.from_ical(text).walk("VTIMEZONE")]


def test_calendar_lines_are_short_and_end_as_the_standard_says():
    """RFC 5545 (IETF, 2009) 3.1: lines of at most 75 octets, ended by CR LF."""
    part, _ = calendar_of(customer_mail())
    raw = part.get_payload(decode=True)
    assert raw.count(b"\r\n") == raw.count(b"\n") > 10
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75


def test_a_line_break_in_the_street_stays_text_in_the_calendar():
    site = factories.make_site(street="1 Mill\r\nATTENDEE:mailto:x@example.com")
    _, text = calendar_of(customer_mail(job=factories.make_job(site=site, now=NOW)))
    (event,) = Calendar.from_ical(text).walk("VEVENT")
    assert isinstance(event["ATTENDEE"], str)
    assert "x@example.com" not in event["ATTENDEE"]


@pytest.mark.parametrize("kind", Job.Kind.values)
def test_the_household_is_told_when_the_water_will_be_off(kind):
    train = factories.make_startup_train()
    visit = booked(
        asked_for(train, kind), factories.make_staff("technician"), at=NOW + DAY, now=NOW
    )
    off = kind in ("install", "startup", "service", "rebed", "repair", "removal")
    text = words_of(OutboxMail.objects.get(visit=visit))
    assert ("The water is off for a part of the visit." in text) is off


def test_of_two_holders_the_one_who_is_called_is_written_to():
    owner, tenant = factories.make_customer(), factories.make_customer()
    site = factories.make_site(customer=owner)
    let = {"part": "tenant", "from_on": date(2025, 1, 1), "is_contact": False}
    begin_tenure(site=site, customer=tenant, by=factories.some_user(), now=NOW, **let)
    job = asked_for(factories.make_train(site=site), "service")
    visit = booked(job, factories.make_staff("technician"), at=NOW + DAY, now=NOW)
    assert OutboxMail.objects.get(visit=visit).customer == owner


def test_who_holds_the_house_on_the_day_of_the_visit_is_written_to():
    """Booked with the seller, moved after the sale."""
    train, buyer = factories.make_startup_train(), factories.make_customer()
    lead = factories.make_staff("technician")
    visit = booked(asked_for(train, "service"), lead, at=NOW + 10 * DAY, now=NOW)
    sold(train.site, on=(NOW + 2 * DAY).date(), at=NOW + 2 * DAY, to=buyer)
    moved(visit, at=NOW + 12 * DAY, now=NOW + 3 * DAY)
    told = OutboxMail.objects.filter(visit=visit).order_by("pk")
    assert [(mail.template, mail.customer) for mail in told] == [
        ("visit_confirmation", visit.job.customer),
        ("visit_confirmation", buyer),  # the day of the sale
        ("visit_moved", buyer),
    ]
