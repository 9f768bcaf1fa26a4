"""Rows for tests: plain functions, each makes what it needs and takes what a test cares about.

Names, streets and numbers are invented; telephones are 555-0100 to 555-0199.
"""

import io
import uuid
from datetime import date, timedelta
from itertools import count

from PIL import Image

from equipment.models import (
    FeedPump,
    Fill,
    Measurement,
    Medium,
    OxidantProduct,
    Resin,
    RetentionTank,
    Sample,
    SettingChange,
    Site,
    SpecialUse,
    Stage,
    Train,
    Vessel,
    Well,
)
from jobs.models import (
    ChecklistRecord,
    ChecklistTemplate,
    Customer,
    DoNotUse,
    FollowUp,
    FollowUpRule,
    Job,
    Photo,
    SiteTenure,
    StaffProfile,
    TechnicianSlot,
    Visit,
)
from jobs.models.company import company_day
from jobs.workflows.pictures import keep_picture
from tests.carried import carried
from tests.conftest import NOW, make_person

_numbers = count(1)


def next_number():
    return next(_numbers)


def make_staff(*roles, username="", **fields):
    """A person with one or more roles and a profile."""
    username = username or f"{roles[0] if roles else 'person'}-{next_number()}"
    fields.setdefault("first_name", username.capitalize())
    user = make_person(username, *roles, **fields)
    StaffProfile.objects.create(user=user)
    return user


def some_user():
    """Whoever is there already, else a new dispatcher."""
    from django.contrib.auth.models import User

    return User.objects.order_by("pk").first() or make_staff("dispatcher")


# --- people and places -----------------------------------------------------------------------


def make_customer(**fields):
    number = next_number()
    fields.setdefault("name", f"Customer {number}")
    fields.setdefault("phone", f"+1 518 555 01{number % 100:02d}")
    fields.setdefault("email", f"customer{number}@example.com")
    return Customer.objects.create(**fields)


def make_site(*, customer=None, from_on=date(2024, 1, 1), with_holder=True, **fields):
    """A site held by its customer (a new one unless told; none with with_holder=False)."""
    number = next_number()
    fields.setdefault("street", f"{number} Old Mill Road")
    fields.setdefault("town", "Kestrel Ford")
    site = Site.objects.create(**fields)
    if with_holder:
        make_tenure(site=site, customer=customer or make_customer(), from_on=from_on)
    return site


def make_tenure(*, site, customer, from_on=date(2024, 1, 1), **fields):
    return SiteTenure.objects.create(site=site, customer=customer, from_on=from_on, **fields)


def make_special_use(*, site, kind=SpecialUse.Kind.DIALYSIS, **fields):
    fields.setdefault("noted_on", date(2026, 1, 1))
    return SpecialUse.objects.create(site=site, kind=kind, **fields)


def make_well(*, site=None, **fields):
    fields.setdefault("tag", f"KF-{next_number():05d}")
    return Well.objects.create(site=site or make_site(), **fields)


# --- catalog ---------------------------------------------------------------------------------


def _entry(model, slug, **fields):
    slug = slug or f"{model.__name__.lower()}-{next_number()}"
    found = model.objects.filter(slug=slug).first()
    fields.setdefault("name", slug)
    return found or model.objects.create(slug=slug, source="made for a test", **fields)


def make_feed_pump(slug="", **fields):
    """24 gpd at 100 psi, 120 V, variable."""
    fields = {"nameplate_output_gpd": 24, "rated_pressure_psi": 100, "voltage": 120, **fields}
    return _entry(FeedPump, slug, **fields)


def make_product(slug="", **fields):
    """Peroxide, 7 percent by weight."""
    fields = {
        "oxidant": OxidantProduct.Oxidant.PEROXIDE,
        "label_strength_percent": 7,
        "strength_basis": OxidantProduct.Basis.WEIGHT,
        "density_g_ml": 1.024,
        "safety_class": "eye irritant",
        **fields,
    }
    return _entry(OxidantProduct, slug, **fields)


def make_vessel(slug="", **fields):
    fields = {
        "diameter_in": 10,
        "height_in": 54,
        "rated_pressure_psi": 150,
        "rated_temperature_f": 120,
        **fields,
    }
    return _entry(Vessel, slug, **fields)


def make_medium(slug="", **fields):
    """Catalytic carbon."""
    fields = {
        "backwash_low_gpm_ft2": 10,
        "backwash_high_gpm_ft2": 12,
        "interval_max_days": 7,
        "is_carbon": True,
        **fields,
    }
    return _entry(Medium, slug, **fields)


def make_retention_tank(slug="", **fields):
    return _entry(RetentionTank, slug, **{"volume_gal": 120, "baffling_factor": 0.3, **fields})


