// Photos are made smaller on this phone: the long side 1,600 dots, without place and camera. Each is
// kept here as an act with its picture until the office has it. Without this file, or where the phone
// cannot, the form sends them as they are.
import { copy, made, wordsOf } from "./said.js";

const LONG_SIDE = 1600;
const SMALL_SIDE = 320;
const QUALITY = 0.8;
const MOST_WAITING = 40 * 2 ** 20; // bytes of photos on this phone
const PATIENCE_MS = 15_000;
const UNREADABLE = "This picture cannot be read. Use the camera button.";
const FULL = "NOT kept on this phone: there is no room.";

const form = document.getElementById("photos-form");
const boxes = [...form.querySelectorAll("input[type=file]")];
const button = form.querySelector("button[type=submit]");
const said = form.querySelector("[data-photos-said]");
const list = document.getElementById("photos-waiting");
const done = new Map(); // file to its number with the office, or "" where this phone keeps it

const chosen = () => boxes.flatMap((box) => [...box.files]);

async function drawn(file, side) {
  const whole = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, side / Math.max(whole.width, whole.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(whole.width * scale));
  canvas.height = Math.max(1, Math.round(whole.height * scale));
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(whole, 0, 0, canvas.width, canvas.height);
  whole.close();
  return canvas;
}

async function smaller(file) {
  const canvas = await drawn(file, LONG_SIDE);
  const blob = await new Promise((whole, failed) => {
    canvas.toBlob((one) => (one ? whole(one) : failed(new Error("no picture"))), "image/jpeg", QUALITY);
  });
  return blob.arrayBuffer();
}

