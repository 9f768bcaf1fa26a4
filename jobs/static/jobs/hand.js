// The hand goes from question to question: the key "next" of a keypad saves a box and opens the next
// open one, a touched tile brings the next question into view, and the last answer of a part opens the
// next part. Every page works without this file.

const TOUCH_MS = 700; // a change so soon after a finger is that finger's
const ANSWER_MS = 1000; // an answer may open further lines: so long it is waited for
const SETTLED_MS = 60; // the answer has taken its place
const PRESS_MS = 20_000; // a press is answered by a page within this
const STOPS = "input[type=text], input[type=radio], input[type=checkbox], button[name$='~cycle']";
const ACTS = "form[data-act='step-read']"; // questions of the dial-back, each a set of tiles

let touchedAt = 0;

const isShown = (element) => element.checkVisibility();
const isOwn = (box) => box.name && (!box.name.includes("~") || /~(sure|cycle)$/.test(box.name));

// The boxes that a hand is led to, in the order of the page; of radio buttons the first.
function stops() {
  const found = [];
  const sets = new Set();
  for (const box of document.querySelectorAll("#answers :is(.ask[data-led], [id$='-say'])")) {
    for (const each of box.querySelectorAll(STOPS)) {
      if (!isOwn(each) || "aside" in each.dataset || !isShown(each) || found.includes(each)) continue;
      if (each.type === "radio" && sets.has(each.name)) continue;
      if (each.type === "radio") sets.add(each.name);
      found.push(each);
    }
  }
  return found;
}

function isOpen(stop) {
  if (stop.type === "radio") return ![...stop.form.elements[stop.name]].some((each) => each.checked);
  if (stop.type === "checkbox") return !stop.checked;
  if (stop.type === "submit") return true; // a cycle more, until the jar is clear
  return !stop.value.trim();
}

const isBehind = (one, other) =>
  Boolean(one.compareDocumentPosition(other) & Node.DOCUMENT_POSITION_FOLLOWING);

// The next open box behind this one, else the first that was passed over.
function nextOpen(from) {
  const open = stops().filter((stop) => stop !== from && isOpen(stop) && stop.name !== from?.name);
  return open.find((stop) => !from || isBehind(from, stop)) || open[0] || null;
}

// A caution that is read before the box, between the one before it and this one.
function cautionBefore(stop, from) {
  const isRead = (card) => card.querySelector(":scope > .remark");
  return [...document.querySelectorAll("#part .caution")].find((card) =>
    !isRead(card) && isBehind(card, stop) && (!from || isBehind(from, card)));
}

// A stop that nobody has read: no keypad opens over it.
const isStopped = () => Boolean(document.querySelector("#part .caution.halt form"));

function bring(element, block) {
  element.scrollIntoView({ block, behavior: "instant" });
}

// A caution and the box behind it stand together above the keypad that the box opens.
const LEFT_BY_KEYPAD = 0.5; // of the height
const isAbove = (caution, box) =>
  box.getBoundingClientRect().bottom - caution.getBoundingClientRect().top <= innerHeight * LEFT_BY_KEYPAD;

function go(stop, from) {
  const item = stop.closest(".item") || stop;
  const caution = cautionBefore(stop, from);
  const takesKeys = stop.type === "text" && !isStopped();
  if (caution && !(takesKeys && isAbove(caution, stop))) {
    bring(item, "nearest");
    bring(caution, "nearest");
  } else if (takesKeys) {
    stop.focus({ preventScroll: true });
    if (caution) bring(caution, "start");
    else bring(item, "center");
  } else {
    bring(item, "nearest");
  }
}

// --- the key "next" -----------------------------------------------------------------------------

document.addEventListener("keydown", (event) => {
  const box = event.target;
  if (event.key !== "Enter" || event.isComposing || !box.closest?.("#answers")) return;
  if (!box.matches("input") || /~(skip|over)$/.test(box.name)) return;
  event.preventDefault(); // it presses no button of another line
  const next = nextOpen(box);
  const isNew = isOpen(box) || box.value !== box.defaultValue;
  box.blur();
  if (next) go(next, box);
  else ended(box, isNew);
});

// --- the last answer of a part ------------------------------------------------------------------

const LATEST_MS = 4000; // an answer later than this leaves the page as it is
let last = null;

