"""Houses, systems, figures, fills and samples: from the act to what the office reads of it."""

from datetime import date, timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from equipment.models import Fill, Measurement, SpecialUse, Stage
from jobs.errors import BadEntry, DoNotUseOpen, WrongState
from jobs.models import Customer, DoNotUse, FollowUp, OutboxMail, SiteTenure
from jobs.models.company import company_day
from jobs.workflows import sites, trains
from jobs.workflows.fills import Poured, record_fill
from jobs.workflows.measurements import Reading, record_measurement
from jobs.workflows.notices import Danger, lift_notice, open_notice, refuse_if_blocked
from jobs.workflows.plans import plan_of
from jobs.workflows.samples import Result, enter_result, send_sample, tell_result
from tests.acts import booked, cleared, moved, opened, sold, spoken_to
from tests.conftest import NOW
from tests.factories import (
    Sample,
    make_customer,
    make_product,
    make_site,
    make_staff,
    make_startup_train,
    make_tenure,
    make_train,
    make_well,
)

pytestmark = pytest.mark.django_db
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)
TODAY = company_day(NOW)


@pytest.fixture
def by():
    return make_staff("dispatcher")


# --- figures ------------------------------------------------------------------------------------


def measured(about, key, text, *, by, at=NOW, **fields):
    reading = Reading(key, text, origin="measured", **fields)
    return record_measurement(about=about, reading=reading, measured_at=at, by=by, now=NOW)


@pytest.mark.parametrize(("minutes", "taken"), [(5, True), (6, False), (60, False)])
def test_a_clock_may_run_five_minutes_ahead(by, minutes, taken):
    """The phone of the technician and the server do not agree to the minute."""
    site, at = make_site(), NOW + minutes * MINUTE
    feeder = make_startup_train(site=site).stages.get(kind="feeder")
    acts = [
        lambda: measured(site, "iron", "3", by=by, at=at, place="raw"),
        lambda: record_fill(stage=feeder, poured=Poured(at=at, product_gal=2), by=by, now=NOW),
    ]
    for act in acts:
        if taken:
            assert act().pk
        else:
            with pytest.raises(BadEntry, match="lies ahead"):
                act()


def test_depths_and_pressures_of_a_well_stand_in_order(by):
    well = make_well()
    measured(well, "total_depth", "240", by=by)
    assert measured(well, "casing_depth", "240", by=by).value == 240
    for key in ("casing_depth", "pumping_level"):
        with pytest.raises(BadEntry, match="240 ft"):
            measured(well, key, "241", by=by)
    measured(well, "cut_in", "40", by=by)
    with pytest.raises(BadEntry, match="Cut-in is 40, so this must be more"):
        measured(well, "cut_out", "40", by=by)
    assert measured(well, "cut_out", "60", by=by).value == 60
    with pytest.raises(BadEntry, match="less than 60 psi"):
        measured(well, "cut_in", "60", by=by)


def test_order_is_asked_of_what_stands_now(by):
    """A depth that was corrected, and one deepened since, no longer count."""
    well = make_well()
    wrong = measured(well, "total_depth", "40", by=by)
    right = Reading("total_depth", "240", origin="measured")
    record_measurement(
        about=well, reading=right, measured_at=NOW - DAY, corrects=wrong, by=by, now=NOW
    )
    assert measured(well, "static_level", "60", by=by).value == 60
    measured(well, "total_depth", "400", by=by)
    assert measured(well, "pump_depth", "300", by=by).value == 300
    assert measured(make_well(), "static_level", "900", by=by).value == 900


# --- fills --------------------------------------------------------------------------------------


def test_a_tank_is_filled_to_the_brim_and_not_above(by):
    feeder = make_startup_train().stages.get(kind="feeder")
    full = Poured(at=NOW, product_gal=5, level_after_gal=15)
    assert record_fill(stage=feeder, poured=full, by=by, now=NOW).level_after_gal == 15
    above = Poured(at=NOW, product_gal=5, level_after_gal=15.1)
    with pytest.raises(BadEntry, match="holds 15 gal: at most that"):
        record_fill(stage=feeder, poured=above, by=by, now=NOW)


