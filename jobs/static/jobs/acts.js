// Every entry of a technician is an act that this phone keeps before any request leaves. Without
// this file, and where the browser keeps nothing, forms and boxes go to the office by themselves.
import * as kept from "./kept.js";
import * as boxes from "./boxes.js";
import { sender, user } from "./thumb.js";
import { asksToLook, clock, copy, made, wordsOf } from "./said.js";

const PATIENCE_MS = 15_000; // a press waits this long for its answer
const BEFORE_MS = 4000; // what waits already goes first, for so long
const rowOf = new WeakMap(); // the event that caused a request, and the act it tells

let answers; // the boxes of a record, where the page has some
let whole; // the record that this page is about
let record = "";
let page = "";

function look() {
  answers = document.getElementById("answers");
  whole = document.querySelector("[data-whole]");
  record = whole ? whole.dataset.record : "";
  page = location.pathname;
}
look();

const boxKey = (name) => `${record}/${name}`;

// As of when the limits and figures are that this page shows.
function knows() {
  const { knows: facts, kit: ofKit } = document.documentElement.dataset;
  return facts || ofKit || new Date(performance.timeOrigin + sender.clock.offset).toISOString();
}

function actOf(kind, payload, about = {}) {
  return {
    uuid: crypto.randomUUID(), act: 1, user, kind, record: about.record || null,
    visit: about.visit ? Number(about.visit) : null, kit: knows(), at: new Date(sender.clock.now()).toISOString(),
    clock: sender.clock.said(), after: "", needs: about.needs || "", app: sender.hello?.app || "",
    payload,
  };
}

// Kept, or not: the page then says so, and what was typed goes on its way all the same.
async function keep(told) {
  try {
    const row = await kept.keepAct({ page, ...told });
    sender.say("change");
    sender.plan();
    document.dispatchEvent(new CustomEvent("act-kept", { detail: row }));
    return row;
  } catch {
    return { ...told, user, uuid: told.act.uuid, state: "unkept", keptAt: Date.now() };
  }
}

// --- boxes of a record --------------------------------------------------------------------------

const ways = {
  async leave(row) {
    await kept.seen(row.uuid);
    location.assign(location.pathname + location.search);
  },
  async mine(row) {
    const at = row.answer.asks === "at" ? new Date(sender.clock.now()).toISOString() : row.act.at;
    const payload = { ...row.act.payload };
    if (row.answer.standing !== undefined) payload.version = row.answer.standing;
    const act = { ...actOf(row.act.kind, payload, row.act), at };
    await kept.seen(row.uuid);
    await keep({ act, box: row.box, label: row.label, shown: row.shown, page: row.page });
    sender.send();
  },
  async away(row) {
    await kept.seen(row.uuid);
    sender.say("change");
    sayAt(row.box, null);
  },
  copy,
};

const nameIn = (box) => box.slice(record.length + 1);

function placeFor(name) {
  const [first] = boxes.named(answers).get(name) || [];
  const item = first && first.closest(".item");
  if (!item) return null;
  const found = [...item.querySelectorAll(".phone-said")].find((each) => each.dataset.box === name);
  if (found) return found;
  const added = made("div", { class: "phone-said", "data-box": name, role: "status" });
  item.querySelector(".ask").after(added);
  return added;
}

function sayAt(box, row) {
  if (!record || !box.startsWith(`${record}/`)) return;
  const place = placeFor(nameIn(box));
  if (!place) return;
  const words = row && row.state === "unkept"
    ? [made("p", { class: "say" }, made("strong", {}, "NOT kept on this phone."),
      " Stay on this page until it is sent.")]
    : row ? wordsOf(row, ways) : [];
  place.dataset.state = row ? row.state : "";
  place.replaceChildren(...words);
}

function inputsOf(name) {
  return boxes.named(answers).get(name) || [];
}

async function keepBox(name) {
  const inputs = inputsOf(name);
  const payload = boxes.payloadOf(answers, name, inputs);
  const version = boxes.versionOf(answers, name);
  if (!payload || (!payload.text && !version && !pending.has(name))) return null;
  payload.version = version;
  const act = actOf("answer", payload, { record });
  const shown = [payload.text, payload.unit].join(" ").trim();
  pending.delete(name);
  const row = await keep({ act, box: boxKey(name), label: boxes.labelOf(inputs), shown });
  sayAt(row.box, row);
  return row;
}