// The key that ends the last open box goes on to the next part, where nothing asks to be looked at.
function ended(box, isNew) {
  const button = document.querySelector(".onward button");
  button?.focus();
  if (!button?.classList.contains("main") || !isNew || isMoreAsked(box)) return;
  last = { name: box.name, at: performance.now() };
}

function goFrom(button) {
  if (document.querySelector(ASKS) || isStopped()) return;
  const unread = unreadWarning();
  if (unread) {
    bring(unread, "center");
    return;
  }
  button.dataset.goes = "";
  setTimeout(() => button.click()); // once every script knows the page that stands here
}

// What may stay open is looked at by whoever leaves it so: it was on the screen, and is no question
// behind the one that was answered last.
const watch = new IntersectionObserver((entries) => {
  for (const each of entries) if (each.isIntersecting) each.target.dataset.seen = "";
}, { threshold: 0.9 });

function watchAll() {
  for (const item of document.querySelectorAll("#answers .item")) watch.observe(item);
  for (const warning of document.querySelectorAll(WARNINGS)) reader.observe(warning);
}

function isMoreAsked(answered) {
  const free = document.querySelectorAll("#answers .ask:not([data-led], [data-filed]) :is(input, select)[name]");
  const isUnseen = (box) => isBehind(answered, box) || !("seen" in box.closest(".item").dataset);
  return [...free].some((box) =>
    !box.name.includes("~") && box.type !== "hidden" && isShown(box) && isOpen(box) && isUnseen(box));
}

// A warning that stood on the screen has been read, as long as it says the same; on a phone it stands
// below the last question as well as in its glass.
const READ_MS = 600;
const WARNINGS = "#part .measure .warns, #warned .warns";
const read = new Set();
const said = (warning) => warning.textContent.trim().replace(/\s+/g, " ");
const timers = new WeakMap();

const reader = new IntersectionObserver((entries) => {
  for (const { target, isIntersecting } of entries) {
    clearTimeout(timers.get(target));
    if (isIntersecting) timers.set(target, setTimeout(() => target.isConnected && read.add(said(target)), READ_MS));
  }
}, { threshold: 0.9 });

function unreadWarning() {
  const unread = [...document.querySelectorAll(WARNINGS)].filter((each) => !read.has(said(each)));
  const shown = unread.find(isShown);
  if (unread.length && !shown) unread[0].closest("details")?.setAttribute("open", "");
  return shown || unread[0];
}

const ASKS = "#answers :is(.ask.warned, .ask.refused), #part .refusals, "
  + "#part .lift, .phone-said:is([data-state=look], [data-state=refused], [data-state=unkept])";

function goOn(name) {
  if (last?.name !== name || performance.now() - last.at > LATEST_MS) return;
  const button = document.querySelector(".onward button.main");
  last = null;
  if (!button || document.activeElement !== button) return; // somebody is elsewhere
  const next = nextOpen(null);
  if (next) go(next, null); // the answer opened it
  else goFrom(button);
}

// The same by the finger that answered it, where the page says beforehand that it does.
function goOnTouched(box, at) {
  const button = document.querySelector(".onward button.main");
  if (button && performance.now() - at < LATEST_MS && !isMoreAsked(box)) goFrom(button);
}

// --- a touched tile -----------------------------------------------------------------------------

for (const kind of ["pointerdown", "pointerup"]) {
  document.addEventListener(kind, () => { touchedAt = performance.now(); }, true);
}
const isTouched = () => performance.now() - touchedAt < TOUCH_MS;

// Nobody has gone elsewhere meanwhile.
function isStill(name, at) {
  const here = document.activeElement;
  return touchedAt <= at && (!here || here === document.body || here.name === name || here.matches("button"));
}

let waits = null; // the box that was touched last, until its answer is there

function onFrom(name, at, isAnswered) {
  if (!waits || waits.name !== name || waits.at !== at || !isStill(name, at)) return;
  const here = [...document.querySelectorAll(`#answers [name="${CSS.escape(name)}"]`)].pop();
  const { whole } = waits;
  const next = here && nextOpen(whole ? null : here);
  if (!next && !isAnswered) return; // the page is left once its last answer is there
  waits = null;
  if (next) go(next, whole || here);
  else if (here) goOnTouched(here, at);
}

function willGo(name, whole = null) {
  const at = performance.now();
  waits = { name, at, whole };
  setTimeout(onFrom, ANSWER_MS, name, at, false);
}

