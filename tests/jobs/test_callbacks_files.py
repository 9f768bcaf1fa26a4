"""The callback report as its owner reads it, begun with what people did: figures, lists, files."""

import csv
import io
from datetime import date, timedelta

import pytest

from jobs.models import Job
from jobs.reports.callback_jobs import KINDS
from jobs.reports.water_classes import WATERS
from jobs.workflows import trains
from jobs.workflows.jobs import cancel_job
from jobs.workflows.measurements import Reading, record_measurement
from jobs.workflows.records import close_record
from jobs.workflows.removals import take_out
from tests.acts import HOUR, called_back, closed, opened, sold, visited, worked
from tests.conftest import NOW
from tests.factories import make_rule, make_staff, make_stage, make_train, some_user
from tests.jobs.random_company import TODAY, noon
from tests.jobs.test_exports import PERIOD, _address
from tests.record_scenes import acknowledge_all, answer_all, make_house

pytestmark = pytest.mark.django_db
DAY = date(2026, 1, 5)
DAYS = timedelta(days=1)


@pytest.fixture(autouse=True)
def at_today(monkeypatch):
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: TODAY)


def page(client, **words):
    return client.get(_address("callbacks", **{**PERIOD, **words}))


def said(client, **words):
    return " ".join(page(client, **words).content.decode().split())


def _file(client, words):
    answer = client.get(_address("callbacks-export", **{**PERIOD, "as": "csv", **words}))
    assert answer.status_code == 200
    above, _, rest = answer.content.decode("utf-8-sig").partition("\n")
    assert "Not for ranking." in above
    return [*csv.DictReader(io.StringIO(rest, newline=""))]


def people(client, **words):
    """Surname -> line of the file of people."""
    return {row["Lead installer"].split(",")[0]: row for row in _file(client, words)}


def jobs(client, what, **words):
    return _file(client, {"of": "jobs", "what": what, **words})


def person(last):
    return make_staff("technician", last_name=last, first_name="X")


def house(*parts, fitted_on=DAY - 30 * DAYS):
    train = make_train()
    for kind in parts:
        make_stage(train=train, kind=kind, fitted_on=fitted_on)
    return train


def did(last, jobs, *causes, calls=0):
    """So many jobs a day apart; customers of the last ones call a month later.

    Each cause is of a call that somebody went to; `calls` are calls that wait.
    """
    who = person(last)
    done = [worked(house("softener"), who, at=noon(DAY + n * DAYS)) for n in range(jobs)]
    for job, cause in zip(reversed(done), [*causes, *[""] * calls], strict=False):
        at = noon(job.index_on + 30 * DAYS)
        back = called_back(job, at=at)
        if cause:
            visited(back, who, at=at + timedelta(hours=1), cause=cause, cause_note="seen")
    return done


def test_two_of_twenty_jobs(owner_client):
    """One of the two is workmanship; expected of each: 10 of 20 x 2.

    Days: 18 jobs of 90 days, and two that were called back after 30.

    Limits of 2 events, 0.2422 and 7.2247: tables of exact Poisson limits (MEMORY).
    """
    did("Ash", 10)
    did("Elm", 10, "A_leak", "G_source")
    text = said(owner_client)
    assert "1680 days followed; 1.19 callbacks in 1000 days (0.14 to 4.30" in text
    found = people(owner_client)
    elm = found["Elm"]
    assert [elm["Rate"], elm["Workmanship rate"]] == ["0.2", "0.1"]
    assert [found[name]["Observed/expected"] for name in ("Ash", "Elm")] == ["0.0", "2.0"]
    assert (elm["O/E 95 % from"], elm["O/E 95 % to"]) == ("0.2422", "7.2247")
    listed = jobs(owner_client, "callbacks")
    assert {row["Cause"]: row["Workmanship"] for row in listed} == {
        Job.Cause.A_LEAK.label: "yes",
        Job.Cause.G_SOURCE.label: "no",
    }
    (only,) = jobs(owner_client, "callbacks", cause="G_source")
    assert only["Cause"] == Job.Cause.G_SOURCE.label


def test_who_has_no_judged_job_has_counts_only(owner_client):
    """A job of this week says nothing yet."""
    did("Ash", 2, calls=1)
    worked(house("softener"), person("Elm"), at=noon(TODAY - 3 * DAYS))
    rows = page(owner_client).context["fair"].rows
    assert [(row.person.name, row.expected) for row in rows] == [("Ash, X", ""), ("Elm, X", "")]
    assert people(owner_client)["Elm"]["Too recent"] == "1"


def test_the_year_is_a_window_too(owner_client):
    origin = worked(house("softener"), person("Ash"), at=noon(date(2025, 3, 1)))
    called_back(origin, at=noon(date(2025, 10, 1)))
    assert "window=365" in said(owner_client)
    assert people(owner_client)["Ash"]["Callbacks"] == "0"
    assert people(owner_client, window=365)["Ash"]["Callbacks"] == "1"