def make_resin(slug="", **fields):
    return _entry(Resin, slug, **fields)


# --- trains ----------------------------------------------------------------------------------


def make_train(*, site=None, well=None, stages=(), **fields):
    """A train; `stages` are kinds placed in order, e.g. ("feeder", "retention", "filter")."""
    site = site or make_site()
    train = Train.objects.create(site=site, **fields)
    train.wells.add(well or site.wells.first() or make_well(site=site))
    for position, kind in enumerate(stages, 1):
        make_stage(train=train, kind=kind, position=position)
    return train


def make_startup_train(**fields):
    """Feeder, retention tank, carbon filter, softener: the usual peroxide house."""
    return make_train(stages=("feeder", "retention", "filter", "softener"), **fields)


def make_stage(*, train=None, kind=Stage.Kind.FILTER, **fields):
    train = train or make_train()
    fields.setdefault("position", train.stages.count() + 1)
    fields.setdefault("fitted_on", date(2026, 1, 5))
    if kind == Stage.Kind.FEEDER:
        fields.setdefault("feed_pump", make_feed_pump())
        fields.setdefault("product", make_product())
        fields.setdefault("solution_tank_gal", 15)
    elif kind == Stage.Kind.RETENTION:
        fields.setdefault("retention_tank", make_retention_tank())
    elif kind == Stage.Kind.FILTER:
        fields.setdefault("vessel", make_vessel())
        fields.setdefault("medium", make_medium())
        fields.setdefault("bed_depth_in", 30)
    elif kind == Stage.Kind.SOFTENER:
        fields.setdefault("vessel", make_vessel())
        fields.setdefault("resin", make_resin())
        fields.setdefault("media_volume_ft3", 1.5)
    return Stage.objects.create(train=train, kind=kind, **fields)


# --- evidence --------------------------------------------------------------------------------


def make_measurement(*, quantity_key="iron", value=3.2, measured_at=NOW, by=None, **fields):
    """About `site=`, `well=`, `stage=` or `sample=`; a new site unless told."""
    if not {"site", "well", "stage", "sample"} & set(fields):
        fields["site"] = make_site()
    fields.setdefault("origin", Measurement.Origin.MEASURED)
    fields.setdefault("entered", f"{value:g}")
    return Measurement.objects.create(
        quantity_key=quantity_key,
        value=value,
        measured_at=measured_at,
        recorded_at=measured_at,
        recorded_by=by or some_user(),
        **fields,
    )


def make_setting(*, stage, name="output_percent", new_value=30, at=NOW, by=None, **fields):
    fields.setdefault("unit", "percent")
    fields.setdefault("reason", "dial-back")
    return SettingChange.objects.create(
        stage=stage,
        name=name,
        new_value=new_value,
        at=at,
        recorded_at=at,
        recorded_by=by or some_user(),
        **fields,
    )


def make_fill(*, stage, at=NOW, by=None, **fields):
    return Fill.objects.create(
        stage=stage, at=at, recorded_at=at, recorded_by=by or some_user(), **fields
    )


def make_sample(*, site=None, kind=Sample.Kind.BACTERIA, taken_at=NOW, by=None, **fields):
    """At the raw tap of the only well unless told."""
    site = site or make_site()
    fields.setdefault("place", Sample.Place.RAW)
    fields.setdefault("well", Well.objects.only_one_at(site))
    return Sample.objects.create(
        site=site, kind=kind, taken_at=taken_at, taken_by=by or some_user(), **fields
    )


# --- work and promises -----------------------------------------------------------------------


def make_job(*, site=None, train=None, kind=Job.Kind.SERVICE, by=None, now=NOW, **fields):
    """Open unless told; `status="completed"` fills the dates that go with it."""
    site = site or (train.site if train else make_site())
    if fields.get("status") == Job.Status.COMPLETED:
        fields.setdefault("completed_at", now)
        fields.setdefault("index_on", company_day(now))
    fields.setdefault("reported_on", company_day(now))
    fields.setdefault("customer", Customer.objects.at_site(site, on=company_day(now)).first())
    job = Job.objects.create(
        site=site, train=train, kind=kind, opened_at=now, opened_by=by or some_user(), **fields
    )
    carried([job])
    return job


