// Keeps the last pages that were read, so that the plan can be read and something written where the computer cannot be reached.
"use strict";
importScripts("/static/queue.js");
const KEPT = "underglass-MARK";
const PARTS = ["/static/style.css", "/static/htmx.min.js", "/static/app.js", "/static/queue.js", "/static/icon.svg", "/static/sketches.svg"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((cache) => cache.addAll(PARTS)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(caches.keys().then((names) => Promise.all(names.filter((n) => n !== KEPT).map((n) => caches.delete(n))))
    .then(() => self.clients.claim()));
});

// Where the browser offers it, what waits is sent also when no page is open.
self.addEventListener("sync", (event) => { if (event.tag === "queue") event.waitUntil(Queue.flush()); });

// Pages: from the computer, else as last read.  Secrets (pairing, settings), copies and pages that only wait are never kept.
const NEVER = /^\/(pair|settings|task|api|welcome|healthz|record|tuning|notebook\/(archive|copies|search))/;
const keep = (request, answer) => caches.open(KEPT).then((cache) => cache.put(request, answer));
self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== location.origin || NEVER.test(address.pathname)) return;
  event.respondWith(fetch(event.request).then((answer) => {
    if (answer.ok && answer.type === "basic" && !answer.redirected && !answer.headers.has("x-passing")) {
      event.waitUntil(keep(event.request, answer.clone()));
      // who reads the plan may want to write something down where nothing can be reached
      if (address.pathname === "/today") event.waitUntil(fetch("/notebook").then((page) => page.ok && !page.redirected && keep("/notebook", page)).catch(() => {}));
    }
    return answer;
  }).catch(async () => (await caches.match(event.request)) ?? (event.request.mode === "navigate" ? await instead() : undefined) ?? Response.error()));
});
const instead = async () => (await caches.match("/today")) ?? (await caches.match("/sow"));