def test_first_day_of_the_period_is_in_it(owner_client):
    did("Ash", 2)
    assert people(owner_client, since=DAY)["Ash"]["Jobs of the period"] == "2"
    assert people(owner_client, since=DAY + DAYS)["Ash"]["Jobs of the period"] == "1"


def test_work_called_off_after_its_water_was_handed_over_stays_a_job(owner_client):
    """The start-up is written, a part is missing, and the customer wants no more of it.

    The water runs through the house: who started it is called if it smells.
    """
    record, visit, lead = make_house(train=make_train(stages=("softener",)))
    answer_all(record, lead)
    acknowledge_all(record, lead)
    close_record(record=record, visit=visit, by=lead, now=NOW)
    assert len(jobs(owner_client, "jobs")) == 1
    closed(visit, "incomplete_parts", at=NOW + HOUR)
    visit.job.refresh_from_db()
    cancel_job(job=visit.job, reason="sold", by=some_user(), now=NOW + 2 * HOUR)
    assert len(jobs(owner_client, "jobs")) == 1


def test_house_sold_on_the_day_of_the_work_has_its_new_owner_to_call(owner_client):
    (job,) = did("Ash", 1)
    sold(job.site, on=DAY, at=noon(DAY) + 3 * HOUR)
    assert people(owner_client)["Ash"]["Judgeable"] == "1"


def test_lost_jobs_are_those_of_customers_who_left_and_of_systems_taken_out(owner_client):
    left, removed, _ = did("Ash", 3)
    sold(left.site, on=DAY + 20 * DAYS, buyer="not_ours")
    take_out(train=removed.train, on=DAY + 20 * DAYS, reason="dry", by=some_user(), now=NOW)
    listed = jobs(owner_client, "lost")
    assert [row["State"] for row in listed] == ["customer left", "system removed"]
    text = said(owner_client)
    assert ">2</a> lost (customer left 1, system removed 1, water off 0)" in text


def _interval(job, *, after, kind="interval", outcome="defect_found", **how):
    at = noon(job.index_on + after * DAYS)
    return visited(opened(job.train, kind, at=at, **how), job.installer, outcome, at=at)


def test_defects_at_rechecks_and_intervals_of_judgeable_jobs(owner_client):
    """Whether somebody ticked "planned" or not; a defect seen at a repair is none of them."""
    recheck, interval, _, _ = done = did("Ash", 4)
    new = worked(house("softener"), done[0].installer, at=noon(TODAY - 30 * DAYS))
    _interval(recheck, after=20, kind="recheck")
    _interval(interval, after=21)
    _interval(done[2], after=22, kind="repair")
    _interval(new, after=9)
    listed = jobs(owner_client, "defects")
    assert [row["Street"] for row in listed] == [recheck.site.street, interval.site.street]
    assert people(owner_client)["Ash"]["Defects at planned rechecks"] == "2"


def test_system_is_what_it_was_after_the_work_of_that_day(owner_client):
    """The feeder goes and the softener stays: from that day the house has a softener."""
    train = house("feeder", "softener")
    trains.end_stage(stage=train.stages.get(kind="feeder"), on=DAY, by=some_user(), now=noon(DAY))
    worked(train, person("Ash"), at=noon(DAY))
    (line,) = jobs(owner_client, "judgeable")
    assert line["System"] == KINDS["other"]


def test_kind_of_work_leads_to_its_jobs_alone(owner_client):
    ash = person("Ash")
    seen = (("softener", "6"), ("softener", ""), ("feeder", "6"))
    for number, (part, sulfide) in enumerate(seen):
        train = house(part)
        if sulfide:
            record_measurement(
                about=train.site,
                reading=Reading("sulfide", sulfide, "mg/L", origin="measured", place="raw"),
                measured_at=noon(DAY - DAYS),
                by=ash,
                now=noon(DAY - DAYS),
            )
        worked(train, ash, at=noon(DAY + number * DAYS))
    words = {"kind": "other", "water": "sulfide"}
    (line,) = jobs(owner_client, "judgeable", **words)
    assert (line["System"], line["Raw water"]) == (KINDS["other"], WATERS["sulfide"])
    text = page(owner_client).content.decode()
    assert "what=judgeable&amp;kind=other&amp;water=sulfide" in text


def test_list_of_every_callback_says_which_the_office_had_missed(owner_client):
    """Its recheck was due after two weeks; one customer calls before its window ends, one after."""
    make_rule(
        "f1",
        event="visit_closed",
        filter={"job_kind": "startup", "completed": True},
        closing_parameters={"job_kinds": ["recheck"]},
    )
    ash = person("Ash")
    for after in (10, 40):
        job = worked(house("feeder"), ash, "startup", at=noon(DAY + after * DAYS))
        at = noon(job.index_on + after * DAYS)
        back = called_back(job, at=at)
        visited(back, ash, at=at + HOUR, cause="B_low", cause_note="seen")
    listed = jobs(owner_client, "returns")
    assert {row["Days after"]: (row["Cause"], row["Workmanship"]) for row in listed} == {
        "10": (Job.Cause.B_LOW.label, "yes"),
        "40": ("recheck missed, oxidant setting", "no"),
    }