// The act is on this phone before its request leaves; what waits already is sent first.
document.addEventListener("htmx:confirm", (event) => {
  const { elt, triggeringEvent, issueRequest } = event.detail;
  if (!answers || !elt.matches("#answers .ask[hx-post]") || !triggeringEvent?.target.name) return;
  event.preventDefault();
  const name = boxes.nameOf(triggeringEvent.target);
  (async () => {
    const row = await keepBox(name);
    if (row) {
      rowOf.set(triggeringEvent, row);
      const others = await kept.waitingOf(user).catch(() => []);
      if (others.some((each) => each.uuid !== row.uuid)) await sender.settled(row.uuid, BEFORE_MS);
    }
    issueRequest(true);
  })();
});

document.addEventListener("htmx:configRequest", (event) => {
  const row = rowOf.get(event.detail.triggeringEvent);
  if (row) event.detail.parameters.act = JSON.stringify(row.act);
});

const rowBehind = (event) => rowOf.get(event.detail.requestConfig?.triggeringEvent);

// "uuid state version" of the act that this answer is about
function judged(xhr) {
  const [uuid, state, version] = (xhr?.getResponseHeader("X-Act") || "").split(" ");
  return { uuid, state, version: Number(version) };
}

document.addEventListener("htmx:beforeSwap", (event) => {
  const { elt } = event.detail;
  if (!elt.matches("#answers .ask")) return;
  const row = rowBehind(event);
  const { uuid } = judged(event.detail.xhr);
  const byPhone = event.detail.xhr.getResponseHeader("X-Worked-Out");
  if (row && uuid !== row.uuid && !byPhone) {
    event.detail.shouldSwap = false; // a page that is no answer to this act: the sign-in, a mistake
    return;
  }
  if (!event.detail.shouldSwap || !isUsed(elt)) return;
  event.detail.swapOverride = "none"; // a box being used is not replaced
  renewAround(elt, event.detail.serverResponse);
});

function isUsed(ask) {
  const here = document.activeElement;
  if (here && ask.contains(here) && here.matches("input:not([type=radio], [type=checkbox]), textarea")) return true;
  return [...ask.querySelectorAll("[name]")].some((box) => pending.has(boxes.nameOf(box)));
}

// What is said about a line, and warnings at boxes that nobody types in just now.
function renewAround(ask, html) {
  const fresh = new DOMParser().parseFromString(html, "text/html").getElementById(ask.id);
  if (!fresh) return;
  ask.className = fresh.className;
  for (const part of ask.querySelectorAll("[id^='s-'], [id$='-say']")) {
    const other = fresh.querySelector(`#${CSS.escape(part.id)}`);
    if (other && !part.contains(document.activeElement)) part.replaceChildren(...other.childNodes);
  }
}

document.addEventListener("htmx:afterRequest", async (event) => {
  const row = rowBehind(event);
  if (!row) return;
  const { uuid, state, version } = judged(event.detail.xhr);
  if (uuid === row.uuid && state === "kept") {
    const known = await kept.keepAnswer(uuid, { state, version }).catch(() => null);
    await answered(known || { ...row, state, answer: { state, version }, answeredAt: Date.now() });
    sender.channel.postMessage({ uuid });
    sender.failed = 0;
    sender.trouble = "";
    sender.say("change");
    return;
  }
  if (row.state === "unkept") sayAt(row.box, row);
  sender.send(); // whatever else it was, the sender learns it
});

// A judged act: what the page shows of its box stands on the version it was given.
async function answered(row) {
  if (row.user !== user) return;
  if (record && row.box.startsWith(`${record}/`)) {
    const name = nameIn(row.box);
    if (row.state === "kept") boxes.putVersion(answers, name, row.answer.version);
    const [newest] = (await kept.actsOf(user)).filter((each) => each.box === row.box).slice(-1);
    if (!newest || newest.uuid === row.uuid) sayAt(row.box, row);
  }
  if (row.state === "kept") await settleOlder(row);
}

// What is kept takes the place of what was refused or asked about in the same box before.
async function settleOlder(row) {
  for (const each of await kept.actsOf(user)) {
    if (each.box === row.box && each.order < row.order && asksToLook(each)) await kept.seen(each.uuid);
  }
  sender.say("change");
}