document.addEventListener("change", (event) => {
  const box = event.target;
  if (!isTouched() || !box.matches("input[type=radio], input[type=checkbox]")) return;
  if (box.closest(ACTS)) {
    inSteps(box);
  } else if (box.closest("#answers") && box.checked && isOwn(box)) {
    willGo(box.name);
  }
});

// A sign that is pressed before its figure waits for it; a finger then wants the keypad.
document.addEventListener("change", (event) => {
  const key = event.target;
  if (!key.matches?.("#answers input[name$='~sign']")) return;
  const box = key.form.elements[key.name.split("~")[0]];
  if (box.value.trim()) return;
  event.stopPropagation();
  if (isTouched()) box.focus();
}, true);

// A figure that is taken goes into its boxes; then the next question.
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("button[name=take]");
  if (!button || !isTouched()) return;
  const puts = JSON.parse(button.value);
  if (puts.length) willGo(puts[puts.length - 1][0], button.closest(".stands"));
});

document.addEventListener("htmx:afterRequest", (event) => {
  const name = event.detail.requestConfig?.triggeringEvent?.target?.name;
  if (last && name === last.name) setTimeout(goOn, SETTLED_MS, name);
  if (waits && name === waits.name) setTimeout(onFrom, SETTLED_MS, name, waits.at, true);
});

// A reading of a step: tile after tile; the last of them keeps it, where each was touched.
const touched = new WeakMap(); // form: the questions that a finger answered

function inSteps(box) {
  const form = box.closest(ACTS);
  const sets = [...form.querySelectorAll("fieldset")].filter((set) => set.querySelector("[type=radio]"));
  const names = touched.get(form) || new Set();
  touched.set(form, names);
  const isLast = !names.has(box.name) && names.size === sets.length - 1;
  names.add(box.name);
  if (isLast) return form.requestSubmit(form.querySelector(".act.main"));
  const open = sets.filter((set) => !set.querySelector(":checked"));
  const next = open.find((set) => isBehind(box, set)) || open[0] || form.querySelector(".act.main");
  if (next) bring(next, "nearest");
  return undefined;
}

// --- a press on the page that leaves nothing open on it -------------------------------------------

const PRESSED = "pressed"; // on which page, and when: with signal that is loaded anew

document.addEventListener("submit", ({ target: form, submitter: button }) => {
  const kind = button?.dataset.act || form.dataset.act;
  if (!form.closest("#part") || !kind) return;
  sessionStorage.setItem(PRESSED, JSON.stringify({ path: location.pathname, at: Date.now(), kind }));
});

// What was pressed, "" where nothing was.
function wasPressed() {
  const { path, at, kind } = JSON.parse(sessionStorage.getItem(PRESSED) || "{}");
  sessionStorage.removeItem(PRESSED);
  return path === location.pathname && Date.now() - at < PRESS_MS ? kind : "";
}

function isCompleted() {
  const form = document.getElementById("answers");
  return form && !nextOpen(null) && !isMoreAsked(form);
}

// --- a page that was opened ---------------------------------------------------------------------

function opened() {
  const button = document.querySelector(".onward button.main");
  const pressed = wasPressed();
  const isRead = !document.querySelector("#part .caution form");
  if (pressed && button && isRead && isCompleted()) return goFrom(button);
  const step = pressed === "step-read" && document.querySelector("form[data-act='step-set']");
  if (isRead && step) return bring(step, "center"); // the dial-back goes on with it
  return lead();
}

function lead() {
  const form = document.getElementById("answers");
  if (!form || (document.activeElement && document.activeElement !== document.body)) return;
  const named = location.hash && document.getElementById(location.hash.slice(1));
  const first = named ? stops().find((stop) => named.contains(stop) && isOpen(stop)) : nextOpen(null);
  if (!named && document.querySelector("#answers .stands")) return; // taken or not: it is seen first
  if (!first || first.type !== "text" || isStopped()) return;
  const caution = cautionBefore(first, null);
  if (caution && !isAbove(caution, first)) return;
  const work = document.querySelector("#part :is(.act.main, .timer)"); // above the boxes, and not done yet
  if (!named && work && isBehind(work, form) && !document.querySelector(".onward .act.main")) return;
  go(first, null);
}

document.addEventListener("page-drawn", () => {
  watch.disconnect();
  reader.disconnect();
  watchAll();
  opened();
});
document.addEventListener("htmx:load", watchAll); // lines that an answer opened
watchAll();
opened();
