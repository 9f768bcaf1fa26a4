// Letters that move through the rows of the worklist. The list works without them by Tab and Enter,
// and they can be turned off (kept on this device), since a letter alone may be spoken by mistake.
"use strict";

const KEPT = "letters-off";
const list = document.getElementById("rows");
const tick = document.getElementById("keys-on");

const rows = () => [...list.querySelectorAll("tbody tr:has(td.acts-cell)")];
const row = () => document.activeElement?.closest?.("#rows tbody tr");
const firstOf = (element, what) => element?.querySelector(what);

// The act of a row first, else whatever leads on in it.
function focusOn(target) {
  const link = firstOf(target, ".acts-cell :is(a.act, button)") || firstOf(target, "a");
  if (!link) return false;
  link.focus();
  target.scrollIntoView({ block: "nearest" });
  return true;
}

function step(by) {
  const all = rows();
  const at = all.indexOf(row());
  focusOn(all[at < 0 ? (by > 0 ? 0 : all.length - 1) : at + by]);
}

function group(by) {
  const all = rows();
  const firsts = all.filter((each, n) => n === 0 || each.parentElement !== all[n - 1].parentElement);
  const here = row()?.parentElement;
  const at = firsts.findIndex((each) => each.parentElement === here);
  focusOn(firsts[at < 0 ? (by > 0 ? 0 : firsts.length - 1) : at + by]);
}

function book() {
  const all = rows();
  const after = all.slice(all.indexOf(row()) + 1);
  const next = [...after, ...all].find((each) => firstOf(each, "a.book"));
  if (next) {
    firstOf(next, "a.book").focus();
    next.scrollIntoView({ block: "nearest" });
  }
}

const KEYS = {
  j: () => step(1),
  k: () => step(-1),
  g: () => group(1),
  h: () => group(-1),
  b: book,
  c: () => firstOf(row(), "a.tel")?.focus(),
  s: () => document.getElementById("q")?.focus(),
};

function typing(target) {
  return target.closest?.("input:not([type=checkbox]), select, textarea, [contenteditable]");
}

if (list && tick) {
  tick.checked = localStorage.getItem(KEPT) === null;
  tick.addEventListener("change", () => {
    if (tick.checked) localStorage.removeItem(KEPT);
    else localStorage.setItem(KEPT, "1");
  });
  document.addEventListener("keydown", (event) => {
    const act = KEYS[event.key];
    if (!act || !tick.checked || event.ctrlKey || event.metaKey || event.altKey || typing(event.target)) return;
    event.preventDefault();
    act();
  });
}