def test_what_was_poured_stands_with_its_day_and_the_day_it_was_told(by, dispatcher_client):
    train = make_startup_train()
    feeder = train.stages.get(kind="feeder")
    other = make_product("other", name="another solution")
    poured = Poured(at=NOW - 3 * DAY, product=other, product_gal=5)
    record_fill(stage=feeder, poured=poured, by=by, now=NOW)
    row = Fill.objects.get()
    assert (row.at, row.recorded_at, row.product) == (NOW - 3 * DAY, NOW, other)
    page = dispatcher_client.get(reverse("site-history", args=[train.site_id])).content.decode()
    assert "another solution" in page


def test_salt_keeps_no_promise_of_the_feeder(by):
    call_command("load_rules", verbosity=0)
    softener = make_startup_train().stages.get(kind="softener")
    record_fill(stage=softener, poured=Poured(at=NOW, salt_lb=40), by=by, now=NOW)
    assert not FollowUp.objects.exists()


# --- plans --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("sulfide", "middle"), [("0", 6), ("2", 10)])
def test_water_without_sulfide_is_planned_for_its_iron(by, sulfide, middle):
    """A reading of 0 is no sulfide: factor 1.5 and the lower residual of the company."""
    train = make_startup_train(switching="switch_load", injection="before")
    for key, text in (("iron", "3"), ("sulfide", sulfide), ("ph", "7")):
        measured(train.site, key, text, by=by, place="raw")
    figures = plan_of(train)
    demand = 3 * 17.0073 / 55.845 + float(sulfide) * 34.0147 / 34.081
    wanted = demand * (2 if float(sulfide) else 1.5) + middle
    assert figures.result("oxidant-demand", "dose", "mg/L") == pytest.approx(wanted, rel=2e-4)


def test_a_feeder_that_was_taken_out_is_planned_for_no_more(by):
    train = make_startup_train(switching="switch_load", injection="before")
    for key, text in (("iron", "3"), ("ph", "7")):
        measured(train.site, key, text, by=by, place="raw")
    trains.end_stage(stage=train.stages.get(kind="feeder"), on=TODAY, by=by, now=NOW)
    assert "feed-setting" not in {step.name for step in plan_of(train).steps if step.answer}


def test_after_a_change_of_oxidant_the_plan_aims_at_the_residual_of_the_new_one(by):
    """As in a house with the same water that never had another pump."""
    chlorine = make_product("bleach", oxidant="chlorine", safety_class="corrosive")
    always, changed = make_startup_train(), make_startup_train()
    Stage.objects.filter(train=always, kind="feeder").update(product=chlorine)
    old = changed.stages.get(kind="feeder")
    new = part(changed, kind="feeder", feed_pump=old.feed_pump, solution_tank_gal=15)
    new.product = chlorine
    trains.replace_stage(old=old, new=new, by=by, now=NOW)
    for train in (always, changed):
        for key, text in (("iron", "3"), ("ph", "7")):
            measured(train.site, key, text, by=by, place="raw")
    one, other = (
        plan_of(train).result("oxidant-demand", "dose", "mg/L") for train in (always, changed)
    )
    assert one == other


# --- who holds the house ------------------------------------------------------------------------


def test_who_holds_a_house_from_another_day_is_kept_with_that_day(by):
    site = sites.create_site(
        site=make_site(with_holder=False),
        holder=make_customer(),
        from_on=date(2020, 5, 1),
        by=by,
        now=NOW,
    )
    assert SiteTenure.objects.get(site=site).from_on == date(2020, 5, 1)


def test_a_house_is_sold_today_and_on_the_day_somebody_came(by):
    site = make_site(from_on=TODAY)
    buyer = make_customer()
    assert sold(site, on=TODAY, to=buyer).customer == buyer
    assert SiteTenure.objects.get(customer=buyer).is_contact


def test_a_tenant_may_buy_the_house_he_lives_in(by):
    tenant = make_customer()
    site = make_site()
    make_tenure(site=site, customer=tenant, part="tenant", is_contact=False)
    assert sold(site, on=TODAY, to=tenant).part == "owner"
    with pytest.raises(BadEntry, match="holds the house already"):
        sold(site, on=TODAY, to=tenant)


