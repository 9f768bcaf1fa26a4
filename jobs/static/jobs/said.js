// Words about acts: at a box, in the line at the thumb, in the list of what is kept.

const pad = (number) => String(number).padStart(2, "0");

export function clock(ms) {
  const at = new Date(ms);
  return `${pad(at.getHours())}:${pad(at.getMinutes())}`;
}

// Texts only: nothing that was typed or answered becomes markup.
export function made(tag, given = {}, ...inside) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (name === "class") element.className = value;
    else if (name === "on") element.addEventListener("click", value);
    else element.setAttribute(name, value);
  }
  element.append(...inside);
  return element;
}

const figure = (said) => [said?.text ?? "", said?.unit ?? ""].join(" ").trim() || "nothing";

// Both values, with who and when, and the two ways on.
function both(row, ways) {
  const { answer, act } = row;
  const pairs = [];
  if (answer.theirs) {
    pairs.push(made("p", { class: "pairs" },
      made("span", { class: "said" }, made("span", {}, `Yours, ${clock(Date.parse(act.at))}`),
        made("b", {}, figure(act.payload))),
      made("span", { class: "said" },
        made("span", {}, `${answer.by || "Somebody else"}, with the office`),
        made("b", {}, figure(answer.theirs)))));
  }
  const acts = made("p", { class: "acts" },
    made("button", { type: "button", class: "act", on: () => ways.leave(row) },
      answer.theirs ? "Leave theirs" : "Leave it"));
  if (answer.theirs || answer.asks === "at") {
    acts.append(made("button", { type: "button", class: "act", on: () => ways.mine(row) },
      answer.theirs ? "Put mine" : "It was done now"));
  }
  return [...pairs, acts];
}

// Not kept, or kept against a rule, and nobody has said that he has read it.
export function asksToLook(row) {
  const isOpen = ["look", "refused"].includes(row.state) || (row.state === "kept" && row.answer?.against);
  return Boolean(isOpen && !row.seenAt);
}

// The visit it was done on was cancelled: it has its effect once there is another. What rests on
// another act of that visit, and a picture, is told anew by hand.
const maySendAgain = ({ act, answer }) => answer.asks === "visit" && !act.needs && act.kind !== "photo";

// What is said about an act at its box or in the list. `ways`: leave, mine, copy, away.
export function wordsOf(row, ways) {
  const typed = clock(row.keptAt);
  if (row.state === "waiting") {
    return [made("p", { class: "state" }, made("b", {}, "Not sent."), ` Kept on this phone, ${typed}.`)];
  }
  if (row.state === "kept") {
    const against = row.answer.against;
    const there = made("p", { class: "state" },
      made("b", {}, "With the office,"), ` ${clock(row.answeredAt)}.`);
    if (!against || row.seenAt) return [there];
    return [there,
      made("p", { class: "say" }, made("strong", {}, "Kept, against the rule."), ` ${against}`),
      made("p", { class: "acts" },
        made("button", { type: "button", class: "act quiet", on: () => ways.away(row) }, "Read: put it away"))];
  }
  const sentence = row.answer.sentence || "";
  if (row.state === "look") {
    return [made("p", { class: "say" }, made("strong", {}, "Look."), ` ${sentence}`), ...both(row, ways)];
  }
  const again = maySendAgain(row)
    ? [made("button", { type: "button", class: "act", on: () => ways.mine(row) }, "Send it again")] : [];
  return [
    made("p", { class: "say" }, made("strong", {}, "Not saved."), ` ${sentence}`),
    made("p", { class: "acts" }, ...again,
      made("button", { type: "button", class: "act", on: (event) => ways.copy(row, event.target) }, "Copy it"),
      made("button", { type: "button", class: "act quiet", on: () => ways.away(row) }, "Read: put it away")),
  ];
}

// The whole act as text, for a letter or another page.
export function asText(row) {
  const { act, answer } = row;
  const said = Object.entries(act.payload)
    .filter(([name, value]) => value !== null && value !== "" && !["version", "dilution", "photo"].includes(name))
    .map(([name, value]) => `${name}: ${value}`);
  return [row.label || act.kind, row.shown, `done ${act.at}`, ...said, answer?.sentence || ""]
    .filter(Boolean).join("\n");
}

const COPY_MS = 1500; // a browser that asks, or says nothing, is not waited for

const late = (ms) => new Promise((_, refuse) => setTimeout(() => refuse(new Error("late")), ms));

export async function copy(row, button) {
  const text = asText(row);
  try {
    await Promise.race([navigator.clipboard.writeText(text), late(COPY_MS)]);
    button.textContent = "Copied";
  } catch {
    const shown = made("textarea", { readonly: "", "aria-label": "To copy", rows: "6" });
    shown.value = text;
    button.after(shown);
    shown.select();
  }
}

// --- the line at the thumb ----------------------------------------------------------------------

const YOUNG_MS = 3000; // on its way and not worth a word yet
const WHY = {
  session: "Sign in again", closed: "This account is closed", person: "Somebody else is signed in",
  old: "Open the page anew", offline: "No signal", busy: "The office does not answer", "": "",
};

function readings(count) {
  return `${count} reading${count === 1 ? "" : "s"} wait${count === 1 ? "s" : ""}`;
}

export function lineOf(rows, trouble, now = Date.now()) {
  const waiting = rows.filter((row) => row.state === "waiting");
  const open = rows.filter(asksToLook);
  const parts = [];
  if (waiting.length && ["session", "closed"].includes(trouble)) {
    parts.push(`${WHY[trouble]}, ${readings(waiting.length)}`);
  } else if (waiting.length) {
    const since = Math.min(...waiting.map((row) => row.keptAt));
    if (!trouble && now - since < YOUNG_MS) parts.push(`${waiting.length} on the way`);
    else parts.push(`${waiting.length} not sent since ${clock(since)}, kept on this phone`);
    if (trouble && WHY[trouble]) parts.push(WHY[trouble]);
  }
  if (open.length) parts.push(`${open.length} to look at`);
  if (!parts.length) {
    const last = Math.max(0, ...rows.map((row) => row.answeredAt || 0));
    return { words: last ? `All sent, ${clock(last)}.` : "", state: "there", count: 0 };
  }
  const state = open.length ? "open" : "waits";
  return { words: `${parts.join(". ")}.`, state, count: waiting.length + open.length };
}