async function sumOf(bytes) {
  const digest = await crypto.subtle.digest("SHA-256", bytes);
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// --- kept on this phone -------------------------------------------------------------------------

// What keeps and sends; null where this browser or the office keeps nothing here.
async function keeper() {
  const line = document.getElementById("sent");
  if (!line || line.dataset.keeps !== "yes") return null;
  const [thumb, kept] = await Promise.all([import("./thumb.js"), import("./kept.js")]);
  if (!thumb.sender) return null;
  const acts = await import("./acts.js");
  return { ...thumb, ...acts, kept };
}

const at = { record: form.dataset.record || null, visit: Number(form.dataset.visit) || null };
const isHere = ({ act }) => act.kind === "photo" && act.record === at.record
  && (at.record || act.visit === at.visit);

async function hasRoom(phone, bytes) {
  const waiting = await phone.kept.photosOf(phone.user);
  const taken = waiting.reduce((sum, each) => sum + each.bytes.byteLength, 0);
  return taken + bytes.byteLength <= MOST_WAITING;
}

// The row of its act, null where there is no room: then it is still chosen.
async function keepOne(phone, bytes) {
  if (!await hasRoom(phone, bytes)) return null;
  const uuid = crypto.randomUUID();
  const caption = form.elements.caption.value.trim();
  const payload = {
    photo: uuid, caption, shows: form.elements.shows?.value || "",
    for_customer: Boolean(form.elements.for_customer?.checked),
  };
  const act = phone.actOf("photo", payload, at);
  const photo = { uuid, bytes, sha256: await sumOf(bytes) };
  const row = await phone.keep({ act, box: `photo/${uuid}`, label: `Photo: ${caption}`, photo });
  return row.state === "unkept" ? null : row;
}

async function keepAll(phone, files) {
  const rows = [];
  const refused = [];
  for (const file of files) {
    try {
      const bytes = await smaller(file);
      const row = await keepOne(phone, bytes);
      if (row) {
        rows.push(row);
        done.set(file, "");
      } else {
        const why = await put(bytes, file);
        if (why) refused.push(`${file.name}: ${FULL} ${why}`);
      }
    } catch {
      refused.push(`${file.name}: ${UNREADABLE}`);
    }
  }
  return { rows, refused };
}

async function goOn(phone, { rows, refused }) {
  said.textContent = refused.join(" ");
  if (!refused.length) {
    for (const box of boxes) box.value = "";
    form.elements.caption.value = "";
  }
  const end = performance.now() + PATIENCE_MS;
  const states = [];
  for (const row of rows) {
    const known = await phone.sender.settled(row.uuid, Math.max(1, end - performance.now()));
    states.push(known ? known.state : "waiting");
  }
  if (!refused.length && states.every((state) => state === "kept")) location.replace(location.href);
}

// Where this photo stands, with what can be done about it.
async function itemOf(phone, row) {
  const item = made("li", { "data-uuid": row.uuid, "data-state": row.state });
  const picture = await phone.kept.photo(row.act.payload.photo);
  if (picture) {
    const drawing = await drawn(new Blob([picture.bytes]), SMALL_SIDE).catch(() => null);
    if (drawing) item.append(drawing);
  }
  const away = async () => {
    await phone.kept.seen(row.uuid);
    phone.sender.say("change");
  };
  item.append(made("span", {}, row.act.payload.caption),
    ...wordsOf(row, { leave: away, away, mine: phone.ways.mine, copy }));
  if (row.state === "waiting" && !row.tries) {
    item.append(made("button", {
      type: "button", class: "act quiet", on: () => phone.sender.takeBack(row.uuid),
    }, "Erase it here"));
  }
  return item;
}

let shown = "";

async function show(phone) {
  const rows = (await phone.kept.actsOf(phone.user)).filter(isHere)
    .filter((row) => row.state !== "kept" && !row.seenAt);
  const key = rows.map((row) => `${row.uuid} ${row.state} ${row.tries > 0}`).join();
  if (key === shown) return;
  shown = key;
  const items = await Promise.all(rows.map((row) => itemOf(phone, row)));
  if (shown === key) list.replaceChildren(...items);
  list.hidden = !rows.length;
}

async function showOnes(phone) {
  const renew = () => show(phone).catch(() => {});
  phone.sender.addEventListener("change", renew);
  phone.sender.addEventListener("answered", async ({ detail }) => {
    if (!isHere(detail) || detail.state !== "kept" || button.disabled || chosen().length) return;
    const waiting = await phone.kept.waitingOf(phone.user);
    if (!waiting.some(isHere)) location.replace(location.href); // they stand among the others now
  });
  await renew();
}

// --- sent at once, where nothing is kept here ---------------------------------------------------

// "" when the office has the bytes, else the sentence to show.
async function put(bytes, file) {
  const uuid = crypto.randomUUID();
  let answer;
  try {
    answer = await fetch(form.dataset.door.replace(/[0-9a-f-]{36}$/, uuid), {
      method: "PUT",
      body: bytes,
      redirect: "manual",
      headers: {
        "Content-Type": "image/jpeg",
        "X-SHA-256": await sumOf(bytes),
        "X-CSRFToken": form.querySelector("[name=csrfmiddlewaretoken]").value,
      },
    });
  } catch {
    return "Not sent: no connection. It is still chosen here; press the button again.";
  }
  if (answer.type === "opaqueredirect") return "Not sent: you are signed out. Sign in on another page first.";
  if (!answer.ok) {
    const { error } = await answer.json().catch(() => ({}));
    return error || "Not sent: the office did not take it. Press the button again.";
  }
  done.set(file, uuid);
  return "";
}

async function send(file) {
  let bytes;
  try {
    bytes = await smaller(file);
  } catch {
    return UNREADABLE;
  }
  return put(bytes, file);
}

async function sendAll(files) {
  const refused = [];
  for (const [number, file] of files.entries()) {
    said.textContent = `Sending ${number + 1} of ${files.length}.`;
    const why = await send(file);
    if (why) refused.push(`${file.name}: ${why}`);
  }
  return refused;
}

// The form names the pictures that the office has.
function sendForm() {
  for (const uuid of done.values()) {
    if (uuid) form.append(made("input", { type: "hidden", name: "sent", value: uuid }));
  }
  for (const box of boxes) box.value = "";
  form.submit();
}

// ------------------------------------------------------------------------------------------------

async function pressed(phone, files) {
  button.disabled = true;
  said.textContent = "";
  const left = files.filter((file) => !done.has(file));
  const kept = phone ? await keepAll(phone, left) : { rows: [], refused: await sendAll(left) };
  const named = [...done.values()].some(Boolean);
  if (named && !kept.refused.length) return sendForm();
  if (phone) await goOn(phone, kept);
  else said.textContent = kept.refused.join(" ");
  button.disabled = false;
  return undefined;
}

function watch(phone) {
  for (const box of boxes) {
    box.addEventListener("change", () => {
      const count = chosen().length;
      const how = phone ? "kept here until they are sent" : "sent with the button";
      said.textContent = count ? `${count} chosen. They are made smaller on this phone and ${how}.` : "";
    });
  }
  form.addEventListener("submit", (event) => {
    const files = chosen();
    if (!files.length) return;
    event.preventDefault();
    pressed(phone, files);
  });
  form.dataset.keeps = phone ? "yes" : "no";
}

// On a page of the kit the address says which part was open.
function choosePart() {
  const part = new URLSearchParams(location.search).get("part");
  const choice = form.elements.shows;
  if (part && choice && [...choice.options].some((option) => option.value === part)) choice.value = part;
}

if (window.createImageBitmap && window.crypto && crypto.subtle && crypto.randomUUID) {
  choosePart();
  const phone = await keeper().catch(() => null);
  watch(phone);
  if (phone) await showOnes(phone);
}
