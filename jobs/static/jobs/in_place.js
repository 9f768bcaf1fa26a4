// Pages of a record without signal, each in the place of the one before: what was done is kept as an
// act, and the page is shown as it will be once the office has it. Python goes on working.
import * as kits from "./kits.js";
import { sender } from "./thumb.js";
import { made } from "./said.js";

export const KEPT = "What you type is kept on this phone and sent when there is signal.";
export const NEEDS = "This needs signal. Nothing was sent or changed.";
const READY_MS = 30_000; // for Python to start
const OF_RECORD = /^\/records\/(\d+)\/(.*)$/;
const PAGES = /^$|^[\w-]+\/$/; // of a record, as Python draws them
const NEXT = "next/"; // where the record goes on
const ELSEWHERE = /^(photos|print|correct|pour)\/$/;

const python = () => window.fieldPython;
const blockAt = (record, key) => `/records/${record}/${key}/`;

// --- a page made of the kit, the facts and the acts that wait -----------------------------------

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
  const number = page.querySelector("[data-number]");
  if (number && worked.number) number.textContent = String(worked.number);
  const all = page.querySelector("[data-of]");
  if (all && worked.of) all.textContent = String(worked.of);
  if (worked.title) {
    page.querySelector("h1").textContent = worked.title;
    page.title = `${worked.title}. Revisit`;
  }
  const mark = made("p", { class: "remark from-kit" }, `No signal: worked out on this phone. ${KEPT}`);
  page.getElementById("main").prepend(mark);
  return page;
}

// A page that an answer has opened is not in the kit: another one of its record lends its frame.
function shellOf(kit, path) {
  const [, record] = OF_RECORD.exec(path) || [];
  const row = record && kits.rowOf(kit, record);
  const lends = row && Object.keys(row.pages).find((name) => row.pages[name].includes('id="part"'));
  return lends && row.pages[lends];
}

async function pageAt(kit, record, rest) {
  const key = rest.replace(/\/$/, "");
  const kind = key === "" ? "overview" : key === "close" ? "closing" : "part";
  const path = key ? blockAt(record, key) : `/records/${record}/`;
  const isHere = path === location.pathname; // what stands in its panels goes on standing there
  const worked = await python().ask("page", {
    page: kind, block: key, address: blockAt(record, "{}"), panel_boxes: isHere ? python().panelBoxes() : {},
  });
  if (!worked.parts) return null;
  return composed(kit, path, kind === "part" ? { ...worked, block: key } : worked);
}

async function lineLeft(sent) {
  const typed = Object.fromEntries(sent);
  const shown = sent.getAll("asked").flatMap((said) => said.split(" ")).filter(Boolean);
  return python().ask("saved", { key: typed.item, typed, shown });
}

// For the service worker, which has no Python: a line that was left, or nothing. The act that was
// kept on this phone goes along in the post; without one nothing was kept.
export async function workOut({ path, method, body }) {
  const [, record, rest = ""] = OF_RECORD.exec(path) || [];
  if (method !== "POST" || rest !== "answer/") return null;
  const sent = new URLSearchParams(body);
  if (!sent.has("act") || !python() || !(await python().opened(record))) return null;
  return lineLeft(sent);
}

// --- in the place of the page before ------------------------------------------------------------

// What was unfolded on a page, by its words, so that it stays so.
const unfolded = (main) => new Set([...main.querySelectorAll("details[open] > summary")].map(wordsOf));
const wordsOf = (summary) => summary.textContent.trim();

function show(page, path) {
  const main = document.getElementById("main");
  const open = path === location.pathname ? unfolded(main) : new Set();
  for (const summary of page.querySelectorAll("#main details > summary")) {
    if (open.has(wordsOf(summary))) summary.parentElement.open = true;
  }
  main.replaceChildren(...page.getElementById("main").childNodes);
  const border = page.querySelector(".neat");
  if (border) document.querySelector(".neat")?.replaceWith(border);
  document.title = page.title;
  const isOther = path !== location.pathname;
  if (isOther) history.pushState({ drawn: path }, "", path);
  window.htmx.process(main);
  document.dispatchEvent(new CustomEvent("htmx:load", { detail: { elt: main } }));
  document.dispatchEvent(new CustomEvent("page-drawn"));
  if (isOther) window.scrollTo(0, 0);
  document.documentElement.dataset.drawn = String(Number(document.documentElement.dataset.drawn || 0) + 1);
}