def test_a_sale_drops_letters_of_that_house_only_and_none_that_left(by):
    """The seller keeps another house; what was sent to him stays sent."""
    seller = make_customer()
    here, there = make_site(customer=seller), make_site(customer=seller)
    lead = make_staff("technician")
    booked(opened(make_train(site=there)), lead, at=NOW + 5 * DAY, now=NOW)
    visit = booked(opened(make_train(site=here)), lead, at=NOW + 6 * DAY, now=NOW)
    OutboxMail.objects.filter(visit=visit).update(state="sent", sent_at=NOW)
    moved(visit, at=NOW + 7 * DAY)
    sold(here, on=TODAY)
    states = dict(OutboxMail.objects.order_by("pk").values_list("template", "state"))
    to_the_seller = OutboxMail.objects.filter(customer=seller).order_by("pk")
    assert [mail.state for mail in to_the_seller] == ["queued", "sent", "skipped"]
    to_the_buyer = OutboxMail.objects.exclude(customer=seller).get()
    assert (to_the_buyer.template, to_the_buyer.visit) == ("visit_confirmation", visit)
    assert states["visit_moved"] == "skipped"


def test_open_work_of_the_seller_becomes_the_buyers_and_no_one_elses(by):
    seller, buyer = make_customer(), make_customer()
    site = make_site(customer=seller)
    train = make_train(site=site)
    asked = opened(train)
    elses = opened(train)
    elses.customer = make_customer()
    elses.save()
    sold(site, on=TODAY, to=buyer)
    asked.refresh_from_db()
    elses.refresh_from_db()
    assert asked.customer == buyer
    assert elses.customer != buyer


def test_new_people_are_promised_a_visit_from_the_day_they_came(by):
    call_command("load_rules", verbosity=0)
    site = make_site()
    sold(site, on=TODAY - 10 * DAY)
    assert FollowUp.objects.get(rule__code="f20").due_on == TODAY + 4 * DAY


def test_a_kept_address_stays_refused(by):
    customer = make_customer(mail_state="refused")
    customer.notes = "rings twice"
    sites.edit_customer(customer=customer, version=1, by=by, now=NOW)
    assert Customer.objects.get().mail_state == "refused"


# --- special uses -------------------------------------------------------------------------------


def noted(site, by, kind="dialysis", on=TODAY):
    use = SpecialUse(site=site, kind=kind, noted_on=on)
    return sites.note_special_use(use=use, by=by, now=NOW)


def test_a_use_ends_on_the_day_it_was_noted_at_the_earliest(by, dispatcher_client):
    use = noted(make_site(), by)
    with pytest.raises(BadEntry, match="cannot end before it was noted") as refused:
        sites.end_special_use(use=use, on=TODAY - DAY, by=by, now=NOW)
    assert refused.value.field == "ended_on"
    assert sites.end_special_use(use=use, on=TODAY, by=by, now=NOW).ended_on == TODAY
    page = dispatcher_client.get(reverse("site-detail", args=[use.site_id])).content.decode()
    assert "the clinic has not been told" not in page


def test_a_use_that_ended_may_come_back(by):
    site = make_site()
    sites.end_special_use(use=noted(site, by), on=TODAY, by=by, now=NOW)
    again = noted(site, by)
    with pytest.raises(BadEntry, match="noted for this house already"):
        noted(site, by)
    again.note = "since May"
    assert sites.note_special_use(use=again, by=by, now=NOW).note == "since May"


def test_only_dialysis_that_still_stands_stops_the_oxidant(by):
    train = make_startup_train()
    use = noted(train.site, by)
    for purpose in ("startup", "disinfect"):
        with pytest.raises(DoNotUseOpen, match="Home dialysis"):
            refuse_if_blocked(site=train.site, train=train, purpose=purpose, now=NOW)
    refuse_if_blocked(site=train.site, train=train, purpose="recheck", now=NOW)
    without_feeder = make_train(site=train.site, stages=("softener",))
    refuse_if_blocked(site=train.site, train=without_feeder, purpose="startup", now=NOW)
    sites.end_special_use(use=use, on=TODAY, by=by, now=NOW)
    refuse_if_blocked(site=train.site, train=train, purpose="startup", now=NOW)


# --- systems ------------------------------------------------------------------------------------


def part(train, **fields):
    given = {"kind": "uv", "position": 9, "fitted_on": TODAY, **fields}
    return Stage(train=train, **given)


def test_a_part_is_fitted_today_and_not_tomorrow(by):
    train = make_train()
    assert trains.fit_stage(stage=part(train), by=by, now=NOW).pk
    with pytest.raises(BadEntry, match="lies ahead"):
        trains.fit_stage(stage=part(train, position=1, fitted_on=TODAY + DAY), by=by, now=NOW)


