// What the pages do with script; each of them also works without.
"use strict";

const month = new Intl.DateTimeFormat(document.documentElement.lang, { day: "numeric", month: "short", timeZone: "UTC" });

// A slider says its value, a date slider its date, to those who hear it.
function tellValue(input) {
  if (input.dataset.dates) {
    const date = new Date(input.dataset.dates.split(" ")[input.value] + "T00:00Z");
    input.setAttribute("aria-valuetext", month.format(date));
  }
  const shown = document.querySelector(`output[for="${input.id}"]`);
  if (!shown) return;
  if (input.id === "day") shown.value = month.format(new Date(Date.UTC(2027, 0, Number(input.value))));
  else shown.value = Number(input.value) < 0 ? shown.dataset.off : `${input.value} ${shown.dataset.unit}`;
}
for (const input of document.querySelectorAll("input[type=range]")) {
  tellValue(input);
  input.addEventListener("input", () => tellValue(input));
}

// The table that was opened stays open while a picture is changed.
document.body.addEventListener("htmx:beforeSwap", (event) => {
  const open = [...event.detail.target.querySelectorAll("details")].map((d) => d.open);
  setTimeout(() => event.detail.target.querySelectorAll("details").forEach((d, i) => { d.open = open[i] ?? false; }), 30);
});

// Long work: its progress as it comes; the page is loaded again when it is done.
const work = document.getElementById("work");
if (work) {
  const events = new EventSource(work.dataset.work);
  events.onmessage = (event) => {
    const state = JSON.parse(event.data);
    work.value = state.share;
    document.getElementById("doing").textContent = state.doing;
    if (state.done) { events.close(); location.reload(); }
  };
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
}
addEventListener("online", tellOffline);
addEventListener("offline", tellOffline);
tellOffline();

if ("serviceWorker" in navigator && window.isSecureContext) navigator.serviceWorker.register("/sw.js");
