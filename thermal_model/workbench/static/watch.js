"use strict";
// A stopwatch. Each tap is kept in this browser until the server says that it is on disk, and sent again until then.
const watch = document.getElementById("watch");
const where = watch.dataset.where, began = Number(watch.dataset.began);
const ahead = Number(watch.dataset.now) - Date.now() / 1000; // the server's clock counts, not the phone's
const store = `holdtime ${where}`;
const now = () => Date.now() / 1000 + ahead;
const put = (id, text) => { const place = document.getElementById(id); if (place.textContent !== text) place.textContent = text || ""; };
const waiting = () => JSON.parse(localStorage.getItem(store) || "[]");
const keepWaiting = (taps) => localStorage.setItem(store, JSON.stringify(taps));
let isSending = false;

function tick() {
  if (!began) return;
  const s = Math.max(Math.floor(now() - began), 0);
  put("clock", `${Math.floor(s / 3600)}:${String(Math.floor(s / 60) % 60).padStart(2, "0")}:${String(s % 60).padStart(2, "0")}`);
}

function tap(look) {
  const at = now().toFixed(1);
  const shown = document.getElementById("f-shown");
  const temperature = look === "reading" ? `${shown.value.trim().replace(",", ".")} ${document.getElementById("f-unit").value}` : document.getElementById("f-mark").value.trim();
  if (look === "reading" && !shown.value.trim()) { put("wrong", "Type what the display shows first."); shown.focus(); return; }
  put("wrong", "");
  keepWaiting([...waiting(), { look, at, temperature }]);
  if (look === "reading") shown.value = "";
  send();
}

async function send() {
  if (isSending) return;
  isSending = true;
  try {
    for (let taps = waiting(); taps.length; taps = waiting()) {
      const body = new URLSearchParams(taps[0]);
      const answer = await fetch(`${where}/tap`, { method: "POST", body, headers: { accept: "application/json" } });
      if (answer.status >= 500) throw new Error("server");
      const found = await answer.json();
      keepWaiting(waiting().slice(1));
      if (!answer.ok) { put("wrong", `Not kept: ${found.lines.join("; ")}`); continue; }
      put("told", `On disk: ${taps[0].temperature}`);
      const list = document.getElementById("list");
      list.replaceChildren(...found.taps.map((line) => { const item = document.createElement("li"); item.textContent = line; return item; }));
      foresee();
    }
    document.getElementById("offline").hidden = true;
  } catch { document.getElementById("offline").hidden = false; }
  isSending = false;
}

async function foresee() {
  try {
    const body = new URLSearchParams({ mark: document.getElementById("f-mark").value });
    const answer = await fetch(`${where}/ahead`, { method: "POST", body, headers: { accept: "application/json" } });
    const found = await answer.json();
    put("wrong", found.curve ? "" : `Look at these readings: ${(found.lines || []).join("; ")}`);
    if (!found.curve) return;
    put("held", found.held);
    put("look", found.look);
    put("odd", found.odd);
    drawCurve(document.getElementById("chart"), found.curve, null, found.points);
  } catch { /* the next tap tells that the server is away */ }
}

for (const button of document.querySelectorAll("[data-look]")) button.addEventListener("click", () => tap(button.dataset.look));
document.getElementById("f-shown").addEventListener("keydown", (event) => { if (event.key === "Enter") tap("reading"); });
document.getElementById("f-mark").addEventListener("change", foresee);
addEventListener("online", send);
setInterval(tick, 500);
setInterval(() => { if (waiting().length) send(); }, 3000);
document.getElementById("taps").disabled = !began; // no tap is taken before it can be kept
tick();
send();
addEventListener("load", foresee); // by then the chart library is there