def test_a_part_is_taken_out_once_between_its_first_day_and_today(by):
    train = make_train()
    lamp = trains.fit_stage(stage=part(train), by=by, now=NOW)
    with pytest.raises(BadEntry, match="lies ahead"):
        trains.end_stage(stage=lamp, on=TODAY + DAY, by=by, now=NOW)
    assert trains.end_stage(stage=lamp, on=TODAY, by=by, now=NOW).removed_on == TODAY
    with pytest.raises(WrongState, match="taken out already"):
        trains.end_stage(stage=lamp, on=TODAY, by=by, now=NOW)


def test_a_new_lamp_is_promised_again_when_it_is_fitted_and_when_it_is_replaced(by):
    call_command("load_rules", verbosity=0)
    train = make_train()
    lamp = trains.fit_stage(stage=part(train, fitted_on=TODAY - 300 * DAY), by=by, now=NOW)
    trains.replace_stage(old=lamp, new=part(train, fitted_on=TODAY - 2 * DAY), by=by, now=NOW)
    due = FollowUp.objects.filter(rule__code="f8").order_by("due_on")
    assert [(row.due_on - TODAY).days for row in due] == [65, 363]


def test_a_part_that_was_taken_out_keeps_its_place_in_the_past(by):
    train = make_train(stages=("feeder", "filter"))
    old = train.stages.get(kind="filter")
    trains.end_stage(stage=old, on=TODAY, by=by, now=NOW)
    trains.fit_stage(stage=part(train, position=1), by=by, now=NOW)
    old.refresh_from_db()
    assert old.position == 2


# --- samples and notices ------------------------------------------------------------------------


def bottle(site, by, *, at=NOW, now=NOW, kind="bacteria", **fields):
    sample = Sample(site=site, kind=kind, taken_at=at, taken_by=by, place="raw", **fields)
    return send_sample(sample=sample, by=by, now=now)


def read(sample, outcome, by, *, on=TODAY, at=NOW, **more):
    return enter_result(sample=sample, result=Result(outcome, on, **more), by=by, now=at)


def test_a_bottle_is_filled_and_read_today_at_the_latest(by):
    site = make_site()
    with pytest.raises(BadEntry, match="time of sampling lies ahead"):
        bottle(site, by, at=NOW + MINUTE)
    sample = bottle(site, by)
    with pytest.raises(BadEntry, match="day of the result lies ahead"):
        read(sample, "negative", by, on=TODAY + DAY)
    assert read(sample, "negative", by).result_on == TODAY


def test_whether_the_customer_was_told_is_kept_as_it_was_said(by):
    untold = read(bottle(make_site(), by, note="two bottles"), "positive", by)
    assert (list(untold.told.all()), untold.note) == ([], "two bottles")
    adult = spoken_to("C. Prudhomme")
    told = tell_result(sample=untold, site=untold.site, adult=adult, by=by, now=NOW)
    assert (told.at, told.whom, told.by) == (NOW, "C. Prudhomme", by)


def test_figures_of_the_laboratory_are_of_the_day_of_the_bottle(by):
    sample = bottle(make_site(), by, at=NOW - 5 * DAY, kind="annual")
    figures = [Reading("iron", "0.4", "mg/L", origin="laboratory")]
    read(sample, "results", by, figures=figures)
    assert Measurement.objects.get().measured_at == NOW - 5 * DAY


def test_a_positive_result_stands_as_no_drinking_beside_no_use(by, dispatcher_client):
    site = make_site()
    open_notice(danger=Danger(site=site, level="no_use", reason="chlorine in"), by=by, now=NOW)
    read(bottle(site, by), "positive", by)
    read(bottle(site, by), "positive", by)
    assert sorted(DoNotUse.objects.values_list("level", flat=True)) == ["no_drinking", "no_use"]
    page = dispatcher_client.get(reverse("worklist")).content.decode()
    assert "bacteria found in the sample of June 10, 2026" in page


def test_lifting_twice_is_once(by):
    site = make_well().site
    notice = open_notice(
        danger=Danger(site, "no_drinking", "new pump", "opened", well=site.wells.get()),
        by=by,
        now=NOW,
    )
    done = cleared(site)
    first = lift_notice(notice=notice, by=by, now=done)
    again = lift_notice(notice=notice, by=make_staff("owner"), now=done + DAY)
    assert (again.lifted_by, again.lifted_at) == (by, first.lifted_at)
