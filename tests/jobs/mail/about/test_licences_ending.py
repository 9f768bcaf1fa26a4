"""The weekly letter about what ends: who gets it, how often, and when it stops."""

from datetime import timedelta

import pytest

from jobs.mail.about import licences_ending as kind
from jobs.models import OutboxMail
from jobs.models.company import Company, company_day
from jobs.workflows import reminders, tick
from jobs.workflows.licences import enter_licence, renew_licence, withdraw_licence
from jobs.workflows.people import close_account
from tests.factories import make_staff
from tests.jobs.mail.letters import NOW, html_of, opened, text_of, words_of
from tests.jobs.workflows.sending import Postbox, send

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
#: a Wednesday
TODAY = company_day(NOW)
MONDAY = NOW - 2 * DAY


def licences_ending():
    owner = make_staff("owner", first_name="Omar")
    held(make_staff("technician", first_name="Tess", last_name="Alder"), 10, by=owner)
    return kind.write(user=owner, day=TODAY, now=NOW)


def held(person, days, name="Wells", *, by, **more):
    return enter_licence(
        person=person, name=name, expires_on=TODAY + days * DAY, by=by, now=NOW, **more
    )


@pytest.fixture
def boss():
    return make_staff("owner", first_name="Omar", last_name="Weir")


@pytest.fixture
def tess():
    return make_staff("technician", first_name="Tess", last_name="Alder")


def letters_to(person):
    return OutboxMail.objects.filter(template="licences_ending", recipient=person.email)


def test_the_owner_reads_all_of_it_and_each_person_their_own(boss, tess):
    ivo = make_staff("technician", first_name="Ivo", last_name="Sedge")
    held(tess, 10, number="W-1", by=boss)
    held(ivo, -3, by=boss)
    held(None, 60, "Registration", by=boss)
    reminders.write_weekly_lists(NOW)
    said = words_of(letters_to(boss).get())
    assert "3 ended, or ending within 60 days" in said
    assert "Wells, Ivo Sedge: ended 3 days ago, Sunday, June 7, 2026" in said.replace("\u00a0", " ")
    assert "Wells, W-1, Tess Alder: ends in 10 days" in said.replace("\u00a0", " ")
    assert "Registration, the company: ends in 60 days" in said.replace("\u00a0", " ")
    assert said.index("Ivo") < said.index("Tess") < said.index("Registration")
    own = letters_to(tess).get()
    assert "1 ended, or ending" in words_of(own)
    assert "Ivo" not in text_of(own) + html_of(own)


def test_nobody_is_named_in_the_title(boss, tess):
    held(tess, 10, by=boss)
    reminders.write_weekly_lists(NOW)
    for mail in OutboxMail.objects.filter(template="licences_ending"):
        assert opened(mail)["Subject"] == "Licences and certificates that end: 1"


def test_it_comes_once_a_week_until_it_is_renewed(boss, tess):
    licence = held(tess, 10, by=boss)
    for moment in (MONDAY, NOW, NOW + 4 * DAY):
        reminders.write_weekly_lists(moment)
    assert (letters_to(boss).count(), letters_to(tess).count()) == (1, 1)
    reminders.write_weekly_lists(MONDAY + 7 * DAY)
    assert (letters_to(boss).count(), letters_to(tess).count()) == (2, 2)
    later = NOW + 6 * DAY
    ends = TODAY + 400 * DAY
    renew_licence(licence=licence, expires_on=ends, number="", by=boss, now=later)
    reminders.write_weekly_lists(MONDAY + 14 * DAY)
    assert letters_to(boss).count() == 2


def test_what_was_renewed_before_it_left_is_not_sent(boss, tess):
    licence = held(tess, 10, by=boss)
    reminders.write_weekly_lists(NOW)
    ends = TODAY + 400 * DAY
    renew_licence(licence=licence, expires_on=ends, number="", by=boss, now=NOW)
    mail = letters_to(tess).get()
    OutboxMail.objects.exclude(pk=mail.pk).delete()
    assert send(mail, Postbox()).last_error == "Nothing of it ends soon any more."


@pytest.mark.parametrize(("days", "told"), [(59, True), (60, True), (61, False)])
def test_it_is_told_from_the_company_s_days_on(boss, tess, days, told):
    held(tess, days, by=boss)
    reminders.write_weekly_lists(NOW)
    assert letters_to(tess).exists() == told


def test_the_company_may_want_to_know_later(boss, tess):
    Company.objects.update_or_create(pk=1, defaults={"licence_lead_days": 14})
    held(tess, 15, by=boss)
    reminders.write_weekly_lists(NOW)
    assert not letters_to(boss).exists()
    reminders.write_weekly_lists(NOW + DAY)
    assert "within 14 days" in words_of(letters_to(boss).get())


def test_what_is_out_of_use_or_of_a_closed_account_is_told_to_nobody(boss, tess):
    ivo = make_staff("technician")
    licence = held(tess, 10, by=boss)
    held(ivo, 10, by=boss)
    withdraw_licence(licence=licence, reason="Works at the office now.", by=boss, now=NOW)
    close_account(user=ivo, by=boss, now=NOW)
    reminders.write_weekly_lists(NOW)
    assert not OutboxMail.objects.filter(template="licences_ending").exists()


def test_it_is_written_before_the_working_day_and_of_use_in_its_week(boss, tess):
    held(tess, 10, by=boss)
    hours = timedelta(hours=1)
    reminders.write_weekly_lists(NOW - 9 * hours)
    mail = letters_to(tess).get()
    assert mail.not_before == NOW - 3 * hours  # seven in the morning
    assert mail.useful_until == NOW + 4 * DAY + 14 * hours  # midnight after Sunday


def test_the_scan_of_the_database_writes_it(boss, tess):
    held(tess, 10, by=boss)
    tick.scan(clock=lambda: NOW, asked_to_end=lambda: True)
    assert letters_to(tess).exists()


def test_an_owner_who_holds_one_gets_one_letter(boss):
    held(boss, 10, by=boss)
    reminders.write_weekly_lists(NOW)
    assert letters_to(boss).count() == 1
    assert "Omar Weir" in words_of(letters_to(boss).get())
