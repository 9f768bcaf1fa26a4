"""Every page of the access matrix, with an address and somebody who may open it.

The rows an address is about are looked up in the running product: the start-up under way, its
house, its technician, and for the office whatever stands first in its table.
"""

from dataclasses import dataclass, replace

from tests.matrix import example, lines

#: a page whose address holds more than a row: its values
SEVERAL = {
    "worksheet": [
        ("feed-setting", "dispatcher"),
        ("dial-in", "dispatcher"),
        ("shock-chlorination", "dispatcher"),
        ("backwash", "dispatcher"),
        ("callback-rate", "owner"),
    ]
}
ROWS = """
import json
from django.contrib.auth.models import User
from django.urls import get_resolver
from django.utils import timezone
from equipment.models import *
from jobs.models import *
from jobs.mail.links import AnswerClaim, answer_url, password_url, stop_url

record = ChecklistRecord.objects.filter(closed_at=None, steps__isnull=False).first()
visit = Visit.objects.filter(job=record.job, status="on_site").get()
lead, site, train = visit.lead, record.site, record.train
ahead = Visit.objects.filter(
    status="confirmed", starts_at__gt=timezone.now(),
    job__customer__email__gt="", job__customer__mail_wanted=True,
).select_related("job").first()
first = lambda model, **found: getattr(model.objects.filter(**found).first(), "pk", None)
rows = {
    "sites": site.pk, "systems": train.pk, "wells": train.wells.first().pk,
    "parts": train.stages.first().pk, "customers": first(Customer), "jobs": record.job_id,
    "records": record.pk, "samples": first(Sample), "uses": first(SpecialUse),
    "promises": first(FollowUp, status="open", site__isnull=False),
    "notices": first(DoNotUse, lifted_at=None, cause="flood"),
    "people": lead.pk, "rules": first(FollowUpRule),
    "documents": first(Document, record__job__visits__lead=lead),
    "messages": first(OutboxMail), "products": first(OxidantProduct),
    "templates": first(ChecklistTemplate), "visits": visit.pk,
    "catalog": first(OxidantProduct), "checklists": record.template_id,
    "callbacks": first(Job, cause__gt=""), "photos": first(Photo, record=record),
    "held": first(HeldByTreatment), "absences": first(Absence, withdrawn_at=None),
    "holidays": first(CompanyDay), "calls": first(PhoneCall, end="note"),
    "driving": first(TownDrive), "contacts": first(SiteTenure, until_on=None),
    "handovers": first(HandoverFact, corrected_by=None), "losses": first(LossFact),
    "reports": first(CallbackFact, corrected_by=None),
    "licences": first(Skill, person=lead),
    "recalls": first(Recall), "recalled": first(RecalledPiece, end=""),
    "recalled_site": getattr(RecalledPiece.objects.filter(end="").first(), "site_id", None),
    "told": getattr(Act.objects.waiting().first(), "pk", None),
}
lines = record.template.lines.order_by("position")
blocks = list(dict.fromkeys(lines.values_list("block", flat=True)))
office = {role: User.objects.filter(groups__name=role).first().username
          for role in ("dispatcher", "owner")}
patterns = {p.name: [str(p.pattern), list(p.pattern.converters)]
            for p in get_resolver().url_patterns[0].url_patterns}
cut = lambda url: "/" + url.split("//", 1)[1].split("/", 1)[1]
links = {
    "visit-answer": cut(answer_url(AnswerClaim(ahead.pk, ahead.sequence, ahead.job.customer_id))),
    "mail-stop": cut(stop_url(ahead.job.customer_id)),
    "password-reset-confirm": cut(password_url(lead)),
}
print(json.dumps({
    "rows": rows, "blocks": blocks, "people": {**office, "technician": lead.username},
    "patterns": patterns, "links": links, "ahead": ahead.pk,
}))
"""


#: rows of the demo at houses where no technician is on the day
AT_ANOTHER_HOUSE = ("held-again", "held-told")


@dataclass(frozen=True)
class Page:
    name: str
    path: str
    who: str
    #: a technician may open it, at the house and with wet hands
    is_field: bool = False

    def __str__(self):
        return self.name


def role_for(line):
    """The person who uses the page most: the technician where it is about own work."""
    if line["anyone"] in ("yes", "own"):
        return "anyone"
    if line["technician"] == "own" or line["dispatcher"] == line["owner"] == "no":
        return "technician"
    return "dispatcher" if line["dispatcher"] != "no" else "owner"


def pages(known):
    """Pages that answer GET; `known` is what ROWS printed."""
    found = []
    for line in lines():
        if "GET" in line["methods"].split():
            found += [
                replace(page, is_field=line["technician"] != "no") for page in _pages(line, known)
            ]
    return found


def _pages(line, known):
    name = line["url_name"]
    role = "dispatcher" if name in AT_ANOTHER_HOUSE else role_for(line)
    who = known["people"].get(role, "")
    if name in known["links"]:
        yield Page(name, known["links"][name], "")
        return
    route, converters = known["patterns"][name]
    if name in SEVERAL:
        for value, role in SEVERAL[name]:
            path = filled(route, {"name": value})
            yield Page(f"{name} {value}", f"/{path}", known["people"][role])
        return
    if "block" in converters:
        for block in known["blocks"]:
            values = {"pk": known["rows"]["records"], "block": block}
            yield Page(f"{name} {block}", "/" + filled(route, values), who)
        return
    values, question = example(line, converters, route, rows_for(name, known))
    yield Page(name, f"/{filled(route, values)}{question}", who)


def rows_for(name, known):
    """What lies ahead can be moved or cancelled; what is under way cannot."""
    ahead = {"visits": known["ahead"]} if name in ("visit-move", "visit-cancel") else {}
    rows = known["rows"] | ahead
    return {word: pk for word, pk in rows.items() if pk is not None}


def filled(route, values):
    for key, value in values.items():
        for converter in ("int", "str", "slug", "uuid"):
            route = route.replace(f"<{converter}:{key}>", str(value))
    return route
