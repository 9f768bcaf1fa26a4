// Small comforts. Every page works without this file.
"use strict";

document.documentElement.classList.add("live");

// Buttons less and more beside a figure: <div class="box-unit" data-step="5">
function addSteppers(root) {
  for (const box of root.querySelectorAll(".box-unit[data-step]:not([data-ready])")) {
    const input = box.querySelector("input");
    const step = Number(box.dataset.step);
    if (!input || !(step > 0)) continue;
    box.dataset.ready = "";
    const label = document.querySelector(`label[for="${CSS.escape(input.id)}"]`);
    const name = label ? label.textContent.trim() : "";
    const decimals = (String(step).split(".")[1] || "").length;
    const button = (sign, word, direction) => {
      const made = document.createElement("button");
      made.type = "button";
      made.className = "step-btn";
      made.textContent = sign;
      made.setAttribute("aria-label", `${word}: ${name}`);
      made.addEventListener("click", () => {
        const now = Number(input.value.trim().replace(",", ".")) || 0;
        input.value = Math.max(0, now + direction * step).toFixed(decimals);
        input.dispatchEvent(new Event("input", { bubbles: true }));
        input.dispatchEvent(new Event("change", { bubbles: true }));
      });
      return made;
    };
    box.prepend(button("\u2212", "less", -1));
    box.append(button("+", "more", 1));
  }
}

// Timers count from the moment the server wrote down, by the server's clock: data-now is what it
// read when it sent them, and only the time since then is the phone's.
function pad(number) {
  return String(number).padStart(2, "0");
}

function showTimer(timer) {
  const started = Date.parse(timer.dataset.startedAt);
  const lasts = Number(timer.dataset.seconds);
  if (Number.isNaN(started) || !(lasts > 0)) return;
  if (!timer.dataset.ahead) {
    const sent = Date.parse(timer.dataset.now);
    timer.dataset.ahead = String(Number.isNaN(sent) ? 0 : sent - Date.now());
  }
  const gone = Math.max(0, (Date.now() + Number(timer.dataset.ahead) - started) / 1000);
  const left = Math.max(0, lasts - gone);
  const figure = timer.querySelector("[data-left]");
  const unit = timer.querySelector("[data-left-unit]");
  const bar = timer.querySelector("[data-run]");
  if (bar) bar.setAttribute("width", String((360 * Math.min(gone, lasts)) / lasts));
  if (!figure || !unit) return;
  const whole = Math.ceil(left);
  if (whole >= 3600) {
    const minutes = Math.ceil(left / 60);
    figure.textContent = `${Math.floor(minutes / 60)}:${pad(minutes % 60)}`;
    unit.textContent = "h:min left";
  } else {
    figure.textContent = `${Math.floor(whole / 60)}:${pad(whole % 60)}`;
    unit.textContent = "min:s left";
  }
  if (left > 0) return;
  timer.classList.add("passed");
  figure.textContent = "0:00";
  unit.textContent = "enough time passed";
  const said = timer.querySelector("[data-said]");
  if (said && !said.textContent) said.textContent = `${timer.dataset.title}: enough time passed.`;
}

function showTimers() {
  for (const timer of document.querySelectorAll(".timer[data-started-at]")) showTimer(timer);
}

// What is opened stays open when the panel around it is renewed.
const opened = new Set();
document.addEventListener("toggle", (event) => {
  const details = event.target;
  if (!(details instanceof HTMLDetailsElement) || !details.id) return;
  if (details.open) opened.add(details.id);
  else if (details.isConnected) opened.delete(details.id);
}, true);

function reopen(root) {
  for (const details of root.querySelectorAll("details[id]")) {
    if (opened.has(details.id)) details.open = true;
  }
}

// Several answers at once may each open the same line: it comes once.
document.addEventListener("htmx:oobBeforeSwap", ({ detail }) => {
  for (const line of detail.fragment.querySelectorAll("[data-key]")) {
    if (document.querySelector(`#answers [data-key="${CSS.escape(line.dataset.key)}"]`)) line.remove();
  }
});

