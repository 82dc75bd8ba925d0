// What was written while the computer could not be reached: kept on the phone, sent when it can be, never lost and never doubled.
// An entry leaves the phone only when the computer has said that it is kept; each carries an id by which it is kept once.
"use strict";

const Queue = (() => {
  const asked = (request) => new Promise((yes, no) => {
    request.onsuccess = () => yes(request.result);
    request.onerror = () => no(request.error);
  });

  async function within(mode, work) {
    const opening = indexedDB.open("underglass", 1);
    opening.onupgradeneeded = () => {
      opening.result.createObjectStore("entries", { keyPath: "key", autoIncrement: true });
      opening.result.createObjectStore("used");
    };
    const db = await asked(opening);
    try {
      const steps = db.transaction(["entries", "used"], mode);
      const done = new Promise((yes, no) => { steps.oncomplete = yes; steps.onabort = () => no(steps.error); });
      const found = await work(steps.objectStore("entries"), steps.objectStore("used"));
      await done;
      return found;
    } finally {
      db.close();
    }
  }

  // randomUUID is for secure pages only
  const freshId = () => [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");

  // A page that was read before the net went away carries the same id each time it is shown: the second entry gets one of its own.
  async function put(path, form) {
    const fields = [...form].filter(([name]) => name !== "token" && name !== "id" && name !== "at");
    const at = new Date().toISOString();
    await within("readwrite", async (entries, used) => {
      let id = form.get("id");
      if (await asked(used.get(id))) id = freshId();
      used.put(at, id);
      entries.add({ path, id, at, fields, fault: "" });
    });
  }

  const entries = () => within("readonly", (kept) => asked(kept.getAll()));
  const drop = (key) => within("readwrite", (kept) => asked(kept.delete(key)));
  const change = (entry) => within("readwrite", (kept) => asked(kept.put(entry)));

  async function send(entry) {
    const got = await fetch("/record/token", { cache: "no-store" });
    if (!got.ok) return false;
    const body = new FormData();
    for (const [name, value] of entry.fields) body.append(name, value);
    body.set("id", entry.id);
    body.set("at", entry.at);
    body.set("token", (await got.json()).token);
    const answer = await fetch(entry.path, { method: "POST", headers: { accept: "application/json" }, body });
    if (!(answer.headers.get("content-type") ?? "").startsWith("application/json")) return false;
    const said = await answer.json();
    if (said.kept) { await drop(entry.key); return true; }
    if (answer.status === 422) await change({ ...entry, fault: said.fault });
    return false;
  }

  // One after the other, in the order in which they were written; whoever asks meanwhile waits for the same run.
  let running = null;
  function flush() {
    running ??= (async () => {
      let sent = 0;
      try {
        for (const entry of await entries()) {
          if (entry.fault) continue;
          if (await send(entry)) sent += 1;
        }
      } catch { /* still away: the next time */ }
      running = null;
      return sent;
    })();
    return running;
  }

  return { put, entries, drop, change, flush, freshId };
})();
