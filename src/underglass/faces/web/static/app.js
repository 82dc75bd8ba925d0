// What the pages do with script; each of them also works without.
"use strict";

const month = new Intl.DateTimeFormat(document.documentElement.lang, { day: "numeric", month: "short", timeZone: "UTC" });

// A slider says what it stands for: in the words that the page gave it, or as a date.
function words(input) {
  if (input.dataset.words) return input.dataset.words.split("|")[Math.round((input.value - input.min) / input.step)];
  if (input.dataset.dates) return month.format(new Date(input.dataset.dates.split(" ")[input.value] + "T00:00Z"));
  return month.format(new Date(Date.UTC(2027, 0, Number(input.value))));
}
function tellValue(input) {
  const said = words(input);
  input.setAttribute("aria-valuetext", said);
  const shown = document.querySelector(`output[for="${input.id}"]`);
  if (shown) shown.value = said;
}
for (const input of document.querySelectorAll("input[type=range]")) {
  tellValue(input);
  input.addEventListener("input", () => tellValue(input));
}

// A form whose answer follows the hand asks at once, and then after each pause of 60 ms while it is moved on: the last place is never left out, as a
// throttle of single events would.
for (const form of document.querySelectorAll("form[hx-trigger='moved']")) {
  let resting = 0, moved = false;
  const ask = () => {
    if (resting) { moved = true; return; }
    form.dispatchEvent(new Event("moved"));
    resting = setTimeout(() => { resting = 0; if (moved) { moved = false; ask(); } }, 60);
  };
  form.addEventListener("input", ask);
}

// The table that was opened stays open while a picture is changed.
for (const swap of ["htmx:beforeSwap", "htmx:oobBeforeSwap"]) {
  document.body.addEventListener(swap, (event) => {
    const { id } = event.detail.target;
    const open = [...event.detail.target.querySelectorAll("details")].map((d) => d.open);
    setTimeout(() => document.getElementById(id)?.querySelectorAll("details").forEach((d, i) => { d.open = open[i] ?? false; }), 30);
  });
}

// Loads the page again, but never under the hands of somebody who types.
const typing = () => [...document.querySelectorAll("input, textarea")].some((f) => f.value !== f.defaultValue && f.type !== "hidden" && f.type !== "range");
const loadAgain = () => { if (typing()) setTimeout(loadAgain, 2000); else location.reload(); };

// Long work: its progress as it comes; the page is loaded again when it is done.
const work = document.getElementById("work");
if (work) {
  const events = new EventSource(work.dataset.work);
  events.onmessage = (event) => {
    const state = JSON.parse(event.data);
    work.value = state.share;
    document.getElementById("doing").textContent = state.doing;
    if (state.done) { events.close(); loadAgain(); }
  };
  // the program was started anew meanwhile: the page says what there is now
  events.onerror = () => { if (events.readyState === EventSource.CLOSED) setTimeout(() => location.reload(), 2000); };
}

// "Use this device's location", where the browser allows it.
const locate = document.getElementById("locate");
if (locate && navigator.geolocation && window.isSecureContext) {
  locate.hidden = false;
  locate.addEventListener("click", () => navigator.geolocation.getCurrentPosition((found) => {
    document.getElementById("latitude").value = found.coords.latitude.toFixed(3);
    document.getElementById("longitude").value = found.coords.longitude.toFixed(3);
    document.getElementById("latitude").closest("details").open = true;
  }));
}

// Whether the computer answers: a phone can be on the net and still not reach it.
const offline = document.getElementById("offline");
async function tellOffline() {
  try { await fetch("/healthz", { cache: "no-store" }); offline.hidden = true; } catch { offline.hidden = false; }
  return offline.hidden;
}

// Records are sent from here, so that what cannot be sent is kept on the phone; a fault is shown by the page as without script.
const PATIENCE_MS = { "/record": 10_000, "/photo": 60_000 };
const queued = document.getElementById("queued");
for (const form of document.querySelectorAll("form[action='/record'], form[action='/photo']")) {
  form.addEventListener("submit", async (event) => {
    if (!window.indexedDB) return;
    event.preventDefault();
    if (form.ariaBusy === "true") return;
    form.ariaBusy = "true";
    const path = form.getAttribute("action"), data = new FormData(form, event.submitter);
    try {
      const answer = await fetch(path, {
        method: "POST", headers: { accept: "application/json" }, body: data, signal: AbortSignal.timeout(PATIENCE_MS[path]),
      });
      if (answer.ok) { show(data); return; }
      form.ariaBusy = null;
      sendPlainly(form, event.submitter);
    } catch {
      await Queue.put(path, data);
      form.ariaBusy = null;
      form.reset();
      form.elements.id.value = Queue.freshId();
      await tellQueue();
      queued.scrollIntoView({ block: "nearest" });
      tellOffline();
    }
  });
}
function show(data) {
  const address = `/${data.get("back") || "notebook"}${data.get("mark") ? "#" + data.get("mark") : ""}`;
  history.replaceState(null, "", address);
  location.reload();
}
function sendPlainly(form, submitter) {
  if (submitter?.name) form.append(Object.assign(document.createElement("input"), { type: "hidden", name: submitter.name, value: submitter.value }));
  form.submit();
}

// What waits on this phone: how much on every page, what on the notebook's.
const waiting = document.getElementById("waiting");
async function tellQueue() {
  const entries = window.indexedDB ? await Queue.entries() : [];
  queued.hidden = entries.length === 0;
  queued.textContent = queued.dataset.words.replace("{n}", entries.length);
  if (!waiting) return;
  waiting.hidden = entries.length === 0;
  const list = waiting.querySelector("ul");
  list.replaceChildren(...entries.map((entry) => {
    const item = document.createElement("li");
    const told = entry.fields.filter(([name, value]) => typeof value === "string" && value && !["what", "back", "mark"].includes(name));
    item.append(`${new Date(entry.at).toLocaleString(document.documentElement.lang)}: ${told.map(([, value]) => value).join(", ")}`);
    if (entry.fault) {
      const fault = Object.assign(document.createElement("p"), { className: "fault", textContent: `${list.dataset.refused} ${entry.fault}` });
      item.append(fault, button(list.dataset.again, () => Queue.change({ ...entry, fault: "" })));
    }
    item.append(" ", button(list.dataset.drop, () => Queue.drop(entry.key)));
    return item;
  }));
}
function button(words, act) {
  const made = Object.assign(document.createElement("button"), { type: "button", className: "quiet", textContent: words });
  made.addEventListener("click", async () => { await act(); await tellQueue(); sendQueue(); });
  return made;
}
async function sendQueue() {
  if (!window.indexedDB || (await Queue.entries()).every((entry) => entry.fault)) return;
  const sent = await Queue.flush();
  await tellQueue();
  if (sent && waiting && !typing()) location.reload();
}
async function lookAround() { if (await tellOffline()) await sendQueue(); }
for (const sign of ["online", "offline", "focus"]) addEventListener(sign, lookAround);
setInterval(() => { if (!queued.hidden) lookAround(); }, 15_000);
tellQueue().then(lookAround);

if ("serviceWorker" in navigator && window.isSecureContext) {
  navigator.serviceWorker.register("/sw.js").then((known) => known.sync?.register("queue").catch(() => {}));
}