function isAnswered(box) {
  if (box instanceof RadioNodeList || box.type !== "checkbox") return Boolean(box.value.trim());
  return box.checked;
}

// A figure that is offered goes into its boxes as if it had been typed there; without script the
// button sends it with the page.
document.addEventListener("click", (event) => {
  const button = event.target instanceof Element && event.target.closest("button[name=take]");
  if (!button || !button.form) return;
  const puts = JSON.parse(button.value);
  const boxes = button.form.elements;
  if (!puts.every(([name]) => boxes[name])) return;
  event.preventDefault();
  for (const [name, text, unit] of puts) {
    const box = boxes[name];
    if (puts.length > 1 && isAnswered(box)) continue; // typed meanwhile
    if (boxes[`${name}~unit`]) boxes[`${name}~unit`].value = unit;
    if (boxes[`${name}~sign`]) boxes[`${name}~sign`].value = "";
    if (box.type === "checkbox") box.checked = box.value === text;
    else box.value = text;
    const seen = box instanceof RadioNodeList ? [...box].find((each) => each.checked) : box;
    if (!seen) continue; // not among these choices
    seen.dispatchEvent(new Event("input", { bubbles: true }));
    seen.dispatchEvent(new Event("change", { bubbles: true }));
    if (!event.detail) seen.focus(); // by a key: a finger would open the keypad over what it took
  }
});

// One press says who was told and how: <button data-tells='{"name of a box": what goes into it}'>
for (const button of document.querySelectorAll("button[data-tells]")) {
  button.hidden = false;
  button.addEventListener("click", () => {
    for (const [name, said] of Object.entries(JSON.parse(button.dataset.tells))) {
      const box = button.form.elements[name];
      if (said === true) box.checked = true;
      else box.value = said;
      const seen = box instanceof RadioNodeList ? box[0] : box;
      seen.dispatchEvent(new Event("input", { bubbles: true }));
    }
  });
}

// What was chosen in a part of a page while its next version was on the way stands in that too.
const boxesOf = (part) => [...part.querySelectorAll("input[name], select[name], textarea[name]")];
const stateOf = (box) => (["radio", "checkbox"].includes(box.type) ? box.checked : box.value);
const nameOf = (box) => `${box.name} ${["radio", "checkbox"].includes(box.type) ? box.value : ""}`;
const asSent = new WeakMap();

document.addEventListener("htmx:beforeRequest", ({ detail }) => {
  if (!detail.target?.matches?.("[data-keeps]")) return;
  asSent.set(detail.xhr, new Map(boxesOf(detail.target).map((box) => [nameOf(box), stateOf(box)])));
});

document.addEventListener("htmx:beforeSwap", ({ detail }) => {
  const sent = asSent.get(detail.xhr);
  if (!sent) return;
  detail.target.chosenSince = new Map(
    boxesOf(detail.target)
      .filter((box) => box.type !== "hidden" && sent.has(nameOf(box)) && sent.get(nameOf(box)) !== stateOf(box))
      .map((box) => [nameOf(box), stateOf(box)]),
  );
});

document.addEventListener("htmx:afterSwap", ({ detail }) => {
  const chosen = detail.target.chosenSince;
  if (!chosen?.size) return;
  delete detail.target.chosenSince;
  for (const box of boxesOf(detail.target)) {
    if (!chosen.has(nameOf(box))) continue;
    if (["radio", "checkbox"].includes(box.type)) box.checked = chosen.get(nameOf(box));
    else box.value = chosen.get(nameOf(box));
  }
});

document.addEventListener("htmx:load", (event) => {
  addSteppers(event.detail.elt);
  reopen(event.detail.elt);
  showTimers();
});

addSteppers(document);
showTimers();
setInterval(showTimers, 1000);
