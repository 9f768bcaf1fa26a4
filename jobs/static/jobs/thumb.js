// The line at the thumb: what is with the office, what waits on this phone, what asks to be looked
// at. It starts the sender; where the browser keeps nothing, neither is there and the site goes on.
import * as kept from "./kept.js";
import { Sender } from "./sender.js";
import { lineOf } from "./said.js";

const line = document.getElementById("sent");
export const user = Number(line.dataset.user);
export const sender = Sender.isPossible() ? new Sender({ ...line.dataset, user }) : null;

async function show() {
  const rows = await kept.actsOf(user).catch(() => []);
  const said = lineOf(rows, sender.trouble);
  const words = line.querySelector("[data-words]");
  if (words.textContent !== said.words) words.textContent = said.words;
  line.className = `sent ${said.state} no-print`;
  line.dataset.count = String(said.count);
  line.hidden = !said.words;
}

if (sender) {
  sender.addEventListener("change", show);
  sender.addEventListener("wiped", () => location.assign(line.dataset.signIn));
  setInterval(show, 5000);
  kept.prune(user).catch(() => {});
  // switched off: what waits is sent, and new entries go to the office by themselves
  const keeps = line.dataset.keeps === "yes";
  const ready = keeps ? Promise.all([import("./acts.js"), import("./offline.js")]) : Promise.resolve();
  ready.finally(() => { sender.start(); });
  show();
}