// Where a record goes on: at its first part with something open, at all parts where nothing is.
async function firstOf(record) {
  const { block } = await python().ask("first", {});
  return block ? blockAt(record, block) : `/records/${record}/`;
}

// True where the page stands here now.
async function draw(asked) {
  const [, record, wanted = ""] = OF_RECORD.exec(asked) || [];
  if (!record || !PAGES.test(wanted) || ELSEWHERE.test(wanted)) return false;
  const kit = await kits.current().catch(() => undefined);
  if (!kit || !python() || !(await python().ready(record, READY_MS))) return false;
  const path = wanted === NEXT ? await firstOf(record) : asked;
  const [, , rest] = OF_RECORD.exec(path);
  const page = await pageAt(kit, record, rest);
  if (page) show(page, path);
  return Boolean(page);
}

export async function follow(path) {
  const isHere = path === location.pathname;
  if (await draw(path).catch(() => false) || isHere) return;
  const kit = await kits.current().catch(() => undefined);
  const lies = kit && (kits.nextOf(kit, path) || (kits.pageOf(kit, path) && path));
  if (lies) location.assign(lies); // else what is said at the form stands
}

// Where "Next" leads: to what an answer has opened, to the next page, to the closing.
async function goOn(record) {
  const key = document.getElementById("phone")?.dataset.block;
  if (!python() || !(await python().ready(record, READY_MS))) return "";
  const asked = [...document.querySelectorAll("#answers [name=asked]")];
  const shown = asked.flatMap((box) => box.value.split(" ")).filter(Boolean);
  const going = await python().ask("going", { block: key, shown });
  return blockAt(record, going.block || "close");
}

async function leave(form, button, whole) {
  const [, record] = OF_RECORD.exec(location.pathname) || [];
  if (form.id === "answers") {
    const stays = button && (button.dataset.act || button.name === "stay");
    if (stays) return follow(location.pathname);
    return follow(await goOn(record).catch(() => "") || whole?.dataset.next || location.pathname);
  }
  return follow(button?.dataset.then || form.dataset.then || location.pathname);
}

document.addEventListener("act-waits", (event) => {
  if (!sender?.isApart() || !navigator.serviceWorker?.controller) return;
  event.preventDefault();
  const { form, button, whole } = event.detail;
  leave(form, button, whole);
});

const plain = (event) => !(event.defaultPrevented || event.button || event.metaKey || event.ctrlKey || event.shiftKey);

document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[href]");
  if (!link || !plain(event) || link.target || link.hash || !sender?.isApart()) return;
  const [, record, rest = ""] = OF_RECORD.exec(link.pathname) || [];
  const [, here] = OF_RECORD.exec(location.pathname) || [];
  if (!record || record !== here || !PAGES.test(rest) || ELSEWHERE.test(rest)) return;
  event.preventDefault();
  follow(link.pathname);
});

window.addEventListener("popstate", () => {
  if (sender?.isApart()) draw(location.pathname).then((stands) => stands || location.reload());
  else location.reload();
});

// A page of the kit that is no page of lines is put right once Python works; where the record goes on
// was asked for, that page is opened, unless somebody answers on this one already.
document.addEventListener("record-opened", () => {
  const here = document.getElementById("phone");
  if (!here || !document.documentElement.dataset.kit) return;
  const goesOn = location.hash === kits.GOES_ON;
  if (goesOn) history.replaceState(history.state, "", location.pathname);
  const [, record] = OF_RECORD.exec(location.pathname) || [];
  if (goesOn && !isAnswering) draw(`/records/${record}/${NEXT}`).catch(() => {});
  else if (!here.dataset.block) draw(location.pathname).catch(() => {});
});
let isAnswering = false;
for (const kind of ["input", "change"]) {
  document.addEventListener(kind, () => { isAnswering = true; }, { once: true });
}

// What is no act cannot be kept: it would end in a page of the browser that says so.
document.addEventListener("submit", (event) => {
  const { target: form, submitter: button } = event;
  if (event.defaultPrevented || form.method !== "post" || !sender?.isApart()) return;
  if (form.dataset.act || button?.dataset.act || form.id === "answers" || form.matches("[data-sign-out]")) return;
  event.preventDefault();
  let said = form.querySelector(".needs-signal");
  if (!said) {
    said = made("p", { class: "say needs-signal", role: "alert" }, NEEDS);
    form.append(said);
  }
});
