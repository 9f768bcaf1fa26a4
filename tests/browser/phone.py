"""A technician's phone at the start-up under way, and what the office holds of it."""

from .product import poll

UNDER_WAY = """
  SELECT r.id, r.uuid, u.username, u.id FROM jobs_checklistrecord r
  JOIN jobs_dialstep d ON d.record_id = r.id
  JOIN jobs_visit v ON v.job_id = r.job_id JOIN auth_user u ON u.id = v.lead_id
  WHERE r.closed_at IS NULL AND v.status = 'on_site' ORDER BY r.id
"""
ANSWER = """
  SELECT text, version FROM jobs_answer
  WHERE record_id = {pk} AND line_key = '{line}' AND side = '{side}'
"""
STOOD = (
    "SELECT line_key, side, text, unit FROM jobs_answer WHERE record_id = {pk} AND stage_id IS NULL"
)
ACTS = """
  SELECT n.state FROM jobs_act a JOIN jobs_actanswer n ON n.act_id = a.id
  WHERE REPLACE(CAST(a.uuid AS text), '-', '') IN ({names}) ORDER BY a.id
"""
OTHER = """
  SELECT u.username FROM auth_user u JOIN auth_user_groups m ON m.user_id = u.id
  JOIN auth_group g ON g.id = m.group_id
  WHERE g.name = 'technician' AND u.is_active AND u.username <> '{lead}' ORDER BY u.id
"""
ON_SITE = """
  SELECT v.id FROM jobs_visit v JOIN auth_user u ON u.id = v.lead_id
  WHERE u.username = '{lead}' AND v.status = 'on_site'
"""
STATUS = "SELECT status FROM jobs_visit WHERE id = {pk}"
#: how far each act is from its arrival, and the second from the first, in seconds
OFF = """
import json
from jobs.models import Act
one, two = Act.objects.filter(uuid__in={names!r}).order_by("pk")
print(json.dumps([(row.received_at - row.at).total_seconds() for row in (one, two)]
                 + [(two.at - one.at).total_seconds()]))
"""
KEPT = """async (user) => {
  const kept = await import("/static/jobs/kept.js");
  return (await kept.actsOf(user)).map((row) => ({
    uuid: row.uuid, state: row.state, text: row.act.payload.text, kind: row.act.kind,
    after: row.act.after, seen: Boolean(row.seenAt), at: row.act.at,
  }));
}"""
DRAFTS = """async (user) => {
  const kept = await import("/static/jobs/kept.js");
  return (await kept.draftsOf(user)).map((row) => row.text);
}"""


#: right to two seconds; the rest is the way to the office on a busy machine
LATEST_S = 12
WRONG_CLOCK = """
  window.moved = 2 * 3600 * 1000;
  const real = Date.now.bind(Date);
  Date.now = () => real() + window.moved;
"""
FULL = """() => {
  IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError"); };
}"""
#: as it was, so that other stories find the start-up where they left it
BACK = """
from django.contrib.auth.models import User
from django.utils import timezone
from jobs.models import Answer, ChecklistRecord
from jobs.workflows.answers import Entered, Place, save_answers
record = ChecklistRecord.objects.get(pk={pk})
entries = {{Place(line, None, side): Entered(text, unit) for line, side, text, unit in {rows!r}}}
lead = User.objects.get(username={lead!r})
save_answers(record=record, entries=entries, by=lead, now=timezone.now(), visit=None)
"""
#: boxes of the page of the dial-back and of the water today, none of them asked twice
FLOW = "tap-flow"
PAIR = "program"


#: an act reaches the office by the sender, or with the request of its own box
DOORS = ("**/field/acts", "**/answer/")


def shut(page, is_shut=True):
    """The office is there, and no act gets in: none is sent while somebody looks."""
    for door in DOORS:
        if is_shut:
            page.route(door, lambda route: route.abort())
        else:
            page.unroute(door)


class Phone:
    """A technician's phone at the start-up under way."""

    figure = 2.0

    def __init__(self, person, job, product):
        self.person, self.job, self.product = person, job, product
        self.context, self.page = person.context, person.page

    def open(self, part="dial-back", page=None):
        page = page or self.page
        page.goto(f"/records/{self.job['pk']}/{part}/")
        self.ready(page)
        return self

    def ready(self, page=None):
        page = page or self.page
        poll(lambda: page.evaluate("document.documentElement.dataset.keeps || ''") == "yes")

    @classmethod
    def next(cls):
        """A figure that no box holds yet."""
        Phone.figure = round(Phone.figure + 0.01, 2)
        return f"{Phone.figure:g}"

    def box(self, name):
        return self.page.locator(f"#answers [name='{name}']")

    def leave(self, name, text=""):
        text = text or self.next()
        self.box(name).fill(text)
        self.box(name).blur()
        return text

    def rows(self):
        return self.page.evaluate(KEPT, self.job["user"])

    def row(self, text):
        found = [row for row in self.rows() if row["text"] == text]
        return found[-1] if found else None

    def drafts(self):
        return self.page.evaluate(DRAFTS, self.job["user"])

    def answer(self, line=FLOW, side=""):
        found = self.product.rows(ANSWER.format(pk=self.job["pk"], line=line, side=side))
        return list(found[0]) if found else ["", 0]

    def effects(self, *rows):
        """States of what the office holds of these acts, in its order."""
        names = ", ".join(f"'{row['uuid'].replace('-', '')}'" for row in rows)
        return [state for (state,) in self.product.rows(ACTS.format(names=names))]

    def said(self, name=FLOW):
        place = self.page.locator(f".phone-said[data-box='{name}']")
        return place.inner_text() if place.count() else ""

    def line(self):
        shown = self.page.locator("#sent")
        return shown.inner_text() if shown.is_visible() else ""

    def kept(self, text):
        """The act, once it is on the phone."""
        return poll(lambda: self.row(text))

    def settled(self, text):
        """The act with that text, once the office has answered it."""
        return poll(lambda: (row := self.row(text)) and row["state"] != "waiting" and row)

    def cut(self, is_cut=True):
        self.context.set_offline(is_cut)
