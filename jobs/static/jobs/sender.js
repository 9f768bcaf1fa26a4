// Sends what waits on this phone to the office: in order, one at a time, from one tab of all.
// Only the office's answer ends an act. A line that breaks, a page that is closed, a session that
// ended change nothing: the same act is sent again, and the office answers it as it did first.
import * as kept from "./kept.js";

const LOCK = "revisit-sender";
const PATIENCE_MS = 15_000; // for one answer
const EVERY_MS = 20_000; // while acts wait
const LONGEST_MS = 60_000; // between two tries
const SILENT_MS = 3500; // without an answer nobody is there
const KNOWN_MS = 1000; // what waits has so long where nobody was there just now
const CLOCK = "clock";
const JUDGED = ["kept", "look", "refused"];
const ENDS = ["record-close", "visit-close", "no-access"];
const NO_ANSWER = { status: 0, body: {} };

const pause = (ms) => new Promise((done) => { setTimeout(done, ms); });

// Words before pictures, which take long; what ends a record or a visit after the pictures that
// were taken before it, as nothing is added to it afterwards.
export function inOrder(rows) {
  const isPicture = (row) => row.act.kind === "photo";
  const end = rows.findIndex((row) => ENDS.includes(row.act.kind));
  const first = end < 0 ? rows : rows.slice(0, end);
  const sorted = [...first.filter((row) => !isPicture(row)), ...first.filter(isPicture)];
  return end < 0 ? sorted : [...sorted, rows[end], ...inOrder(rows.slice(end + 1))];
}

async function asked(address, options = {}) {
  try {
    const answer = await fetch(address, {
      cache: "no-store", redirect: "error", credentials: "same-origin",
      signal: AbortSignal.timeout(PATIENCE_MS), ...options,
    });
    return { status: answer.status, body: await answer.json() };
  } catch {
    return NO_ANSWER; // no line, no answer in time, or not the office that answered
  }
}

// The office's time by this phone: its own clock, put right by what the office said. A clock that
// is moved while the page is in sight is noticed within a second and changes nothing.
class Clock {
  constructor() {
    this.offset = 0;
    this.asked = null;
    this.roundTrip = null;
    this.last = null;
    this.page = crypto.randomUUID().slice(0, 8);
    setInterval(() => this.look(), 1000);
    document.addEventListener("visibilitychange", () => { this.last = null; });
  }

  async load() {
    const found = await kept.known(CLOCK);
    if (found && !this.asked) Object.assign(this, found);
  }

  look() {
    const now = { phone: Date.now(), steady: performance.now() };
    const before = this.last;
    this.last = document.visibilityState === "visible" ? now : null;
    if (!before) return;
    const moved = now.phone - before.phone - (now.steady - before.steady);
    if (Math.abs(moved) > 1000) this.offset -= moved;
  }

  set(said, sent, got) {
    const steadyNow = performance.now();
    this.offset = Date.parse(said) - (Date.now() - (steadyNow - (sent + got) / 2));
    this.asked = said;
    this.roundTrip = Math.round(got - sent);
    this.last = null;
    this.look();
    const { offset, roundTrip } = this;
    return kept.note(CLOCK, { offset, asked: said, roundTrip }).catch(() => {});
  }

  now() {
    this.look();
    return Date.now() + this.offset;
  }

  // what goes with an act
  said() {
    return {
      offset_ms: Math.round(this.offset), asked: this.asked, round_trip_ms: this.roundTrip,
      page: this.page, mono_ms: Math.round(performance.now()),
    };
  }
}

// Events: "change" whenever a count or state may be new; "answered" with the row of an act.
// `trouble`: "" | "offline" | "session" | "closed" | "person" | "old" | "busy"
export class Sender extends EventTarget {
  constructor({ user, hello, acts, photos = "" }) {
    super();
    this.user = user;
    this.addresses = { hello, acts, photos };
    this.clock = new Clock();
    this.trouble = "";
    this.sending = false;
    this.hello = null;
    this.failed = 0;
    this.timer = 0;
    this.run = null;
    this.again = false;
    this.askedAt = 0; // since when an answer is waited for
    this.channel = new BroadcastChannel(LOCK);
    this.channel.onmessage = ({ data }) => this.heard(data);
  }