// The key "go" of a keypad leaves the box; it presses no button of another line.
document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !answers?.contains(event.target)) return;
  if (!event.target.matches("input[type=text]")) return;
  event.preventDefault();
  event.target.blur();
});

// --- drafts -------------------------------------------------------------------------------------

const pending = new Set(); // boxes typed in and not left yet

document.addEventListener("input", (event) => {
  const box = event.target;
  if (!answers || !answers.contains(box) || !box.name || !box.matches("input[type=text], input:not([type])")) return;
  const name = boxes.nameOf(box);
  pending.add(name);
  const text = boxes.wholeOf(answers, name, inputsOf(name));
  kept.keepDraft({ user, box: boxKey(name), page, name, text, at: Date.now() })
    .catch(() => sayAt(boxKey(name), { state: "unkept" }));
});

// Words typed into any other form of acts.
const draftKey = (form) => `${page}#${form.id || form.dataset.act}`;
const wordsIn = (form) => [...form.elements].filter((box) =>
  box.name && box.matches("input[type=text], input:not([type]), textarea"));

document.addEventListener("input", (event) => {
  const form = event.target.form;
  if (!form || form === answers || !form.dataset.act) return;
  const fields = Object.fromEntries(wordsIn(form).map((box) => [box.name, box.value]));
  kept.keepDraft({ user, box: draftKey(form), page, fields, at: Date.now() })
    .catch(() => status(form, "NOT kept on this phone."));
});

function restoreForm(draft) {
  const form = [...document.querySelectorAll("form[data-act]")].find((each) => draftKey(each) === draft.box);
  if (!form) return;
  for (const box of wordsIn(form)) if (draft.fields[box.name]) box.value = draft.fields[box.name];
  status(form, `Typed ${clock(draft.at)}, not yet kept.`);
}

// A draft that was put back becomes an act when its box is left, though no key was pressed.
document.addEventListener("focusout", (event) => {
  const box = event.target;
  if (!answers || !answers.contains(box) || !box.name || box.name.includes("~")) return;
  const name = boxes.nameOf(box);
  setTimeout(() => {
    if (pending.has(name) && restored.has(name)) {
      restored.delete(name);
      box.dispatchEvent(new Event("change", { bubbles: true }));
    }
  });
});

const restored = new Set();

async function restore() {
  const [rows, drafts] = await Promise.all([kept.actsOf(user), kept.draftsOf(user)]);
  for (const row of rows) {
    if (!record || !row.box.startsWith(`${record}/`) || row.seenAt || row.state === "kept") continue;
    const inputs = inputsOf(nameIn(row.box));
    if (inputs.length) boxes.putText(inputs, row.act.payload.text ?? "");
    sayAt(row.box, row);
  }
  for (const draft of drafts.filter((each) => each.page === page)) {
    if (draft.fields) restoreForm(draft);
    if (!draft.name) continue;
    const inputs = inputsOf(draft.name);
    if (!inputs.length) continue;
    boxes.putText(inputs, draft.text);
    pending.add(draft.name);
    restored.add(draft.name);
    placeFor(draft.name)?.replaceChildren(
      made("p", { class: "state" }, made("b", {}, `Typed ${clock(draft.at)},`), " not yet kept."),
    );
  }
}

// --- forms and buttons --------------------------------------------------------------------------

const OF_THE_PAGE = ["csrfmiddlewaretoken", "once", "block"];

function told(form, button) {
  const payload = {};
  const data = new FormData(form, button || undefined);
  for (const name of new Set(data.keys())) {
    const values = data.getAll(name).filter((value) => typeof value === "string");
    if (OF_THE_PAGE.includes(name) || !values.length) continue;
    payload[name] = values.length > 1 ? values : values[0];
  }
  return { ...payload, ...JSON.parse(button?.dataset.told || form.dataset.told || "{}") };
}

function status(form, words) {
  let place = form.querySelector(".phone-said.whole");
  if (!place) {
    place = made("p", { class: "phone-said whole state", role: "status" });
    form.append(place);
  }
  place.textContent = words;
}

// The office's own page says what is wrong, beside the field it is wrong in.
function sendAsForm(form, button) {
  if (button?.name) form.append(made("input", { type: "hidden", name: button.name, value: button.value }));
  form.submit();
}

