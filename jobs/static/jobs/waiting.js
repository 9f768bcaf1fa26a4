// The page of what this phone keeps: everything not sent, to look at, or sent lately, readable and
// to be copied without signal too.
import * as kept from "./kept.js";
import { asksToLook, clock, copy, made, wordsOf } from "./said.js";
import { sender, user } from "./thumb.js";

const list = document.getElementById("kept-acts");
const RANK = { look: 0, refused: 0, waiting: 1, kept: 2 };

async function putAway(row) {
  await kept.seen(row.uuid);
  sender.say("change");
}

async function mine(row) {
  const { ways } = await import("./acts.js");
  await ways.mine(row);
}

function itemOf(row) {
  const where = row.page ? made("a", { href: row.page }, row.label || row.act.kind) : row.label || row.act.kind;
  const rank = row.seenAt ? " is-done" : "";
  return made("li", { class: `kept-act${rank}`, "data-uuid": row.uuid, "data-state": row.state },
    made("p", {}, made("strong", {}, where), row.shown ? ` ${row.shown}` : "",
      made("span", { class: "remark" }, ` typed ${clock(row.keptAt)}`)),
    ...wordsOf(row, { leave: putAway, away: putAway, mine, copy }));
}

async function show() {
  const rows = await kept.actsOf(user);
  const shown = rows.filter((row) => row.state === "waiting" || row.state === "kept" || asksToLook(row));
  const rank = (row) => (asksToLook(row) ? 0 : RANK[row.state]);
  shown.sort((one, two) => rank(one) - rank(two) || two.order - one.order);
  list.replaceChildren(...shown.slice(0, 200).map(itemOf));
  document.getElementById("kept-none").hidden = shown.length > 0;
}

if (sender) {
  sender.addEventListener("change", show);
  show();
}
