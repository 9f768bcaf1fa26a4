"""Houses, holders, wells, systems, figures and samples: what is kept when something changes."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from equipment.models import Measurement, Sample, Site, Well
from equipment.on_file import OnFile
from jobs.errors import BadEntry, EditedMeanwhile, WrongState
from jobs.models import Customer, DoNotUse, FollowUp, FollowUpRule, LogEntry, OutboxMail, SiteTenure
from jobs.workflows import samples, sites
from jobs.workflows.edits import save_edited
from jobs.workflows.measurements import Reading, record_measurement
from tests import factories as make
from tests.acts import opened, sold

pytestmark = pytest.mark.django_db
TODAY = date(2026, 6, 10)
HOLDER = {"holding-part": "owner", "holding-from_on": "2024-05-01"}
NEW_CUSTOMER = {
    "customer-kind": "person",
    "customer-name": "Ida Marchetti",
    "customer-phone": "607-555-0177",
    "customer-mail_wanted": "on",
}
NEW_HOUSE = {"street": "12 Ferry Stage", "town": "Larkmoor", "drain": "unknown"}


# --- houses and who holds them ------------------------------------------------------------------


def test_a_new_house_is_entered_with_its_holder(dispatcher_client):
    sent = {**NEW_HOUSE, **NEW_CUSTOMER, **HOLDER}
    answer = dispatcher_client.post(reverse("site-new"), sent)
    site = Site.objects.get()
    assert answer.url == reverse("site-detail", args=[site.pk])
    tenure = SiteTenure.objects.get()
    assert (tenure.customer.name, tenure.from_on) == ("Ida Marchetti", date(2024, 5, 1))
    assert LogEntry.objects.filter(verb="created", subject_type="equipment.site").exists()


def test_a_house_like_one_we_know_is_asked_about_and_nothing_is_lost(dispatcher_client):
    make.make_site(street="12 Ferry Stage Rd", town="Larkmoor")
    sent = {**NEW_HOUSE, "street": "12 Ferry Stage Road", **NEW_CUSTOMER, **HOLDER}
    answer = dispatcher_client.post(reverse("site-new"), sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "There is a house like this: 12 Ferry Stage Rd, Larkmoor" in page
    assert "Ida Marchetti" in page
    assert Site.objects.count() == 1
    dispatcher_client.post(reverse("site-new"), {**sent, "is_another": "on"})
    assert Site.objects.count() == 2


def test_a_bad_day_saves_nothing_at_all(dispatcher_client):
    sent = {**NEW_HOUSE, **NEW_CUSTOMER, **HOLDER, "holding-from_on": "yesterday"}
    assert dispatcher_client.post(reverse("site-new"), sent).status_code == 422
    assert not Site.objects.exists()
    assert not Customer.objects.exists()


def test_the_same_sending_twice_makes_one_house(dispatcher_client):
    sent = {**NEW_HOUSE, **NEW_CUSTOMER, **HOLDER, "once": "opened-once"}
    first = dispatcher_client.post(reverse("site-new"), sent)
    second = dispatcher_client.post(reverse("site-new"), sent)
    assert Site.objects.count() == 1
    assert first.status_code == second.status_code == 302
    assert first.url == second.url
    changed = {**sent, "is_another": "on", "customer-is_another": "on"}
    other = dispatcher_client.post(reverse("site-new"), changed)
    assert "sent before with other content" in other.content.decode()
    assert Site.objects.count() == 1


def test_a_second_saver_sees_both_values(dispatcher_client):
    site = make.make_site(street="9 Quarry Steps", town="Larkmoor")
    sent = {"street": "9 Quarry Steps", "town": "Larkmoor", "drain": "standpipe", "version": 1}
    first = dispatcher_client.post(
        reverse("site-edit", args=[site.pk]), {**sent, "drain": "septic"}
    )
    assert first.status_code == 302
    answer = dispatcher_client.post(reverse("site-edit", args=[site.pk]), sent)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "standpipe" in page
    assert "septic system" in page
    assert Site.objects.get().drain == "septic"
    assert 'name="version" value="2"' in page
    again = dispatcher_client.post(reverse("site-edit", args=[site.pk]), {**sent, "version": 2})
    assert again.status_code == 302
    assert Site.objects.get().drain == "standpipe"


def test_an_overtaken_edit_names_what_differs(dispatcher, now):
    customer = make.make_customer(name="Ida Marchetti", notes="rings twice")
    Customer.objects.filter(pk=customer.pk).update(version=2, notes="never rings")
    with pytest.raises(EditedMeanwhile) as refusal:
        save_edited(row=customer, version=1, by=dispatcher, now=now)
    assert ("Notes", "rings twice", "never rings") in refusal.value.differences


def test_a_sold_house_ends_the_old_holder_and_stops_the_mail(dispatcher, now):
    site = make.make_site()
    former = SiteTenure.objects.get().customer
    buyer = make.make_customer()
    visit = make.make_visit(job=make.make_job(site=site), starts_at=now + timedelta(days=5))
    letter = OutboxMail.objects.create(
        key="visit:1:reminder",
        mail_class="customer",
        template="visit_reminder",
        customer=former,
        visit=visit,
        recipient=former.email,
        not_before=now,
        useful_until=now + timedelta(days=5),
        created_at=now,
    )
    make.make_rule(
        "f20", event=FollowUpRule.Event.OCCUPANT_CHANGED, subject="site", closing="acknowledged"
    )
    sites.change_hands(site=site, customer=buyer, on=date(2026, 6, 1), by=dispatcher, now=now)
    old, new = SiteTenure.objects.order_by("pk")
    assert (old.until_on, old.is_contact) == (date(2026, 6, 1), False)
    assert (new.customer, new.is_contact, new.until_on) == (buyer, True, None)
    letter.refresh_from_db()
    visit.job.refresh_from_db()
    assert letter.state == OutboxMail.State.SKIPPED
    assert visit.job.customer == buyer
    assert FollowUp.objects.filter(site=site, rule__code="f20").count() == 1


def test_a_sale_before_the_holder_came_is_refused_whole(dispatcher, now):
    site = make.make_site(from_on=date(2026, 5, 1))
    buyer = make.make_customer()
    with pytest.raises(BadEntry, match="since 1 May 2026"):
        sites.change_hands(site=site, customer=buyer, on=date(2026, 4, 1), by=dispatcher, now=now)
    assert SiteTenure.objects.count() == 1


def test_a_sale_that_lies_ahead_is_refused(dispatcher, now):
    site, buyer = make.make_site(), make.make_customer()
    with pytest.raises(BadEntry, match="lies ahead"):
        sites.change_hands(
            site=site, customer=buyer, on=TODAY + timedelta(days=1), by=dispatcher, now=now
        )


def test_a_new_tenant_is_called_and_written_to_and_the_owner_stays():
    train = make.make_train()
    begun = sold(train.site, on=TODAY, ending=[], part="tenant")
    assert SiteTenure.objects.filter(site=train.site, until_on=None).count() == 2
    assert opened(train).customer == begun.customer


def test_a_tenant_may_stay_when_the_owner_sells(dispatcher_client):
    site = make.make_site()
    tenant = make.make_customer()
    stays = make.make_tenure(site=site, customer=tenant, part="tenant", is_contact=False)
    seller = SiteTenure.objects.get(part="owner")
    sent = {"on": "2026-06-01", "part": "owner", "ending": [seller.pk], **NEW_CUSTOMER}
    answer = dispatcher_client.post(reverse("tenure-change", args=[site.pk]), sent)
    assert answer.status_code == 302
    stays.refresh_from_db()
    assert stays.until_on is None
    assert SiteTenure.objects.filter(site=site, until_on=None).count() == 2


# --- figures ------------------------------------------------------------------------------------


def test_a_correction_is_a_newer_row_and_the_old_one_stays(dispatcher, now):
    well = make.make_well()

    def level(text, **of):
        reading = Reading("static_level", text, "ft", origin="measured")
        return record_measurement(
            about=well, reading=reading, measured_at=now, by=dispatcher, now=now, **of
        )

    first = level("60")
    level("62", corrects=first)
    rows = Measurement.objects.filter(well=well)
    assert rows.count() == 2
    assert OnFile(well.site, wells=[well]).value("static_level") == 62
    with pytest.raises(WrongState):
        level("63", corrects=first)


def test_a_non_detect_and_its_unit_stay_as_typed(dispatcher, now):
    row = record_measurement(
        about=make.make_site(),
        reading=Reading("iron", "< 0.05", "mg/L", origin="measured", place="tap"),
        measured_at=now,
        by=dispatcher,
        now=now,
    )
    assert (row.comparator, row.value, row.entered) == ("<", 0.05, "< 0.05")


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("static_level", "262", "less than 240 ft"),
        ("pump_depth", "240", "less than 240 ft"),
        ("total_depth", "9000", "must be 1 to 5000"),
        ("static_level", "60 psi", "ft"),
    ],
)
def test_an_impossible_depth_is_refused_with_what_would_be_right(dispatcher, now, key, text, said):
    well = make.make_well()
    make.make_measurement(well=well, quantity_key="total_depth", value=240, by=dispatcher)
    with pytest.raises(BadEntry, match=said) as refusal:
        record_measurement(
            about=well,
            reading=Reading(key, text, origin="measured"),
            measured_at=now,
            by=dispatcher,
            now=now,
        )
    assert refusal.value.field == key
    assert Measurement.objects.count() == 1


def test_a_well_is_entered_with_told_figures_and_their_origin(dispatcher_client):
    site = make.make_site()
    sent = {
        "tag": "LK-20417",
        "kind": "drilled",
        "status": "active",
        "control": "switch",
        "figure-total_depth": "240",
        "figure-total_depth_unit": "ft",
        "figure-total_depth_origin": "state_record",
        "figure-cut_in": "2.8",
        "figure-cut_in_unit": "bar",
        "figure-cut_in_origin": "measured",
    }
    answer = dispatcher_client.post(reverse("well-new", args=[site.pk]), sent)
    assert answer.status_code == 302
    well = Well.objects.get()
    rows = {row.quantity_key: row for row in Measurement.objects.filter(well=well)}
    assert (rows["total_depth"].value, rows["total_depth"].origin) == (240, "state_record")
    assert rows["cut_in"].entered_unit == "bar"
    assert rows["cut_in"].value == pytest.approx(2.8 * 14.5038, rel=1e-4)  # MEMORY: psi in a bar


def test_a_refused_figure_keeps_every_box_and_saves_no_well(dispatcher_client):
    site = make.make_site()
    sent = {
        "tag": "LK-1",
        "kind": "drilled",
        "status": "active",
        "control": "switch",
        "figure-total_depth": "240 psi",
        "figure-static_level": "60",
    }
    answer = dispatcher_client.post(reverse("well-new", args=[site.pk]), sent)
    assert answer.status_code == 422
    assert "240 psi" in answer.content.decode()
    assert not Well.objects.exists()


def test_panels_compute_while_figures_are_typed_and_keep_nothing(dispatcher_client):
    site = make.make_site()
    sent = {
        "figure-casing_diameter": "6",
        "figure-casing_diameter_unit": "in",
        "figure-total_depth": "240",
        "figure-total_depth_unit": "ft",
        "figure-static_level": "60",
        "figure-static_level_unit": "ft",
        "figure-drawdown_volume": "6",
        "figure-drawdown_volume_unit": "gal",
        "figure-refill_time": "60",
        "figure-refill_time_unit": "s",
    }
    page = dispatcher_client.post(reverse("well-panels", args=[site.pk]), sent).content.decode()
    # 180 ft of water in 6 in: 1.469 gal/ft (geometry, gallon of 231 cubic inches)
    assert "264" in page
    assert "6.00" in page
    assert "needs the volume" in page
    assert not Measurement.objects.exists()


# --- samples ------------------------------------------------------------------------------------


def test_a_positive_result_opens_do_not_drink_with_the_name_of_the_reader(dispatcher, now):
    sample = make.make_sample(by=dispatcher)
    samples.enter_result(
        sample=sample, result=samples.Result("positive", TODAY), by=dispatcher, now=now
    )
    notice = DoNotUse.objects.get()
    assert (notice.level, notice.site, notice.opened_by) == ("no_drinking", sample.site, dispatcher)
    sample.refresh_from_db()
    assert sample.read_by == dispatcher


def test_a_result_is_entered_once(dispatcher, now):
    sample = make.make_sample(by=dispatcher, outcome=Sample.Outcome.NEGATIVE)
    with pytest.raises(WrongState):
        samples.enter_result(
            sample=sample, result=samples.Result("positive", TODAY), by=dispatcher, now=now
        )


def test_a_bacteria_sample_with_oxidant_in_it_is_refused(dispatcher, now):
    sample = Sample(
        site=make.make_site(),
        kind="bacteria",
        taken_at=now,
        taken_by=dispatcher,
        place="tap",
        residual_free=False,
    )
    with pytest.raises(BadEntry, match="flush"):
        samples.send_sample(sample=sample, by=dispatcher, now=now)


def test_laboratory_figures_are_kept_with_the_sample(dispatcher_client):
    sample = make.make_sample(kind=Sample.Kind.ANNUAL)
    sent = {"outcome": "results", "result_on": timezone.localdate().isoformat(), "iron": "< 0.05"}
    where = reverse("sample-result", args=[sample.pk])
    assert dispatcher_client.post(where, sent).status_code == 302
    row = Measurement.objects.get(sample=sample)
    assert (row.comparator, row.origin, row.measured_at) == ("<", "laboratory", sample.taken_at)


@pytest.mark.parametrize(("email", "state"), [("new@example.com", "unproven"), ("", "refused")])
def test_a_new_address_has_not_been_refused_yet(dispatcher, email, state):
    customer = make.make_customer(mail_state="refused")
    customer.email = email or customer.email
    sites.edit_customer(customer=customer, version=1, by=dispatcher, now=timezone.now())
    customer.refresh_from_db()
    assert customer.mail_state == state


@pytest.mark.parametrize(("altitude", "gallons"), [("0", "25.8"), ("2000", "26.1")])
def test_the_water_of_a_pressure_tank_follows_the_altitude_of_the_house(
    dispatcher_client, altitude, gallons
):
    """100 gal, 38, 40 and 60 psi: 0.2579 of it at sea level, 0.2614 at 2000 ft (Boyle, by hand)."""
    typed = {"pressure_tank_volume": "100", "precharge": "38", "cut_in": "40", "cut_out": "60"}
    sent = {f"figure-{key}": text for key, text in (typed | {"altitude": altitude}).items()}
    units = {"pressure_tank_volume": "gal", "altitude": "ft"}
    sent |= {f"figure-{key}_unit": units.get(key, "psi") for key in (*typed, "altitude")}
    where = reverse("well-panels", args=[make.make_site().pk])
    answer = dispatcher_client.post(where, sent)
    glasses = {glass.title: glass.answer for glass in answer.context["glasses"]}
    assert glasses["Water the pressure tank gives"] == gallons