def make_visit(*, job=None, lead=None, starts_at=NOW, hours=1.0, slots=True, now=NOW, **fields):
    """Confirmed unless told, with the quarter hours it holds; `outcome=` closes it."""
    job = job or make_job(now=now)
    lead = lead or make_staff("technician")
    ends_at = fields.pop("ends_at", starts_at + timedelta(hours=hours))
    if fields.get("outcome"):
        fields.setdefault("status", Visit.Status.CLOSED)
        fields.setdefault("closed_at", ends_at)
        fields.setdefault("arrived_at", starts_at)
        fields.setdefault("closed_by", lead)
    fields.setdefault("status", Visit.Status.CONFIRMED)
    fields.setdefault("arrive_from", starts_at)
    fields.setdefault("arrive_until", min(starts_at + timedelta(hours=1), ends_at))
    fields.setdefault("booked_by", some_user())
    visit = Visit.objects.create(
        job=job, lead=lead, starts_at=starts_at, ends_at=ends_at, booked_at=now, **fields
    )
    if slots and visit.status != Visit.Status.CANCELLED:
        for person in filter(None, [visit.lead, visit.helper]):
            at = starts_at
            while at < ends_at:
                TechnicianSlot.objects.create(technician=person, quarter_at=at, visit=visit)
                at += timedelta(minutes=15)
    return visit


def make_rule(code="f1", **fields):
    """The rule with that code, made if it is not there."""
    found = FollowUpRule.objects.filter(code=code).first()
    fields.setdefault("name", "Recheck of the oxidant setting")
    fields.setdefault("event", FollowUpRule.Event.STARTUP_CLOSED)
    fields.setdefault("offset_days", 14)
    fields.setdefault("window_before_days", 7)
    fields.setdefault("window_after_days", 7)
    fields.setdefault("closing", FollowUpRule.Closing.VISIT)
    fields.setdefault("job_kind", Job.Kind.RECHECK)
    fields.setdefault("harm", FollowUpRule.Harm.RECHECK)
    fields.setdefault("reason", "the oxidant was set at the start-up")
    return found or FollowUpRule.objects.create(code=code, **fields)


def make_follow_up(*, rule=None, site=None, train=None, due_on=None, now=NOW, **fields):
    """Open and due today unless told."""
    site = site or (train.site if train else make_site())
    due_on = due_on or company_day(now)
    subject_key = f"train:{train.pk}" if train else f"site:{site.pk}"
    rule = rule or make_rule()
    fields.setdefault("subject_key", subject_key)
    fields.setdefault(
        "cycle",
        FollowUp.objects.filter(rule=rule, subject_key=fields["subject_key"]).count() + 1,
    )
    fields.setdefault("window_from", due_on - timedelta(days=7))
    fields.setdefault("window_until", due_on + timedelta(days=7))
    fields.setdefault("first_due_on", due_on)
    fields.setdefault("reason", "the oxidant was set at the start-up")
    if fields.get("status") in ("done", "waived", "superseded"):
        fields.setdefault("ended_at", now)
    return FollowUp.objects.create(
        rule=rule,
        terms=rule.versions.last(),
        site=site,
        train=train,
        due_on=due_on,
        made_at=now,
        **fields,
    )


def make_notice(*, site, level=DoNotUse.Level.NO_DRINKING, now=NOW, by=None, **fields):
    """Bacteria belong to the only well, oxidant to the house."""
    fields.setdefault("reason", "positive sample")
    if level == DoNotUse.Level.NO_USE:
        fields.setdefault("cause", DoNotUse.Cause.OXIDANT)
    else:
        fields.setdefault("well", Well.objects.only_one_at(site))
        fields.setdefault("cause", DoNotUse.Cause.COLIFORM)
    return DoNotUse.objects.create(
        site=site, level=level, opened_at=now, opened_by=by or some_user(), **fields
    )


def make_template(purpose=ChecklistTemplate.Purpose.STARTUP, **fields):
    """The current template of that purpose, made without lines if there is none."""
    found = ChecklistTemplate.objects.filter(purpose=purpose, is_current=True).first()
    fields = {"version": 1, "title": purpose.capitalize(), **fields}
    return found or ChecklistTemplate.objects.create(purpose=purpose, **fields)


def some_bytes(colour="teal", size=(80, 60), kind="JPEG", **saved):
    """A picture of one colour, as a phone would send it."""
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, kind, **saved)
    return out.getvalue()


def make_photo(*, by, visit=None, record=None, now=NOW, **fields):
    """A photo of a record, or of a visit alone, whose bytes lie in the folder."""
    content = some_bytes(size=(80, 60 + next_number() % 40))
    picture, _ = keep_picture(uuid=uuid.uuid4(), content=content, by=by, now=now)
    site = record.site if record else visit.job.site
    fields.setdefault("caption", "Drain with its air gap")
    return Photo.objects.create(
        picture=picture, site=site, visit=visit, record=record, at=now, by=by, **fields
    )


def make_record(*, job=None, template=None, now=NOW, by=None, **fields):
    job = job or make_job(train=make_startup_train(), kind=Job.Kind.STARTUP, now=now)
    return ChecklistRecord.objects.create(
        job=job,
        template=template or make_template(),
        site=job.site,
        train=job.train,
        opened_at=now,
        opened_by=by or some_user(),
        **fields,
    )
