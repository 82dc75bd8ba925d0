// Keeps the last pages that were read, so that the plan can be read where the computer cannot be reached.
"use strict";
const KEPT = "underglass-MARK";
const PARTS = ["/static/style.css", "/static/htmx.min.js", "/static/app.js", "/static/icon.svg", "/static/sketches.svg"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((cache) => cache.addAll(PARTS)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(caches.keys().then((names) => Promise.all(names.filter((n) => n !== KEPT).map((n) => caches.delete(n))))
    .then(() => self.clients.claim()));
});

// Pages: from the computer, else as last read.  Secrets (pairing, settings) are never kept.
self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== location.origin) return;
  if (/^\/(pair|settings|task|api|welcome|healthz)/.test(address.pathname)) return;
  event.respondWith(fetch(event.request).then((answer) => {
    if (answer.ok && answer.type === "basic" && !answer.redirected) {
      const copy = answer.clone();
      event.waitUntil(caches.open(KEPT).then((cache) => cache.put(event.request, copy)));
    }
    return answer;
  }).catch(async () => (await caches.match(event.request)) ?? (event.request.mode === "navigate" ? await caches.match("/sow") : undefined) ?? Response.error()));
});
