// The kit of the day as this phone carries it. For pages and for the service worker.
import * as kept from "./kept.js";

const CARRIES = "carries"; // whose kit it is: the service worker is not told who is signed in
const HOUR = 3600_000;
const SHAPE = 1;
export const AGED = { said: 12 * HOUR, old: 36 * HOUR, dropped: 72 * HOUR };

// The kit of whoever took one along last on this phone; too old a kit is none.
export async function current() {
  const user = await kept.known(CARRIES);
  const kit = user && await kept.kitOf(user);
  if (!kit || kit.kit !== SHAPE) return undefined;
  if (ageOf(kit) < AGED.dropped) return kit;
  await kept.dropKit(user);
  return undefined;
}

// One row, put whole or not at all; what it holds need not be laid over its facts any more.
export async function take(kit) {
  await kept.keepKit(kit);
  await kept.note(CARRIES, kit.user);
  await kept.prune(kit.user, Date.parse(kit.made) - kit.offset_ms);
}

export const ageOf = (kit) => Date.now() + kit.offset_ms - Date.parse(kit.made);

export const rowOf = (kit, record) => kit.visits.find((row) => String(row.record) === String(record));

export function pageOf(kit, path) {
  if (kit.pages[path]) return kit.pages[path];
  const row = kit.visits.find((visit) => visit.pages[path]);
  return row && row.pages[path];
}

// Where a record goes on: at the part that was the first open one when the kit was made, and from
// there, once Python works, at the one that is it by now.
const NEXT = /^\/records\/(\d+)\/next\/$/;
export const GOES_ON = "#next";

export function nextOf(kit, path) {
  const [, record] = NEXT.exec(path) || [];
  const row = record && rowOf(kit, record);
  return row && `/records/${record}/${row.first ? `${row.first}/` : ""}${GOES_ON}`;
}

// a page that was taken along says so to its script
export const marked = (html, kit) => html.replace("<html", `<html data-kit="${kit.made}"`);

// What the office would say at records/N/facts/, but for the time.
export function handed(kit, record) {
  const row = rowOf(kit, record);
  if (!row) return undefined;
  return {
    facts: { ...row.facts, lines: kit.checklists[row.checklist] },
    by: kit.by,
    system: kit.system,
    utc_offset_minutes: kit.utc_offset_minutes[kit.days[0]],
  };
}
