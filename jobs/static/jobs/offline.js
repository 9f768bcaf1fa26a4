// Without signal: the day is taken along, and pages are answered from it by the Python of the page.
import * as kept from "./kept.js";
import * as kits from "./kits.js";
import { KEPT, NEEDS, workOut } from "./in_place.js";
import { made as element } from "./said.js";
import { sender } from "./thumb.js";

const RENEW_MS = 15 * 60_000; // a kit older than this is fetched anew while there is signal
const SENT_MS = 30_000; // for what waits, before a kit is fetched
const DAYS_S = 7 * 24 * 3600;
const CARRIED = "carried=1"; // a cookie outlives the storage that a browser clears

// --- taking along, on the page Today ---------------------------------------------------------------

const place = document.getElementById("take-along");

const clock = (at) => new Date(at).toLocaleTimeString([], { hour: "numeric", minute: "2-digit", hour12: false });
const day = (at) => new Date(at).toLocaleDateString([], { weekday: "short", day: "numeric", month: "short" });
const isToday = (at) => new Date(at).toDateString() === new Date().toDateString();
const when = (at) => (isToday(at) ? clock(at) : `${day(at)}, ${clock(at)}`);

function say(words, more = "") {
  place.hidden = false;
  place.querySelector("[data-said]").textContent = words;
  place.querySelector("[data-more]").textContent = more;
}

// Without one of these the site works as it did before, and says so once.
function lacking() {
  if (!("serviceWorker" in navigator) || !window.indexedDB || !navigator.locks) return "This browser";
  return window.isSecureContext ? "" : "This address without https";
}

async function fetchKit() {
  const sent = Date.now();
  const answer = await fetch(place.dataset.kit, { cache: "no-store", redirect: "error" });
  if (!answer.ok) throw new Error(String(answer.status));
  const kit = await answer.json();
  const got = Date.now();
  await kits.take({ ...kit, offset_ms: Date.parse(kit.made) - (sent + got) / 2 });
  document.cookie = `${CARRIED}; max-age=${DAYS_S}; path=/; samesite=lax`;
}

async function installed() {
  const found = await navigator.serviceWorker.register(place.dataset.shell, {
    type: "module", updateViaCache: "none",
  });
  const coming = found.installing;
  if (found.active || !coming) return navigator.serviceWorker.ready;
  return new Promise((done, failed) => {
    coming.addEventListener("statechange", () => {
      if (coming.state === "activated") done(found);
      if (coming.state === "redundant") failed(new Error("not whole"));
    });
  });
}

// What waits goes first, so that the kit holds it.
function sent() {
  return Promise.race([sender?.send(), new Promise((done) => { setTimeout(done, SENT_MS); })]);
}

async function take() {
  const button = place.querySelector("[data-take]");
  button.disabled = true;
  say("Being taken along.");
  try {
    await installed();
    await sent();
    await fetchKit();
    if (navigator.storage && navigator.storage.persist) await navigator.storage.persist();
  } catch {
    button.disabled = false;
    return say("Not taken along.", "There was no answer, or not enough room. Nothing was changed: try again.");
  }
  button.disabled = false;
  return show();
}

async function show() {
  const kit = await kits.current();
  const button = place.querySelector("[data-take]");
  if (!kit) {
    const lost = document.cookie.includes(CARRIED);
    button.textContent = `Take along (${place.dataset.mb} MB once, then 0.4 MB a day)`;
    return say(
      lost ? "This phone carries nothing any more." : "The day is not on this phone.",
      lost
        ? "The browser has cleared what it kept, with everything that was typed and not sent. Take the day along again."
        : "Without signal no page opens.",
    );
  }
  button.textContent = "Fetch again";
  const age = kits.ageOf(kit);
  const count = kit.visits.length;
  const old = age > kits.AGED.old ? " Figures on file may be old." : "";
  const firm = navigator.storage && navigator.storage.persisted && await navigator.storage.persisted();
  const room = firm ? "" : " The browser may clear it when room is short.";
  place.dataset.carries = kit.made;
  return say(
    `On this phone, as of ${when(Date.parse(kit.made) - kit.offset_ms)}.`,
    `${count} visit${count === 1 ? "" : "s"} with records and cautions.${old}${room}`,
  );
}

