// What this phone keeps, in one database of the browser: acts until the office has judged them,
// drafts of what stands in boxes, photos, kits of the day, and a few facts about the phone.
// Every row names its person; whoever else signs in reads nothing of it.
// A write has happened when its promise is kept: the disk has it then, as far as a browser can say.

const NAME = "revisit";

// Shapes of the database in order: a new one adds stores and never touches what stands there.
export const SHAPES = [
  (base) => {
    const acts = base.createObjectStore("acts", { keyPath: "order", autoIncrement: true });
    acts.createIndex("uuid", "uuid", { unique: true });
    acts.createIndex("user", "user");
    acts.createIndex("state", ["user", "state"]);
    acts.createIndex("box", ["user", "box"]);
    base.createObjectStore("drafts", { keyPath: ["user", "box"] }).createIndex("user", "user");
    base.createObjectStore("photos", { keyPath: "uuid" }).createIndex("user", "user");
    base.createObjectStore("kits", { keyPath: "user" });
    base.createObjectStore("meta", { keyPath: "name" });
  },
];

let opening = null;

function answerOf(request) {
  return new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
}

export function openBase(shapes = SHAPES) {
  return new Promise((done, failed) => {
    const asked = indexedDB.open(NAME, shapes.length);
    asked.onupgradeneeded = (event) => {
      for (const add of shapes.slice(event.oldVersion)) add(asked.result);
    };
    asked.onerror = () => failed(asked.error);
    asked.onsuccess = () => {
      const base = asked.result;
      // a page of a newer shape is waiting for this one: the next use opens again
      base.onversionchange = () => forget(base);
      base.onclose = () => { opening = null; };
      done(base);
    };
  });
}

function forget(base) {
  base.close();
  opening = null;
}

// The body runs at once and adds requests; what it returns is the answer when the disk has it all.
async function within(stores, mode, body) {
  opening = opening || openBase();
  let base;
  try {
    base = await opening;
  } catch (error) {
    opening = null;
    throw error;
  }
  return new Promise((done, failed) => {
    const all = base.transaction(stores, mode, mode === "readwrite" ? { durability: "strict" } : {});
    let answer;
    let why = null;
    all.oncomplete = () => done(answer);
    all.onabort = () => failed(why || all.error || new DOMException("not kept", "AbortError"));
    Promise.resolve(body((name) => all.objectStore(name))).then(
      (said) => { answer = said; },
      (error) => {
        why = error;
        try { all.abort(); } catch { failed(error); }
      },
    );
  });
}

const read = (stores, body) => within(stores, "readonly", body);
const write = (stores, body) => within(stores, "readwrite", body);

// --- acts ---------------------------------------------------------------------------------------
//
// {order, uuid, user, box, state, tries, keptAt, answeredAt, seenAt, label, shown, page, act, answer}
// `act` is what is sent, byte for byte the same each time; all else never leaves the phone.
// state: waiting | kept | look | refused. `box` is what the act is about; `label` and `shown` say it
// in words; `page` is the address where it was typed.

async function newestOf(acts, user, box) {
  const found = await answerOf(acts.index("box").openCursor([user, box], "prev"));
  return found ? found.value : null;
}

// The act of this phone that the new one was typed on top of: not judged yet, or judged after the
// page was made, so that its version is newer than the one the page shows.
function isUnderneath(last, act) {
  if (!last) return false;
  if (last.state === "waiting") return true;
  const version = last.answer ? last.answer.version : undefined;
  return last.state === "kept" && version > (act.payload.version ?? Infinity);
}

// The act that began this record here, as long as the office has not heard of it.
async function openerOf(acts, act) {
  if (!act.record || act.kind === "record-open") return "";
  const waiting = await answerOf(acts.index("state").getAll([act.user, "waiting"]));
  const found = waiting.find((row) => row.act.kind === "record-open" && row.act.record === act.record);
  return found ? found.uuid : "";
}

// The act that made the step which this one is about, as long as the office has not heard of it.
async function makerOf(acts, act) {
  const found = act.payload.step && await answerOf(acts.index("uuid").get(act.payload.step));
  return found && found.user === act.user && found.state === "waiting" ? found.uuid : "";
}

// Act in, draft out, photo in: one transaction. Answers with the row as it stands.
export function keepAct({ act, box, label = "", shown = "", page = "", draft = box, photo = null }) {
  return write(["acts", "drafts", "photos"], async (store) => {
    const acts = store("acts");
    const last = await newestOf(acts, act.user, box);
    const after = !act.after && isUnderneath(last, act) ? last.uuid : act.after || "";
    const needs = act.needs || await makerOf(acts, act) || await openerOf(acts, act);
    const row = {
      uuid: act.uuid, user: act.user, box, label, shown, page, state: "waiting", tries: 0,
      keptAt: Date.now(), act: { ...act, after, needs },
    };
    if (photo) await answerOf(store("photos").put({ ...photo, user: act.user, act: act.uuid }));
    await answerOf(store("drafts").delete([act.user, draft]));
    const order = await answerOf(acts.add(row));
    return { ...row, order };
  });
}

export function actOf(uuid) {
  return read(["acts"], (store) => answerOf(store("acts").index("uuid").get(uuid)));
}

// All acts of a person in the order they were done.
export function actsOf(user) {
  return read(["acts"], (store) => answerOf(store("acts").index("user").getAll(user)));
}

export function waitingOf(user) {
  return read(["acts"], (store) => answerOf(store("acts").index("state").getAll([user, "waiting"])));
}

