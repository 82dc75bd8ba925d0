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
}
addEventListener("online", tellOffline);
addEventListener("offline", tellOffline);
tellOffline();

if ("serviceWorker" in navigator && window.isSecureContext) navigator.serviceWorker.register("/sw.js");
