"""Every address has a line in the matrix, and answers each role as the line says."""

from datetime import timedelta
from functools import partial
from types import SimpleNamespace
from uuid import uuid4

from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from equipment.models import Sample
from jobs.models import (
    Absence,
    Act,
    ActAnswer,
    CompanyDay,
    Document,
    HeldByTreatment,
    LaboratoryDay,
    LossFact,
    MailHold,
    OutboxMail,
    Phone,
    PhoneCall,
    Recall,
    SiteTenure,
    Skill,
)
from jobs.urls import urlpatterns
from jobs.workflows.driving import keep_drive
from jobs.workflows.fills import Poured, record_fill
from jobs.workflows.recalls import open_recall
from tests import factories as make
from tests.conftest import signed_in
from tests.matrix import example, lines
from tests.python_shown import python_in
from tests.record_scenes import load_checklists

ROLES = ("anyone", "technician", "dispatcher", "owner")
ANSWERS = {"yes", "own", "no"}
ADDRESSES = {pattern.name: pattern for pattern in urlpatterns}


def test_every_address_has_one_line_and_every_line_an_address():
    named = [line["url_name"] for line in lines()]
    assert sorted(set(ADDRESSES) - set(named)) == []
    assert sorted(set(named) - set(ADDRESSES)) == []
    assert len(named) == len(set(named))


def test_lines_are_whole():
    assert [line for line in lines() if not {line[role] for role in ROLES} <= ANSWERS] == []
    assert [
        line for line in lines() if not set(line["methods"].split()) <= {"GET", "POST", "PUT"}
    ] == []


def test_every_view_stands_under_the_decorator():
    open_ones = {line["url_name"] for line in lines() if line["anyone"] != "no"}
    for name, pattern in ADDRESSES.items():
        allowed = pattern.callback.allowed_roles
        assert (allowed == ("anyone",)) == (name in open_ones), name


def world(technician, office):
    """One row of everything an address can be about, of that technician's work."""
    now = timezone.now()
    load_checklists()
    train = make.make_startup_train()
    site = train.site
    job = make.make_job(train=train, by=office, now=now)
    visit = make.make_visit(job=job, lead=technician, starts_at=now + timedelta(hours=1), now=now)
    stage = train.stages.first()
    record = make.make_record(job=job, by=technician, now=now)
    rows = {
        "sites": site,
        "wells": train.wells.first(),
        "systems": train,
        "parts": stage,
        "customers": job.customer,
        "jobs": job,
        "visits": visit,
        "records": record,
        "samples": make.make_sample(site=site, by=office, kind=Sample.Kind.BACTERIA),
        "uses": make.make_special_use(site=site),
        "promises": make.make_follow_up(train=train, now=now),
        "notices": make.make_notice(site=site, by=office),
        "people": make.make_staff("technician"),
        "rules": make.make_rule(),
        "documents": Document.objects.create(
            site=site,
            record=record,
            title="Record",
            made_at=now,
            content=b"%PDF-1.7",
            sha256="0" * 64,
        ),
        "photos": make.make_photo(record=record, visit=visit, by=technician, now=now),
        "messages": OutboxMail.objects.create(
            key=f"made-for-a-test-{job.pk}",
            mail_class="customer",
            template="visit_reminder",
            customer=job.customer,
            visit=visit,
            recipient="a@example.com",
            not_before=now,
            useful_until=now + timedelta(days=1),
            created_at=now,
            state="dead",
        ),
        "holds": MailHold.objects.get_or_create(
            kind="doubt", ended_at=None, defaults={"begun_at": now, "held_at": now}
        )[0],
        "catalog": make.make_product(),
        "checklists": make.make_template(),
        "callbacks": job,
    }
    rows |= _facts(technician, office, now)
    rows["absences"] = Absence.objects.create(
        person=rows["people"],
        kind="ill",
        starts_at=now,
        ends_at=now + timedelta(days=1),
        entered_at=now,
        entered_by=office,
    )
    rows["holidays"] = CompanyDay.objects.get_or_create(day=now.date(), name="Day after")[0]
    kept = {"name": "Shut", "entered_by": office, "entered_at": now}
    rows["laboratory_days"] = LaboratoryDay.objects.get_or_create(day=now.date(), defaults=kept)[0]
    rows["driving"] = keep_drive(one="Lapwick", other="Marl", minutes=9, by=office, now=now)
    rows["contacts"] = SiteTenure.objects.get(site=site, until_on=None)
    rows["held"] = _held(rows, office, now)
    rows["told"] = _told(technician, record, now)
    rows["phones"] = Phone.objects.create(user=technician, first_heard_at=now, heard_at=now)
    rows["calls"] = PhoneCall.objects.create(at=now, by=office, site=site, caller="somebody")
    rows |= _recall(stage, office, now)
    rows["licences"] = Skill.objects.create(person=rows["people"], name="Backflow prevention")
    return SimpleNamespace(rows=rows, site=site)