// A newer one waits beside the one at work until a person says so.
function watchVersion(found) {
  const button = place.querySelector("[data-take-over]");
  const offer = () => { button.hidden = !found.waiting; };
  button.addEventListener("click", () => {
    if (document.querySelector(".htmx-request")) return;
    navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
    found.waiting.postMessage({ act: "take over" });
  });
  found.addEventListener("updatefound", () => {
    const { installing } = found;
    if (installing) installing.addEventListener("statechange", offer);
  });
  offer();
}

async function myDay() {
  const lacks = lacking();
  const button = place.querySelector("[data-take]");
  if (lacks) {
    button.hidden = true;
    return say(`${lacks} cannot carry the day.`, "Without signal no page opens.");
  }
  if (navigator.standalone === false) {
    button.hidden = true;
    return say("Put this page on the Home Screen first.",
      "In a tab this phone forgets after seven days what it carries.");
  }
  button.addEventListener("click", take);
  const line = navigator.connection || {};
  const found = await navigator.serviceWorker.getRegistration("/");
  await show();
  if (found) watchVersion(found);
  const kit = await kits.current();
  const isThrifty = Boolean(line.saveData);
  // taken along by another version: its figures cannot be worked out here
  const isOther = Boolean(found && kit) && String(kit.facts) !== place.dataset.facts;
  const first = !kit && ["wifi", "ethernet"].includes(line.type) && !isThrifty;
  if (navigator.onLine && (first || isOther || (found && kit && kits.ageOf(kit) > RENEW_MS && !isThrifty))) await take();
  return showGates(await kits.current());
}

// The code of a gate is shown in its hours only.
function showGates(kit) {
  for (const row of kit ? kit.visits : []) {
    const said = document.querySelector(`[data-gate="${row.visit}"]`);
    const { gate } = row.card;
    const now = Date.now() + kit.offset_ms;
    if (!said || !gate || now < Date.parse(gate.from) || now > Date.parse(gate.until)) continue;
    said.textContent = `Gate code ${gate.code}`;
    said.hidden = false;
  }
}

// --- how old the page is ------------------------------------------------------------------------

// --- what was done and the kit does not know yet --------------------------------------------------

const WORDS = {
  arrive: "Arrived", "set-out": "Set out", "no-access": "Nobody let us in", "visit-close": "Ended the visit",
  "record-open": "Began the record", "record-close": "The record is ready: it closes when it has reached the office",
};
const IN_DANGER = ["notice", "pour"];

async function sayDone() {
  const kit = await kits.current();
  const { kit: isOfKit, drawn } = document.documentElement.dataset;
  if (!kit || !(isOfKit || drawn)) return;
  const made = Date.parse(kit.made) - kit.offset_ms;
  const rows = (await kept.actsOf(kit.user)).filter((row) =>
    row.state === "waiting" || (row.state === "kept" && row.answeredAt > made));
  const there = new Set(); // visits that somebody has arrived at since
  const begun = new Set(rows.filter((row) => row.act.kind === "record-open").map((row) => row.act.visit));
  for (const row of rows) {
    if (row.act.kind === "arrive") there.add(row.act.visit);
    if (["arrive-undo", "no-access", "visit-close"].includes(row.act.kind)) there.delete(row.act.visit);
  }
  for (const each of document.querySelectorAll("[data-there]")) each.hidden = !there.has(Number(each.dataset.there));
  for (const each of document.querySelectorAll("[data-away]")) each.hidden = there.has(Number(each.dataset.away));
  for (const each of document.querySelectorAll("[data-begins]")) each.hidden = begun.has(Number(each.dataset.begins));
  for (const each of document.querySelectorAll("[data-begun]")) each.hidden = !begun.has(Number(each.dataset.begun));
  for (const place of document.querySelectorAll("[data-said-of]")) {
    const told = rows.filter((row) => String(row.act.visit) === place.dataset.saidOf && WORDS[row.act.kind]);
    place.replaceChildren(...told.map(doneLine));
  }
  const main = document.getElementById("main");
  main.querySelector(".closes-here")?.remove();
  const [, record] = /^(\/records\/\d+\/)(close\/)?$/.exec(location.pathname) || [];
  const closing = record && rows.find((row) => row.act.kind === "record-close" && row.page.startsWith(record));
  if (closing) main.prepend(element("div", { class: "closes-here" }, doneLine(closing)));
  sayDanger(rows.filter((row) => row.state === "waiting" && IN_DANGER.includes(row.act.kind)));
}

