// Without signal: the day is taken along, and pages are answered from it by the Python of the page.
import * as kept from "./kept.js";
import * as kits from "./kits.js";

const RENEW_MS = 15 * 60_000; // a kit older than this is fetched anew while there is signal
const DAYS_S = 7 * 24 * 3600;
const NOT_KEPT = "Figures follow what you type; it is kept only when there is signal.";
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

async function take() {
  const button = place.querySelector("[data-take]");
  button.disabled = true;
  say("Being taken along.");
  try {
    await installed();
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
  const first = !kit && ["wifi", "ethernet"].includes(line.type) && !isThrifty;
  if (navigator.onLine && (first || (found && kit && kits.ageOf(kit) > RENEW_MS && !isThrifty))) await take();
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
  if (document.getElementById("phone")) said.textContent += ` ${NOT_KEPT}`;
  main.prepend(said);
}

// --- what the page answers without signal -------------------------------------------------------

const python = () => window.fieldPython;

function composed(kit, path, worked) {
  const html = kits.pageOf(kit, path) || shellOf(kit, path);
  if (!html) return null;
  const page = new DOMParser().parseFromString(html, "text/html");
  for (const [id, inside] of Object.entries(worked.parts)) {
    const found = page.getElementById(id);
    if (found) found.innerHTML = inside;
  }
  const here = page.getElementById("phone");
  if (here && worked.block !== undefined) here.dataset.block = worked.block;
  if (worked.title) {
    page.querySelector("h1").textContent = worked.title;
    page.title = `${worked.title}. Revisit`;
  }
  const mark = page.createElement("p");
  mark.className = "remark from-kit";
  mark.textContent = `No signal: worked out on this phone. ${NOT_KEPT}`;
  page.getElementById("main").prepend(mark);
  page.documentElement.dataset.kit = kit.made;
  return `<!doctype html>${page.documentElement.outerHTML}`;
}

// A page that an answer has opened is not in the kit: another one of its record lends its frame.
function shellOf(kit, path) {
  const [, record] = /^\/records\/(\d+)\//.exec(path) || [];
  const row = record && kits.rowOf(kit, record);
  const lends = row && Object.keys(row.pages).find((name) => row.pages[name].includes('id="part"'));
  return lends && row.pages[lends];
}

const blockAt = (record, key) => `/records/${record}/${key}/`;

async function pageOf(kit, record, rest) {
  const key = rest.replace(/\/$/, "");
  const kind = key === "" ? "overview" : key === "close" ? "closing" : "part";
  const worked = await python().ask("page", { page: kind, block: key, address: blockAt(record, "{}") });
  if (!worked.parts) return null;
  const path = key ? blockAt(record, key) : `/records/${record}/`;
  const html = composed(kit, path, kind === "part" ? { ...worked, block: key } : worked);
  return html && { html, push: path };
}

async function dialPage(kit, record) {
  const worked = await python().ask("page", { page: "dial", block: "" });
  const html = worked.parts && composed(kit, blockAt(record, worked.block), worked);
  return html && { html, push: blockAt(record, worked.block) };
}

async function lineLeft(sent) {
  const typed = Object.fromEntries(sent);
  const shown = sent.getAll("asked").flatMap((said) => said.split(" ")).filter(Boolean);
  return python().ask("saved", { key: typed.item, typed, shown });
}

async function pageSaved(kit, record, rest, sent) {
  const key = rest.replace(/\/$/, "");
  if (["stay", "skip", "over", "unover"].some((name) => sent.has(name))) return pageOf(kit, record, rest);
  const shown = sent.getAll("asked").flatMap((said) => said.split(" ")).filter(Boolean);
  const going = await python().ask("going", { block: key, shown });
  return pageOf(kit, record, going.block ? `${going.block}/` : "close/");
}

async function afterPost(kit, record, rest, sent) {
  if (rest === "answer/") return lineLeft(sent);
  if (/^(steps|strips)\//.test(rest)) return dialPage(kit, record);
  if (rest === "pour/") return pageOf(kit, record, "disinfect/");
  if (rest === "close/") return pageOf(kit, record, "");
  if (/^(wait|read|pass-over)\/$/.test(rest)) return pageOf(kit, record, `${sent.get("block") || ""}/`.replace(/^\/$/, ""));
  if (/^[\w-]+\/$/.test(rest)) return pageSaved(kit, record, rest, sent);
  return null;
}

// An act that was kept on this phone goes along in the post; without one nothing was kept.
async function workOut({ path, method, body }) {
  const kit = await kits.current();
  const [, record, rest = ""] = /^\/records\/(\d+)\/(.*)$/.exec(path) || [];
  if (!kit) return null;
  const sent = new URLSearchParams(body);
  if (method === "POST" && !sent.has("act")) return null;
  if (!record) {
    const html = method === "POST" && kits.pageOf(kit, "/my-day/");
    return html ? { html: kits.marked(html, kit), push: "/my-day/" } : null;
  }
  if (!python() || !(await python().opened(record))) return null;
  return method === "POST" ? afterPost(kit, record, rest, sent) : pageOf(kit, record, rest);
}

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
sayAge();