def _facts(technician, office, now):
    """Work handed over, a report of it, and a system that is off."""
    train = make.make_train(site=make.make_site())
    done = make.make_job(train=train, by=office, now=now, status="completed", installer=technician)
    again = make.make_job(train=train, by=office, now=now, origin=done, callback_answer="yes")
    off = {"how": "off", "day": now.date(), "recorded_at": now, "recorded_by": office}
    return {
        "handovers": done.handovers.get(),
        "reports": again.callback_facts.get(),
        "losses": LossFact.objects.create(train=train, **off),
    }


def _recall(stage, office, now):
    """One piece of it, at the house of that part: solution of a lot that stands nowhere else."""
    told = {"title": "Valve", "reason": "It may leak.", "source": "A letter", "caution": "Call us."}
    lot = f"S-{stage.pk}"
    record_fill(stage=stage, poured=Poured(at=now, lot=lot), by=office, now=now)
    recall = Recall(what=f"product:{stage.product_id}", first=lot, **told)
    open_recall(recall=recall, by=office, now=now)
    piece = recall.pieces.get(stage=stage)
    return {"recalls": recall, "recalled": piece, "recalled_site": piece.site}


def _held(rows, office, now):
    """That notice, held by treatment at its house."""
    return HeldByTreatment.objects.create(
        notice=rows["notices"],
        site=rows["sites"],
        train=rows["systems"],
        sample=rows["samples"],
        alarm="sounds",
        alarm_tested_on=now.date(),
        whom="somebody",
        how="telephone",
        at=now,
        by=office,
    )


def _told(technician, record, now):
    """An act of a phone that was refused."""
    act = Act.objects.create(
        uuid=uuid4(),
        user=technician,
        kind="answer",
        box=str(record.pk),
        body={"payload": {"line": "raw-iron", "text": "9"}},
        sha256="0" * 64,
        by_phone=True,
        at=now,
        received_at=now,
    )
    told = {"state": "refused", "sentence": "This record is closed."}
    ActAnswer.objects.create(act=act, state="refused", told=told, record=record, at=now)
    return act


def address(name, made):
    """The address with the row that its first word is about."""
    (line,) = [line for line in lines() if line["url_name"] == name]
    pattern = ADDRESSES[name]
    rows = {word: row.pk for word, row in made.rows.items()}
    values, question = example(line, list(pattern.pattern.converters), str(pattern.pattern), rows)
    return reverse(name, kwargs=values) + question


def asked(client, method, where):
    return client.get(where) if method == "GET" else getattr(client, method.lower())(where, {})


def is_turned_away(answer):
    to_sign_in = answer.status_code == 302 and answer.url.startswith(reverse("sign-in") + "?")
    return to_sign_in or answer.status_code in (401, 403, 404)


def unexpected(line, method, role, client, own, others):
    """What is wrong with the answer to one role, "" when it is as written."""
    name, said = line["url_name"], line[role]
    by_link = "token" in ADDRESSES[name].pattern.converters
    where = f"{method} {name} as {role}"
    if said == "own" and not by_link:
        answer = asked(client, method, address(name, others))
        if not is_turned_away(answer):
            return f"{where}: another's work answers {answer.status_code}"
    answer = asked(client, method, address(name, own))
    if answer.status_code == 500:
        return f"{where}: breaks"
    if is_turned_away(answer) != (said == "no") and not by_link:
        return f"{where}: {answer.status_code}"
    is_page = not answer.streaming and answer.get("Content-Type", "").startswith("text/html")
    if shown := python_in(answer.content.decode()) if is_page else "":
        return f"{where}: shows {shown}"
    return ""


def crawl(clients, own, others):
    """Every line, method and role; each request is undone before the next."""
    for line in lines():
        if line["url_name"] not in ADDRESSES:
            continue
        for method in line["methods"].split():
            for role, client in clients.items():
                with transaction.atomic():
                    yield unexpected(line, method, role, client(), own, others)
                    transaction.set_rollback(True)


def test_addresses_answer_each_role_as_written(db):
    office = make.make_staff("dispatcher")
    technician = make.make_staff("technician")
    people = {"technician": technician, "dispatcher": office, "owner": make.make_staff("owner")}
    own, others = world(technician, office), world(make.make_staff("technician"), office)
    clients = {role: partial(signed_in, person) for role, person in people.items()}
    wrong = [said for said in crawl({"anyone": Client, **clients}, own, others) if said]
    assert wrong == []


def test_an_account_without_role_opens_nothing(stranger):
    made = world(make.make_staff("technician"), make.make_staff("dispatcher"))
    opened = []
    for line in lines():
        name, method = line["url_name"], line["methods"].split()[0]
        if line["anyone"] == "no" and name in ADDRESSES:
            answer = asked(signed_in(stranger), method, address(name, made))
            opened += [name] if answer.status_code not in (302, 403) else []
    assert opened == []
