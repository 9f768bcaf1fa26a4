"""Random schedules of two phones of one person: cuts, lost answers, pages and servers killed.

Acts go through the phone's own database and sender (`kept.js`, `sender.js`) to the real door; no
page stands around them, so that hundreds of schedules can be run. Each is made from its seed alone.
"""

import os
import random
import signal
from collections import Counter
from dataclasses import dataclass, field
from urllib.request import urlopen

from .phone import ANSWER
from .product import poll
from .test_phone_in_trouble import web_server
from .visitors import PHONE, Visitor

#: lines of a start-up and their units
BOXES = {"tap-flow": "gpm", "pump-flow": "gpm", "raw-iron": "mg/L"}
#: what may happen, and how often beside the others
EVENTS = {
    "types": 12,
    "sends": 3,
    "taps_twice": 2,
    "is_cut": 2,
    "is_back": 2,
    "answer_is_lost": 2,
    "page_is_killed": 2,
    "server_is_killed": 0.25,
}
MOST_EVENTS = 16
PATIENCE_S = 180

#: both tabs of a phone send; what its page shows of a box is the version it heard of last
START = """async (user) => {
  const kept = await import("/static/jobs/kept.js");
  const { Sender } = await import("/static/jobs/sender.js");
  const make = () => new Sender({ user, hello: "/field/hello", acts: "/field/acts" });
  window.phone = { kept, user, senders: [make(), make()], losing: 0 };
  const really = window.fetch.bind(window);
  window.fetch = async (address, options) => {
    const answer = await really(address, options);
    if (!String(address).includes("/field/acts") || !window.phone.losing) return answer;
    window.phone.losing -= 1;
    throw new TypeError("the office has it, its answer got lost");
  };
}"""
TYPE = """async ({ record, line, text, unit }) => {
  const { kept, user } = window.phone;
  const box = `${record}/${line}`;
  const judged = (await kept.actsOf(user)).filter((row) => row.box === box && row.answer);
  const heard = judged.map(({ answer }) => Math.max(answer.version, answer.standing || 0));
  const act = {
    uuid: crypto.randomUUID(), act: 1, user, kind: "answer", record, visit: null,
    at: new Date().toISOString(), after: "", needs: "",
    payload: { line, stage: null, side: "", text, unit, version: Math.max(0, ...heard) },
  };
  await kept.keepAct({ act, box });
  return act.uuid;
}"""
SEND = """(times) => {
  for (let time = 0; time < times; time += 1) window.phone.senders[time % 2].send();
}"""
ROWS = """async () => {
  const { kept, user } = window.phone;
  const rows = await kept.actsOf(user);
  return rows.map((row) => ({ uuid: row.uuid, state: row.state, line: row.act.payload.line }));
}"""
HELD = """
  SELECT a.uuid, n.state FROM jobs_act a LEFT JOIN jobs_actanswer n ON n.act_id = a.id
  WHERE a.user_id = {user} ORDER BY a.id
"""


@dataclass
class Found:
    """What came of the schedules so far."""

    schedules: int = 0
    typed: int = 0
    lost: int = 0
    doubled: int = 0
    #: judged otherwise by the phone than by the office
    other: int = 0
    events: Counter = field(default_factory=Counter)
    states: Counter = field(default_factory=Counter)

    @property
    def is_whole(self):
        return (self.lost, self.doubled, self.other) == (0, 0, 0)


