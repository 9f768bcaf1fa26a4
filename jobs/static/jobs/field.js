// Figures worked out on the phone. Every page works without this file: the office then computes.
import { payloadsOf } from "./boxes.js";

(() => {
  const STARTS = 2; // a worker that fails twice is left alone
  const START_S = 180; // for Python to come up on a slow phone
  const ANSWER_S = 15; // after that a worker is dead: phones end one for its memory without a word

  let worker = null;
  let state = "none"; // none, starting, ready, failed
  let starts = 0;
  let lastId = 0;
  let openedFor = ""; // the record that lies open in the worker
  let typedAt = 0;
  let timer = 0;
  let busy = 0; // id of the question that is under way
  let again = false; // something was typed meanwhile
  const clock = { office: 0, phone: 0 };
  const record = { uuid: "", user: 0, made: "", facts: "" }; // what lies open, and since when
  let waits = []; // acts that the office does not have yet
  const asked = new Map(); // questions of other scripts by their id
  const patience = new Map(); // seconds left for each question that is under way
  let unfit = ""; // the record in a form that this Python does not read

  const place = () => document.getElementById("phone");
  const works = () => Boolean(state === "ready" && place() && openedFor === place().dataset.facts);

  function tell(act, given) {
    lastId += 1;
    patience.set(lastId, act === "start" ? START_S : ANSWER_S);
    worker.postMessage({ id: lastId, act, ...given });
    return lastId;
  }

  function start() {
    const here = place();
    if (!here || state === "starting" || state === "ready" || starts >= STARTS) return;
    const address = (name) => new URL(here.dataset[name], location.href).href;
    starts += 1;
    state = "starting";
    worker = new Worker(here.dataset.worker, { type: "module" });
    worker.addEventListener("message", (event) => hear(event.data));
    worker.addEventListener("error", (event) => fail(event.message));
    const names = ["runtime", "standard", "field", "templates"];
    tell("start", Object.fromEntries(names.map((name) => [name, address(name)])));
    document.documentElement.dataset.python = "starting";
  }

  function fail(words) {
    if (state === "failed") return;
    const waiting = again || busy;
    if (worker) worker.terminate();
    worker = null;
    state = "failed";
    openedFor = "";
    busy = 0;
    again = false;
    patience.clear();
    for (const { failed } of asked.values()) failed(new Error("no answer"));
    asked.clear();
    document.documentElement.dataset.python = "failed";
    document.documentElement.dataset.pythonSaid = words || "";
    if (waiting) askOffice();
    if (starts < STARTS) setTimeout(() => { state = "none"; start(); }, 1000);
  }

  // counted in seconds in which this page runs too: a phone stops both while nobody looks
  setInterval(() => {
    for (const [id, left] of patience) {
      if (left > 1) patience.set(id, left - 1);
      else if (worker) return fail("no answer");
    }
    return undefined;
  }, 1000);

  // what was typed into panels and not worked out here goes to the office as without this file
  function askOffice() {
    for (const form of document.querySelectorAll("form.panel[hx-get]")) {
      if ([...form.querySelectorAll(".panel-box")].some((box) => box.value)) htmx.trigger(form, "change");
    }
  }

  // neither this phone nor the office works a glass out just now: what stands in it is from before
  const LATER = "Without signal: worked out anew when there is signal again.";
  let renewal = 0;
  let isLate = false; // what the office answers meanwhile knows only a part of what was typed

  function sayLater(form) {
    const glass = form.querySelector(".measure");
    if (works() || !glass || glass.querySelector(".worked-later")) return;
    isLate = true;
    const said = document.createElement("p");
    said.className = "remark worked-later";
    said.textContent = LATER;
    glass.append(said);
  }

  document.addEventListener("htmx:sendError", ({ target }) => {
    if (target.matches("form.panel[hx-get]")) sayLater(target);
    else if (target.matches("#answers .ask")) document.querySelectorAll("form.panel[hx-get]").forEach(sayLater);
  });

  for (const kind of ["htmx:afterSwap", "htmx:oobAfterSwap"]) {
    document.addEventListener(kind, ({ detail }) => {
      const form = detail.target?.closest?.("form.panel[hx-get]");
      if (form && isLate) sayLater(form);
    });
  }

  // the office has all that waited: it is asked once for each glass, whose words stand until it answers
  async function renewLater(kept, user) {
    if (!isLate || (await kept.waitingOf(user)).length) return; // the next answer asks again
    isLate = false;
    if (works()) return wanted();
    for (const said of document.querySelectorAll("form.panel[hx-get] .worked-later")) {
      htmx.trigger(said.closest("form"), "change");
    }
  }

  Promise.all([import("./thumb.js"), import("./kept.js")]).then(([{ sender, user }, kept]) =>
    sender?.addEventListener("answered", () => {
      clearTimeout(renewal);
      renewal = setTimeout(() => renewLater(kept, user).catch(() => {}), 500);
    })).catch(() => {}); // who only reads has no line at the thumb

  function hear({ id, act, said, error, isDead }) {
    patience.delete(id);
    if (isDead) return fail(error);
    if (asked.has(id)) {
      const { done, failed } = asked.get(id);
      asked.delete(id);
      return error ? failed(new Error(error)) : done(JSON.parse(said));
    }
    if (error && act === "open") return setAside(error);
    if (error) return fail(error);
    if (act === "start") {
      state = "ready";
      return handOver();
    }
    if (act === "open") {
      document.dispatchEvent(new CustomEvent("record-opened"));
      if (waits.length && !typedAt) renew();
      if (typedAt) ask();
      else if (place() && place().dataset.block) question(); // the first key need not wait
    }
    if (act === "live") document.documentElement.dataset.python = "ready";
    if (act === "live" && id === busy) {
      busy = 0;
      if (again) return ask();
      show(JSON.parse(said));
    }
    return undefined;
  }

  // --- the record -----------------------------------------------------------------------------

  async function handOver() {
    const here = place();
    if (!here || state !== "ready") return;
    const facts = here.dataset.facts;
    const said = await handed(facts);
    if (!said || state !== "ready" || !place() || place().dataset.facts !== facts) return;
    clock.office = Date.parse(said.now);
    clock.phone = performance.now();
    Object.assign(record, { uuid: said.facts.record.uuid, user: said.by.id, made: said.made || "", facts });
    await look();
    tell("open", { text: JSON.stringify(said) });
    openedFor = facts;
    unfit = "";
    document.documentElement.dataset.knows = said.made || said.now;
  }

  // Taken along by another version of this Python: pages stand, and entries are kept.
  function setAside(words) {
    unfit = openedFor;
    openedFor = "";
    busy = 0;
    document.documentElement.dataset.python = "unfit";
    document.documentElement.dataset.pythonSaid = words;
    document.querySelectorAll("form.panel[hx-get]").forEach(sayLater);
  }

  // by the office, else from the kit of the day
  async function handed(facts) {
    try {
      const answer = await fetch(facts, { headers: { Accept: "application/json" } });
      if (answer.ok && !answer.redirected && !answer.headers.has("X-Worked-Out")) return await answer.json();
    } catch {
      // no signal
    }
    const number = /\/records\/(\d+)\//.exec(facts);
    return window.fieldKit && number ? window.fieldKit.fromKit(number[1]).catch(() => null) : null;
  }

  async function look() {
    if (!window.fieldKit || !record.uuid) return;
    waits = await window.fieldKit.waiting(record.user, record.uuid, record.made).catch(() => []);
  }

  // a page that was made without the acts that wait is put right
  async function renew() {
    const here = place();
    if (!here || !here.dataset.block) return;
    const worked = await inside.ask("page", {
      page: "part", block: here.dataset.block, panel_boxes: panelBoxes(),
    });
    const found = document.getElementById("part");
    if (!worked.parts || !found || typedAt || place() !== here) return;
    found.innerHTML = worked.parts.part;
    htmx.process(found);
    document.dispatchEvent(new CustomEvent("htmx:load", { detail: { elt: found } }));
    document.dispatchEvent(new CustomEvent("page-drawn"));
  }

  // for the script that answers pages without signal
  const inside = {
    panelBoxes,
    async opened(number) {
      if (!works() || !record.facts.startsWith(`/records/${number}/`)) return false;
      await look();
      return true;
    },
    // true once that record lies open here, false where it will not
    async ready(number, ms) {
      const end = performance.now() + ms;
      while (place() && unfit !== place().dataset.facts && performance.now() < end && (state !== "failed" || starts < STARTS)) {
        if (await inside.opened(number)) return true;
        await new Promise((done) => { setTimeout(done, 100); });
      }
      return false;
    },
    ask(act, said) {
      return new Promise((done, failed) => {
        const id = tell(act, { text: JSON.stringify({ ...said, now: now(), waiting: waits }) });
        asked.set(id, { done, failed });
      });
    },
  };
  window.fieldPython = inside;

  function now() {
    return new Date(clock.office + performance.now() - clock.phone).toISOString();
  }

  // --- what stands in the boxes ---------------------------------------------------------------

  const actsOf = (form, at) =>
    payloadsOf(form).map((payload) => ({ kind: "answer", at, payload }));

  function panelBoxes() {
    const boxes = [...document.querySelectorAll(".panel-box")].filter((box) => box.value);
    return Object.fromEntries(boxes.map((box) => [box.name, box.value]));
  }

  // --- asking and showing ---------------------------------------------------------------------

  function question() {
    const at = now();
    const acts = actsOf(document.getElementById("answers"), at);
    const block = place().dataset.block;
    return tell("live", {
      text: JSON.stringify({ block, now: at, acts, waiting: waits, panel_boxes: panelBoxes() }),
    });
  }

  function ask() {
    again = false;
    if (works() && place().dataset.block) busy = question();
  }

  function wanted() {
    typedAt = performance.now();
    if (!works()) return;
    clearTimeout(timer);
    // the key shows first; keys that come while Python works are asked for once, together
    timer = setTimeout(() => {
      if (busy) again = true;
      else ask();
    }, 0);
  }

  function show(parts) {
    for (const [id, html] of Object.entries(parts)) {
      const found = document.getElementById(id);
      if (!found) continue;
      if (id.endsWith("-echo")) found.textContent = html;
      else if (found.phoneSaid !== html || !found.contains(found.phoneMark || null)) put(found, html);
    }
    for (const said of document.querySelectorAll("#answers .ask [id^='s-']")) frame(said);
    isLate = false;
    for (const said of document.querySelectorAll(".worked-later")) said.remove();
    document.documentElement.dataset.workedOut = String(typedAt);
  }

  function put(found, html) {
    found.innerHTML = html;
    found.phoneSaid = html;
    found.phoneMark = found.firstElementChild || found;
    if (found.classList.contains("measure")) {
      const mark = document.createElement("p");
      mark.className = "remark worked-out";
      mark.textContent = "Worked out on this phone.";
      found.append(mark);
    } else if (found.id !== "warned") {
      return;
    }
    document.dispatchEvent(new CustomEvent("htmx:load", { detail: { elt: found } }));
  }

  // the frame of a line that does not pass, or was asked about when it was kept
  function frame(said) {
    const line = said.closest(".ask");
    if (line.classList.contains("refused")) return;
    line.classList.toggle("warned", Boolean(line.querySelector(".say")));
  }

  // --- when -----------------------------------------------------------------------------------

  const figure = (box) => box instanceof Element && box.closest("#answers .ask, .panel .ask");
  for (const kind of ["input", "change"]) {
    document.addEventListener(kind, (event) => { if (figure(event.target)) wanted(); });
  }

  // panels are worked out here; the office is not asked as well
  document.addEventListener("htmx:confirm", (event) => {
    if (event.target.matches("form.panel[hx-get]") && works()) event.preventDefault();
  });

  // an answer was kept: the facts are new, and what was typed since is worked out once more
  document.addEventListener("htmx:afterRequest", (event) => {
    const sent = event.detail.requestConfig;
    if (!sent || sent.verb !== "post") return;
    const { xhr } = event.detail;
    if (xhr && xhr.getResponseHeader("X-Worked-Out")) look();
    else handOver();
  });

  // another page stands here now, or this one with more on it
  document.addEventListener("page-drawn", () => {
    typedAt = 0;
    opened();
    if (works() && place().dataset.block) question();
  });

  function opened() {
    const here = place();
    if (!here) return;
    if (state === "ready" && openedFor !== here.dataset.facts) handOver();
    else start();
  }

  if (!window.WebAssembly || !window.Worker) return;
  // the page comes first
  const idle = window.requestIdleCallback || ((act) => setTimeout(act, 200));
  if (document.readyState === "complete") idle(opened);
  else window.addEventListener("load", () => idle(opened));
})();