async function press(form, button, kind) {
  if (form.dataset.busy) return undefined;
  form.dataset.busy = "yes";
  const given = whole?.contains(form) ? whole.dataset : {};
  const { record: ofRecord, visit, needs } = { ...given, ...form.dataset, ...(button?.dataset || {}) };
  const act = actOf(kind, told(form, button), { record: ofRecord, visit, needs });
  const label = (button?.textContent || kind).trim().replace(/\s+/g, " ");
  const row = await keep({ act, box: `${page}#${kind}`, label, draft: draftKey(form) });
  status(form, row.state === "unkept" ? "NOT kept on this phone." : "");
  if (row.state === "unkept") return sendAsForm(form, button);
  const known = await sender.settled(act.uuid, PATIENCE_MS);
  delete form.dataset.busy;
  return goOn(form, button, known);
}

async function goOn(form, button, row) {
  if (row?.state === "kept") {
    const where = button?.dataset.then || form.dataset.then;
    if (row.answer.against) return showAgainst(form, row);
    return location.assign(where || location.pathname + location.search);
  }
  if (row && row.state !== "waiting") {
    await kept.seen(row.uuid); // the page that follows says it
    return sendAsForm(form, button);
  }
  status(form, `Not sent. Kept on this phone, ${clock(row ? row.keptAt : Date.now())}. It goes as soon as there is signal.`);
  if (waits(form, button)) return undefined;
  sender.addEventListener("answered", ({ detail }) => {
    if (row && detail.uuid === row.uuid) goOn(form, button, detail);
  });
  return undefined;
}

// Another script shows the page with what waits, where it can; then nothing more is done here.
function waits(form, button) {
  const detail = { form, button, whole };
  return !document.dispatchEvent(new CustomEvent("act-waits", { detail, cancelable: true }));
}

function showAgainst(form, row) {
  status(form, "");
  const away = async (read) => {
    await ways.away(read);
    status(form, "");
  };
  form.querySelector(".phone-said.whole").replaceChildren(...wordsOf(row, { ...ways, away }));
}

// "Next": every box that was typed in is judged first, then the page is left.
async function leavePage(button) {
  if (answers.dataset.busy) return undefined;
  answers.dataset.busy = "yes";
  let unread = false;
  for (const name of [...pending]) unread = !await keepBox(name) || unread;
  if (unread) return sendAsForm(answers, button); // the office says what cannot be read
  const waiting = (await kept.waitingOf(user)).filter((row) => row.box.startsWith(`${record}/`));
  const [last] = waiting.slice(-1);
  if (last) await sender.settled(last.uuid, PATIENCE_MS);
  delete answers.dataset.busy;
  const rows = (await kept.actsOf(user)).filter((row) => row.page === page && !row.seenAt);
  const open = rows.find((row) => ["look", "refused"].includes(row.state));
  if (open) {
    return placeFor(nameIn(open.box))?.scrollIntoView({ block: "center" });
  }
  if (rows.some((row) => row.state === "waiting") || await isApart()) {
    if (waits(answers, button)) return undefined;
    if (!navigator.serviceWorker?.controller) status(answers, "Not sent yet. Kept on this phone: you can go on.");
    else location.assign(whole.dataset.next || page);
    return undefined;
  }
  const way = made("form", { method: "post", action: answers.getAttribute("action"), hidden: "" });
  for (const box of answers.querySelectorAll("[name=csrfmiddlewaretoken], [name=asked]")) way.append(box.cloneNode());
  if (button?.name) way.append(made("input", { type: "hidden", name: button.name, value: button.value }));
  document.body.append(way);
  return way.submit();
}

// A form that is posted where nobody answers ends in a page of the browser: asked first, where a
// page could be shown without the office.
async function isApart() {
  if (!navigator.serviceWorker?.controller) return false;
  await Promise.race([sender.send(), new Promise((done) => { setTimeout(done, BEFORE_MS, "late"); })]);
  return sender.isApart();
}

function payloadOfButton(button) {
  const name = button.value;
  const value = (word) => answers.elements[`${name}~${word}`];
  if (button.dataset.act === "skip") return { ...boxes.placeOf(name), reason: value("skip").value };
  if (button.dataset.act === "override-back") return { line: name };
  return {
    line: name, reason: value("over").value, bypass: value("bypass")?.value || "",
    unplugged: Boolean(value("unplugged")?.checked),
  };
}