class Phone:
    """One phone; a page that is killed is opened again at once, without a server."""

    def __init__(self, browser, product, job):
        self.product, self.job = product, job
        self.person = Visitor(browser, product.url, size=PHONE, is_cut=True).sign_in(job["lead"])
        self.names, self.is_off = [], False
        self.open()

    def open(self):
        """A page that sends nothing by itself."""
        self.person.context.set_offline(False)
        poll(lambda: self._reached(), PATIENCE_S)
        self.person.page.evaluate(START, self.job["user"])
        self.person.context.set_offline(self.is_off)

    def _reached(self):
        try:
            self.person.page.goto("/static/jobs/mark.svg")
        except Exception as error:  # of the browser: the server is on its way
            if "ERR_" not in str(error):
                raise
            return False
        return True

    def evaluate(self, script, given=None):
        return self.person.page.evaluate(script, given)

    # --- what happens -----------------------------------------------------------------------------

    def types(self, chance, text):
        line = chance.choice([*BOXES])
        told = {"record": self.job["uuid"], "line": line, "text": text, "unit": BOXES[line]}
        self.names.append(self.evaluate(TYPE, told))

    def sends(self):
        self.evaluate(SEND, 1)

    def taps_twice(self):
        self.evaluate(SEND, 4)

    def is_cut(self):
        self._off(True)

    def is_back(self):
        self._off(False)

    def _off(self, is_off):
        self.is_off = is_off
        self.person.context.set_offline(is_off)

    def answer_is_lost(self):
        """The office gets the next act and answers; the answer does not arrive."""
        self.evaluate("() => { window.phone.losing += 1; }")
        self.sends()

    def page_is_killed(self):
        self.sends()
        self.person.page.close()
        self.person.page = self.person.context.new_page()
        self.open()

    # --- how it ends ------------------------------------------------------------------------------

    def all_sent(self):
        self._off(False)

        def settled():
            self.sends()
            rows = self.evaluate(ROWS)
            return all(row["state"] != "waiting" for row in rows) and rows or not self.names

        poll(settled, PATIENCE_S)
        return self.evaluate(ROWS)


def answers(product):
    """Whether the web server is back; its health goes on telling of the deaths for an hour."""
    try:
        with urlopen(f"{product.url}/sign-in/", timeout=5) as answer:
            return answer.status == 200
    except OSError:
        return False


class Schedules:
    def __init__(self, browser, product, job):
        self.product, self.job, self.found = product, job, Found()
        self.phones = [Phone(browser, product, job) for _ in range(2)]
        self.figure = 0
        self.rows_before = set(self.held())

    def close(self):
        for phone in self.phones:
            phone.person.close()

    def held(self):
        """Name of each act that the office has, and how it has answered."""
        rows = self.product.rows(HELD.format(user=self.job["user"]))
        return {str(name).replace("-", ""): state for name, state in rows}

    def versions(self):
        found = {}
        for line in BOXES:
            rows = self.product.rows(ANSWER.format(pk=self.job["pk"], line=line, side=""))
            found[line] = rows[0][1] if rows else 0
        return found

    def run(self, seed):
        chance = random.Random(seed)
        before = self.versions()
        names = {phone: len(phone.names) for phone in self.phones}
        for _ in range(chance.randint(6, MOST_EVENTS)):
            (event,) = chance.choices([*EVENTS], [*EVENTS.values()])
            self.found.events[event] += 1
            self.happens(event, chance.choice(self.phones), chance)
        rows = {row["uuid"]: row for phone in self.phones for row in phone.all_sent()}
        typed = [name for phone in self.phones for name in phone.names[names[phone] :]]
        self.count(typed, rows, before)
        return self.found

    def happens(self, event, phone, chance):
        if event == "server_is_killed":
            os.kill(web_server(self.product), signal.SIGKILL)
            poll(lambda: answers(self.product), PATIENCE_S)
        elif event == "types":
            self.figure += 1
            phone.types(chance, f"{2 + self.figure / 1000:.3f}")
        else:
            getattr(phone, event)()

    def count(self, typed, rows, before):
        """Each act that was typed has one row at the office; each kept one made one version."""
        found, held, after = self.found, self.held(), self.versions()
        found.schedules += 1
        found.typed += len(typed)
        kept = Counter()
        for name in typed:
            state = held.get(name.replace("-", ""))
            found.lost += name not in rows or state is None
            found.other += name in rows and rows[name]["state"] != state
            found.states[str(state)] += 1
            if state == "kept":
                kept[rows[name]["line"]] += 1
        for line in BOXES:
            grown = after[line] - before[line]
            found.doubled += max(0, grown - kept[line])
            found.lost += max(0, kept[line] - grown)


def run(browser, product, job, seeds):
    schedules = Schedules(browser, product, job)
    try:
        for seed in seeds:
            schedules.run(seed)
    finally:
        schedules.close()
    return schedules.found
