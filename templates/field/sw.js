{% load static %}// Pages of the day without signal: asks the office first, then what this phone carries.
import * as kits from "{% static 'jobs/kits.js' %}";

const SHELL = "{{ shell }}";
const FILES = new Set([{% for name in files %}
  "{{ name|escapejs }}",{% endfor %}
]);
// named by what they hold, or lying in a folder of one version: the same wherever they were cached
const SAME = /\/runtime\/[0-9]|\.[0-9a-f]{12}\.\w+$/;
// pages that a phone carries, and what is asked from them
const CARRIED = /^\/(my-day|records|visits|jobs|sites)\/|^\/$/;
// a record that this phone has begun, until the office has heard of it
const TO_BEGIN = /^\/records\/\d{16,}\//;
// pictures and papers take longer than anybody waits for a page
const SLOW = /\/(print|picture|small)\/|\.pdf$/;
// as does a form that sends files
const isSlow = (request, path) =>
  SLOW.test(path) || (request.method !== "GET" && path.endsWith("/photos/"));
const DOOR = /^\/field\/(hello|acts|kit)$/;
const ANSWER_MS = 4000; // how long the office has
const SILENT_MS = 30000; // after that it is not waited for again so soon
const WORK_MS = 30000; // how long the page has
const NO_ANSWER = [502, 503, 504];

let silentUntil = 0;

self.addEventListener("install", (event) => event.waitUntil(fetchAll()));

// whole, or the worker is not installed
async function fetchAll() {
  const shell = await caches.open(SHELL);
  for (const name of FILES) {
    const lies = SAME.test(name) ? await caches.match(name) : undefined;
    const answer = lies || await fetch(name, { cache: SAME.test(name) ? "default" : "no-cache" });
    if (!answer.ok) throw new Error(`${name}: ${answer.status}`);
    await shell.put(name, answer);
  }
}

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name !== SHELL) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

// only a person says so, on a page that has nothing under way
self.addEventListener("message", (event) => {
  if (event.data && event.data.act === "take over") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (FILES.has(url.pathname)) event.respondWith(fromShell(url.pathname, request));
  else if (DOOR.test(url.pathname)) event.respondWith(heard(fetch(request)));
  else if (CARRIED.test(url.pathname) && !isSlow(request, url.pathname)) event.respondWith(answered(event, url));
});

async function fromShell(name, request) {
  const shell = await caches.open(SHELL);
  return (await shell.match(name)) || fetch(request);
}

async function heard(asked) {
  const answer = await asked;
  if (!NO_ANSWER.includes(answer.status)) silentUntil = 0;
  return answer;
}

async function answered(event, url) {
  const { request } = event;
  const body = request.method === "POST" ? await request.clone().text() : "";
  const here = () => fromHere(event, url, body);
  if (Date.now() < silentUntil) {
    const found = await here();
    if (found) return found;
  }
  const asked = heard(fetch(request));
  const first = await Promise.race([
    asked.catch(() => undefined),
    new Promise((done) => { setTimeout(done, ANSWER_MS, "late"); }),
  ]);
  if (first === "late") silentUntil = Date.now() + SILENT_MS;
  else if (first && first.status === 404 && TO_BEGIN.test(url.pathname)) return (await here()) || first;
  else if (first && !NO_ANSWER.includes(first.status)) return first;
  return (await here()) || asked;
}

// --- what lies here -----------------------------------------------------------------------------

async function fromHere(event, url, body) {
  const { request } = event;
  const kit = await kits.current().catch(() => undefined);
  if (!kit) return undefined;
  if (request.mode !== "navigate" && event.clientId) {
    const worked = await fromPage(event.clientId, { path: url.pathname, method: request.method, body });
    return worked ? answerOf(worked) : undefined;
  }
  // a form that cannot be kept: back to where it stands, which says so
  if (request.method !== "GET") {
    return request.referrer ? Response.redirect(`${request.referrer}#needs-signal`, 303) : undefined;
  }
  if (url.pathname === "/") return Response.redirect("/my-day/");
  const next = kits.nextOf(kit, url.pathname);
  if (next) return Response.redirect(next);
  const html = kits.pageOf(kit, url.pathname) || kits.pageOf(kit, "/field/absent");
  return html ? answerOf({ html: kits.marked(html, kit) }) : undefined;
}

function answerOf({ html, status = 200 }) {
  const headers = { "Content-Type": "text/html; charset=utf-8", "X-Worked-Out": "phone" };
  return new Response(html, { status, headers });
}

// the page that asked has Python; it answers, or says that it cannot
async function fromPage(id, asked) {
  const page = await self.clients.get(id);
  if (!page) return undefined;
  return new Promise((done) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = (event) => done(event.data || undefined);
    setTimeout(done, WORK_MS);
    page.postMessage({ act: "work out", asked }, [port2]);
  });
}
