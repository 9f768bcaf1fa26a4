// The kit of the day on this phone: one row, put whole or not at all. For pages and for the worker.
"use strict";

const kits = (() => {
  const STORE = "kit";
  const CURRENT = "current";

  function opened() {
    return new Promise((done, failed) => {
      const asked = indexedDB.open("day", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore(STORE);
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => failed(asked.error);
    });
  }

  async function within(mode, work) {
    const store = await opened();
    try {
      return await new Promise((done, failed) => {
        const transaction = store.transaction(STORE, mode, { durability: "strict" });
        const asked = work(transaction.objectStore(STORE));
        transaction.oncomplete = () => done(asked.result);
        transaction.onabort = transaction.onerror = () => failed(transaction.error);
      });
    } finally {
      store.close();
    }
  }

  const get = () => within("readonly", (store) => store.get(CURRENT));
  const put = (kit) => within("readwrite", (store) => store.put(kit, CURRENT));
  const drop = () => within("readwrite", (store) => store.delete(CURRENT));

  const rowOf = (kit, record) => kit.visits.find((row) => String(row.record) === String(record));

  function page(kit, path) {
    if (kit.pages[path]) return kit.pages[path];
    const row = kit.visits.find((visit) => visit.pages[path]);
    return row && row.pages[path];
  }

  // a page that was taken along says so to its script
  const marked = (html, kit) => html.replace("<html", `<html data-kit="${kit.made}"`);

  // what the office would say at records/N/facts/, by the clock of the office
  function handed(kit, record) {
    const row = rowOf(kit, record);
    if (!row) return undefined;
    const offsets = Object.values(kit.utc_offset_minutes);
    return {
      facts: { ...row.facts, lines: kit.checklists[row.checklist] },
      by: kit.by,
      system: kit.system,
      utc_offset_minutes: kit.utc_offset_minutes[kit.days[0]] ?? offsets[0],
      now: new Date(Date.now() + (kit.offset_ms || 0)).toISOString(),
    };
  }

  return { get, put, drop, page, marked, rowOf, handed };
})();