function doneLine(row) {
  const isSent = row.state === "kept";
  return element("p", { class: "state" }, `${WORDS[row.act.kind]}, ${clock(row.keptAt)}.`,
    isSent ? "" : " Kept on this phone, not sent.");
}

const isOfUse = ({ kind, payload }) => kind === "pour" || payload.level === "no_use";
const raised = (act) => (isOfUse(act) ? "“Do not use the water”" : "A notice over the water");

// What was raised here is known to nobody else yet.
function sayDanger(rows) {
  const main = document.getElementById("main");
  main.querySelector(".raised-here")?.remove();
  if (!rows.length) return;
  main.prepend(element("p", { class: "stop raised-here", role: "alert" },
    `${raised(rows.at(-1).act)} was raised on this phone at ${clock(rows.at(-1).keptAt)}. `
    + "The office does not know yet: tell it by telephone."));
}

// The service worker leads back here from a form that could not be sent.
function sayNeeds() {
  if (location.hash !== "#needs-signal") return;
  const said = document.createElement("p");
  said.className = "say";
  said.setAttribute("role", "alert");
  said.textContent = NEEDS;
  document.getElementById("main").prepend(said);
  history.replaceState(history.state, "", location.pathname + location.search);
}

async function sayAge() {
  const made = document.documentElement.dataset.kit;
  if (!made) return;
  const kit = await kits.current();
  const main = document.getElementById("main");
  if (!kit || !main || main.querySelector(".from-kit")) return;
  const age = kits.ageOf(kit);
  const said = document.createElement("p");
  said.className = "remark from-kit";
  said.textContent = `No signal: this page is as of ${when(Date.parse(made) - kit.offset_ms)}.`;
  if (age > kits.AGED.old) said.textContent += " Figures on file may be old.";
  if (document.getElementById("phone")) said.textContent += ` ${KEPT}`;
  main.prepend(said);
}

// --- what the page answers without signal -------------------------------------------------------

if ("serviceWorker" in navigator) {
  navigator.serviceWorker.addEventListener("message", async ({ data, ports }) => {
    if (!data || data.act !== "work out") return;
    ports[0].postMessage(await workOut(data.asked).catch(() => null));
  });
  navigator.serviceWorker.startMessages();
}

// --- for the script of a record page ------------------------------------------------------------

// Acts that the facts of a record do not hold yet: those that wait, and over a kit also those kept since.
async function waiting(user, record, made) {
  const rows = await kept.laidOver(user, record);
  const since = made ? Date.parse(made) : Infinity;
  return rows.filter((row) => row.state === "waiting" || row.answeredAt > since).map((row) => row.act);
}

// What the office would hand over, from the kit; the phone's clock goes on where there is no other.
async function fromKit(record) {
  const kit = await kits.current();
  const said = kit && kits.handed(kit, record);
  return said && { ...said, now: new Date(Date.now() + kit.offset_ms).toISOString(), made: kit.made };
}

window.fieldKit = { fromKit, waiting };

if (place) myDay();
else kits.current().then(showGates).catch(() => {});
document.addEventListener("act-kept", () => { sayDone().catch(() => {}); });
document.addEventListener("page-drawn", () => { sayDone().catch(() => {}); });
sayDone().catch(() => {});
sayAge();
sayNeeds();