  // Without these the site works as it did before there was a phone to keep anything.
  static isPossible() {
    return Boolean(window.indexedDB && navigator.locks && window.BroadcastChannel && crypto.randomUUID);
  }

  start() {
    const go = () => { this.send(); };
    window.addEventListener("online", go);
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") go();
    });
    this.ready = this.clock.load().then(go, go);
    return this.ready;
  }

  // nobody answers: what is done here is shown without the office
  isApart() {
    const isSilent = this.askedAt && performance.now() - this.askedAt > SILENT_MS;
    const isOfKit = !this.hello && document.documentElement.dataset.kit; // nobody answered for the page
    return ["offline", "busy"].includes(this.trouble) || Boolean(isSilent || isOfKit);
  }

  say(name, detail = null) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  async heard({ uuid, trouble }) {
    if (trouble !== undefined) this.trouble = trouble;
    const row = uuid ? await kept.actOf(uuid) : null;
    if (row) this.say("answered", row);
    this.say("change");
  }

  // Everything that waits now has been tried when this promise is kept, by this tab or another.
  send() {
    this.again = true;
    this.run = this.run || this.runs().finally(() => {
      this.run = null;
      this.say("change");
    });
    return this.run;
  }

  async runs() {
    while (this.again) {
      this.again = false;
      await navigator.locks.request(LOCK, () => this.once());
    }
  }

  async once() {
    clearTimeout(this.timer);
    this.sending = true;
    this.say("change");
    let trouble = "busy";
    try {
      trouble = await this.greet() || await this.all();
    } finally {
      this.sending = false;
      this.ends(trouble);
    }
    await this.plan();
  }

  ends(trouble) {
    this.trouble = trouble;
    this.failed = trouble ? this.failed + 1 : 0;
    this.channel.postMessage({ trouble });
    this.say("change");
  }

  async plan() {
    const waiting = await kept.waitingOf(this.user);
    if (!waiting.length) return;
    const back = Math.min(LONGEST_MS, 1000 * 2 ** Math.min(this.failed, 6)) * (0.5 + Math.random() / 2);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.send(), this.failed ? back : EVERY_MS);
  }

  async ask(address, options) {
    this.askedAt = performance.now();
    const answer = await asked(address, options);
    this.askedAt = 0;
    return answer;
  }

  // Who is there, what time it is, and what is taken. Answers with what stands in the way.
  async greet() {
    const sent = performance.now();
    const { status, body } = await this.ask(this.addresses.hello, { headers: await this.named() });
    if (body.wipe) {
      await kept.wipe();
      this.say("wiped");
      return "session";
    }
    if (status === 401) return body.error === "closed" ? this.closed() : "session";
    if (status === 403) return "person";
    if (status !== 200) return status ? "busy" : "offline";
    await this.clock.set(body.now, sent, performance.now());
    this.hello = body;
    if (body.user !== this.user) return "person";
    this.say("hello", body);
    return body.oldest_act > 1 ? "old" : "";
  }

  // Which phone this is, and how much waits on it: should it be lost.
  async named() {
    const waiting = await kept.waitingOf(this.user);
    return { "X-Phone": await kept.phoneNumber(), "X-Waiting": String(waiting.length) };
  }

  async closed() {
    await kept.clearPerson(this.user);
    return "closed";
  }

  // --- acts ---------------------------------------------------------------------------------

  async all() {
    for (const row of inOrder(await kept.waitingOf(this.user))) {
      const trouble = await this.one(row.uuid);
      if (trouble) return trouble;
    }
    return "";
  }

  // One act, those it rests on first. Answers with what stops the run.
  async one(uuid, deep = 0) {
    const row = await kept.actOf(uuid);
    if (!row || row.state !== "waiting") return "";
    if (row.act.kind === "photo") {
      const trouble = await this.picture(row);
      if (trouble) return trouble === "refused" ? "" : trouble;
    }
    await kept.countTry(uuid);
    const { status, body } = await this.post(row.act);
    if (status === 200) return JUDGED.includes(body.state) ? this.answered(uuid, body) : "busy";
    if (status === 401) return body.error === "closed" ? this.closed() : "session";
    if (status === 403) return "person";
    if (status === 409) return this.earlier(row, body.uuid, deep);
    if (status === 422 || status === 404) return this.setAside(uuid, body);
    if (status === 426) return "old";
    return status ? "busy" : "offline";
  }

  async post(act) {
    const send = () => this.ask(this.addresses.acts, {
      method: "POST",
      body: JSON.stringify(act),
      headers: { "Content-Type": "application/json", "X-CSRFToken": this.hello.csrf },
    });
    const first = await send();
    if (first.status !== 403 || first.body.error !== "csrf") return first;
    const trouble = await this.greet(); // a new token, once
    return trouble ? { status: trouble === "session" ? 401 : 0, body: {} } : send();
  }

  async earlier(row, name, deep) {
    const first = await kept.actOf(name);
    if (first && first.state === "waiting" && deep < 50) {
      const trouble = await this.one(name, deep + 1);
      return trouble || this.one(row.uuid, deep + 1);
    }
    if (row.act.needs === name) {
      return this.setAside(row.uuid, { sentence: "What it rests on was not kept." });
    }
    await kept.standAlone(row.uuid);
    return deep < 50 ? this.one(row.uuid, deep + 1) : "busy";
  }

  async answered(uuid, answer) {
    const row = await kept.keepAnswer(uuid, answer);
    if (row) {
      this.failed = 0;
      if (row.state === "kept" && row.act.payload.photo) await kept.dropPhoto(row.act.payload.photo);
      this.channel.postMessage({ uuid });
      this.say("answered", row);
      this.say("change");
    }
    return "";
  }

  // It can never be applied as it is: it stays readable here, and holds nothing up.
  setAside(uuid, { sentence = "The office could not take this: tell it by telephone." }) {
    return this.answered(uuid, { state: "refused", sentence, aside: true });
  }

  // --- photos -------------------------------------------------------------------------------

  // Bytes before the act that names them.
  async picture(row) {
    const found = await kept.photo(row.act.payload.photo);
    if (!found) return "";
    const { status, body } = await asked(this.addresses.photos.replace(/[0-9a-f-]{36}$/, found.uuid), {
      method: "PUT",
      body: found.bytes,
      headers: {
        "Content-Type": "image/jpeg", "X-SHA-256": found.sha256, "X-CSRFToken": this.hello.csrf,
      },
    });
    if (status === 200 || status === 201) return "";
    if (status === 413 || status === 422) {
      await this.setAside(row.uuid, { sentence: body.error });
      return "refused";
    }
    return status === 401 ? "session" : status ? "busy" : "offline";
  }

  // Not while it is being sent. Answers whether it is gone.
  takeBack(uuid) {
    return navigator.locks.request(LOCK, () => kept.takeBack(uuid)).finally(() => this.say("change"));
  }

  // Until the office has answered this act, or `ms` have gone: the row as it stands then.
  async settled(uuid, ms) {
    const begun = performance.now();
    const gone = () => performance.now() - begun;
    this.send();
    for (;;) {
      const row = await kept.actOf(uuid);
      if (!row || row.state !== "waiting" || gone() > ms) return row;
      if (this.trouble && !this.run) return row;
      if (this.isApart() && gone() > KNOWN_MS) return row;
      await Promise.race([pause(Math.min(KNOWN_MS, Math.max(1, ms - gone()))), this.next()]);
    }
  }

  next() {
    return new Promise((done) => { this.addEventListener("change", done, { once: true }); });
  }
}