// Acts that lie over the facts of a record until a kit is made after their answer: its own, and
// notices, which are over a house.
export async function laidOver(user, record) {
  const rows = await actsOf(user);
  const isOver = ({ act }) => act.record === record || act.kind === "notice";
  return rows.filter((row) => isOver(row) && ["waiting", "kept"].includes(row.state));
}

function change(uuid, work) {
  return write(["acts"], async (store) => {
    const acts = store("acts");
    const row = await answerOf(acts.index("uuid").get(uuid));
    if (!row) return null;
    const fresh = work(row);
    if (fresh) await answerOf(acts.put(fresh));
    return fresh || row;
  });
}

// The answer of the office; the first one stands.
export function keepAnswer(uuid, answer) {
  return change(uuid, (row) =>
    row.state === "waiting" ? { ...row, state: answer.state, answer, answeredAt: Date.now() } : null);
}

export function countTry(uuid) {
  return change(uuid, (row) => ({ ...row, tries: row.tries + 1 }));
}

// An act whose forerunner the office never got: it stands on the version the page showed.
export function standAlone(uuid) {
  return change(uuid, (row) =>
    row.state === "waiting" ? { ...row, act: { ...row.act, after: "" } } : null);
}

// A person has read what became of it.
export function seen(uuid) {
  return change(uuid, (row) => ({ ...row, seenAt: Date.now() }));
}

// Taken back before it was ever sent: nobody else has heard of it.
export function takeBack(uuid) {
  return write(["acts", "photos"], async (store) => {
    const acts = store("acts");
    const row = await answerOf(acts.index("uuid").get(uuid));
    if (!row || row.state !== "waiting" || row.tries) return false;
    await answerOf(acts.delete(row.order));
    if (row.act.payload.photo) await answerOf(store("photos").delete(row.act.payload.photo));
    return true;
  });
}

// Kept acts go once a kit holds their effect, or after three days; read ones with them. A picture
// goes as soon as nobody needs it here.
const DAYS = 24 * 60 * 60 * 1000;

export function prune(user, kitMade = 0) {
  return write(["acts", "photos"], async (store) => {
    const acts = store("acts");
    const rows = await answerOf(acts.index("user").getAll(user));
    const old = Date.now() - 3 * DAYS;
    for (const row of rows) {
      const judged = row.answeredAt || Infinity;
      const isDone = (row.state === "kept" && !row.answer?.against) || row.seenAt;
      if (isDone && row.state !== "waiting" && (judged < kitMade || judged < old)) {
        await answerOf(acts.delete(row.order));
      }
    }
    const needed = new Set(rows.filter((row) => row.state !== "kept" && !row.seenAt).map((row) => row.uuid));
    for (const picture of await answerOf(store("photos").index("user").getAll(user))) {
      if (!needed.has(picture.act)) await answerOf(store("photos").delete(picture.uuid));
    }
  });
}

// --- drafts -------------------------------------------------------------------------------------
//
// {user, box, page, text, at, ...}: what stands in a box and was not left yet.

export function keepDraft(draft) {
  return write(["drafts"], (store) => answerOf(store("drafts").put(draft)));
}

export function dropDraft(user, box) {
  return write(["drafts"], (store) => answerOf(store("drafts").delete([user, box])));
}

export function draftsOf(user) {
  return read(["drafts"], (store) => answerOf(store("drafts").index("user").getAll(user)));
}

// --- photos -------------------------------------------------------------------------------------
//
// {uuid, user, act, bytes, sha256}: what its act names, until the office has it.

export function photosOf(user) {
  return read(["photos"], (store) => answerOf(store("photos").index("user").getAll(user)));
}

export function photo(uuid) {
  return read(["photos"], (store) => answerOf(store("photos").get(uuid)));
}

export function dropPhoto(uuid) {
  return write(["photos"], (store) => answerOf(store("photos").delete(uuid)));
}

// --- kits and what else is known ----------------------------------------------------------------

export function keepKit(kit) {
  return write(["kits"], (store) => answerOf(store("kits").put(kit)));
}

export function kitOf(user) {
  return read(["kits"], (store) => answerOf(store("kits").get(user)));
}

export function dropKit(user) {
  return write(["kits"], (store) => answerOf(store("kits").delete(user)));
}

export async function known(name) {
  const row = await read(["meta"], (store) => answerOf(store("meta").get(name)));
  return row ? row.value : undefined;
}

export function note(name, value) {
  return write(["meta"], (store) => answerOf(store("meta").put({ name, value })));
}

// The number of this phone, made up once: by it the office knows one that was lost.
export function phoneNumber() {
  return write(["meta"], async (store) => {
    const found = await answerOf(store("meta").get("phone"));
    if (found) return found.value;
    const value = crypto.randomUUID();
    await answerOf(store("meta").put({ name: "phone", value }));
    return value;
  });
}

// Signing out leaves nothing of customers that can be read, and every act that was not judged.
export function clearPerson(user) {
  return write(["kits", "drafts", "acts"], async (store) => {
    await answerOf(store("kits").delete(user));
    for (const draft of await answerOf(store("drafts").index("user").getAllKeys(user))) {
      store("drafts").delete(draft);
    }
    const acts = store("acts");
    for (const row of await answerOf(acts.index("user").getAll(user))) {
      if (row.state === "kept") acts.delete(row.order);
    }
  });
}

// The office said that this phone is lost.
export function wipe() {
  return write(["acts", "drafts", "photos", "kits", "meta"], (store) => {
    for (const name of ["acts", "drafts", "photos", "kits", "meta"]) store(name).clear();
  });
}