// One more cycle, or the last one taken back.
function payloadOfCycle(button) {
  const name = boxes.nameOf(button);
  const [, word] = button.value.split(":");
  const before = (button.dataset.before || "").split(" ").filter(Boolean);
  const text = (word === "back" ? before.slice(0, -1) : [...before, word]).join(" ");
  return { ...boxes.placeOf(name), text, unit: "", dilution: 1, confirmed: false,
    version: boxes.versionOf(answers, name) };
}

// What the same press says besides: of a jar that is clear, how long that took.
async function keepBesides(button) {
  const said = button.value.endsWith(":clear") && answers.elements[`${boxes.nameOf(button)}~clear`];
  let last = null;
  for (const [name, text, unit] of JSON.parse(said ? said.value : "[]")) {
    const inputs = inputsOf(name);
    if (!inputs.length || boxes.textOf(inputs)) continue; // typed meanwhile
    const place = { ...boxes.placeOf(name), version: boxes.versionOf(answers, name) };
    const act = actOf("answer", { ...place, text, unit, dilution: 1, confirmed: false }, { record });
    last = await keep({ act, box: boxKey(name), label: boxes.labelOf(inputs), shown: `${text} ${unit}` });
  }
  return last;
}

async function pressInAnswers(button) {
  if (answers.dataset.busy) return undefined;
  answers.dataset.busy = "yes";
  for (const name of [...pending]) await keepBox(name);
  const isCycle = button.dataset.act === "answer";
  const payload = isCycle ? payloadOfCycle(button) : payloadOfButton(button);
  const act = actOf(button.dataset.act, payload, { record });
  const box = isCycle ? boxKey(boxes.nameOf(button)) : `${boxKey(button.value)}#${button.dataset.act}`;
  const row = await keep({ act, box, label: button.textContent.trim().replace(/\s+/g, " ") });
  const besides = isCycle && row.state !== "unkept" ? await keepBesides(button) : null;
  delete answers.dataset.busy;
  if (row.state === "unkept") return sendAsForm(answers, button);
  return goOn(answers, button, await sender.settled((besides || row).uuid, PATIENCE_MS));
}

document.addEventListener("submit", (event) => {
  const { target: form, submitter: button } = event;
  if (form === answers && record) {
    event.preventDefault();
    if (button?.dataset.act) pressInAnswers(button);
    else leavePage(button);
    return;
  }
  const kind = button?.dataset.act || form.dataset.act;
  if (!kind) return;
  event.preventDefault();
  press(form, button, kind);
});

// --- signing out --------------------------------------------------------------------------------

function ask(count) {
  const choice = (word, value, kind = "") =>
    made("button", { class: `act ${kind}`, value, type: "submit" }, word);
  const dialog = made("dialog", { class: "ask-first" }, made("form", { method: "dialog" },
    made("h2", {}, `${count} not sent yet`),
    made("p", {}, "Nothing of them is lost: signed out, they stay sealed on this phone until you sign in here again."),
    made("div", { class: "acts" }, choice("Send now", "send", "main"), choice("Stay signed in", "stay"),
      choice(`Sign out, ${count} stay sealed`, "out"))));
  document.body.append(dialog);
  dialog.showModal();
  return new Promise((done) => {
    dialog.addEventListener("close", () => {
      dialog.remove();
      done(dialog.returnValue || "stay");
    });
  });
}

async function leave(form) {
  for (;;) {
    const waiting = await kept.waitingOf(user);
    if (!waiting.length) break;
    const choice = await ask(waiting.length);
    if (choice === "stay") return;
    if (choice === "out") break;
    await sender.send();
  }
  await kept.clearPerson(user);
  document.dispatchEvent(new CustomEvent("signed-out"));
  form.submit();
}

document.addEventListener("submit", (event) => {
  if (!event.target.matches("form[data-sign-out]")) return;
  event.preventDefault();
  leave(event.target);
});

// ------------------------------------------------------------------------------------------------

// Another page stands here now, or this one with more on it.
document.addEventListener("page-drawn", () => {
  look();
  pending.clear();
  restored.clear();
  restore().catch(() => {});
});

sender.addEventListener("answered", ({ detail }) => answered(detail));
restore().catch(() => {}).finally(() => { document.documentElement.dataset.keeps = "yes"; });

export { actOf, keep, ways };
