"use strict";
// Follows every change: the best guess at once, the band after it, the whole of it when nothing more comes.
const form = document.getElementById("describe");
const windowName = crypto.randomUUID ? crypto.randomUUID() : String(Math.random());
let number = 0, later = 0, besideCurve = null, lastCurve = null, isChanged = false;
const put = (id, text) => { const place = document.getElementById(id); if (place) place.textContent = text || ""; };

async function ask(path, more) {
  const body = new FormData(form);
  for (const [key, value] of Object.entries({ window: windowName, number, changed: isChanged ? 1 : "", ...more })) body.set(key, value);
  const answer = await fetch(path, { method: "POST", body, headers: { accept: "application/json" } });
  return answer.json();
}

function offline(is) { document.getElementById("offline").hidden = !is; }

async function follow() {
  const mine = ++number;
  form.dataset.state = "asked";
  clearTimeout(later);
  try {
    const found = await ask("/follow/best");
    offline(false);
    if (mine !== number) return;
    show(found);
    if (found.curve) await band(mine, {});
    if (mine === number && found.curve && form.elements.other?.value) await beside();
    if (mine === number && found.curve) later = setTimeout(() => band(mine, { whole: 1 }), 500);
  } catch { offline(true); }
}

async function band(mine, more) {
  const found = await ask("/follow/band", more);
  if (mine !== number || found.superseded || !found.curve) return;
  showResult(found);
  form.dataset.state = more.whole ? "settled" : "band";
}

function show(found) {
  const asked = new Set(found.asked);
  const isText = "text" in form.elements;
  for (const question of document.querySelectorAll(".question")) question.hidden = !asked.has(question.id.slice(2));
  for (const said of document.querySelectorAll(".said")) {
    const key = said.id.slice(2), wrong = found.problems[key], odd = found.doubts[key];
    const text = wrong || (odd ? `Sure? ${odd}.` : "");
    if (said.textContent !== text) said.textContent = text;
    said.classList.toggle("wrong", Boolean(wrong));
    const field = document.getElementById(`f-${key}`);
    if (field) field.setAttribute("aria-invalid", String(Boolean(wrong)));
  }
  const nowhere = isText ? Object.values(found.problems).join("; ") : found.problems[""];
  put("wrong", nowhere);
  if (!found.curve) {
    const [key, message] = Object.entries(found.problems)[0] || ["", ""];
    const asks = document.querySelector(`#q-${key || "none"} :is(label, legend)`)?.textContent || "";
    put("held", `Does not fit yet. ${asks} ${message}`);
    put("bar", `Does not fit yet. ${asks} ${message}`);
    form.classList.add("waiting");
    form.dataset.state = "wrong";
    return;
  }
  form.classList.remove("waiting");
  put("holds", `It would hold ${found.holds}. Does it look like yours?`);
  document.getElementById("drawing").innerHTML = found.drawing; // made and escaped by the server
  showResult(found);
  form.dataset.state = "best";
}

function listed(line) {
  const item = document.createElement("li");
  item.textContent = line;
  return item;
}

function showResult(found) {
  lastCurve = found.curve;
  put("held", found.held);
  put("bar", found.held);
  drawCurve(document.getElementById("chart"), found.curve, besideCurve);
  if (!found.paths) return;
  put("least", found.least);
  put("cautions", found.cautions);
  document.getElementById("all-cautions").replaceChildren(...found.all_cautions.map(listed));
  const list = document.createElement("ul");
  list.className = "paths";
  list.append(...found.paths.map((path) => listed(`${path.name}: ${path.share}`)));
  const heading = document.createElement("h3");
  heading.textContent = "Where the heat goes";
  document.getElementById("paths").replaceChildren(heading, list);
}

async function beside() {
  const other = form.elements.other;
  const list = document.getElementById("beside-why");
  if (!other || !other.value) { besideCurve = null; put("beside-held"); list?.replaceChildren(); document.getElementById("beside-drawing")?.replaceChildren(); }
  else {
    const found = await ask("/follow/beside");
    if (!found.curve) { put("beside-held", (found.lines || []).join("; ")); return; }
    besideCurve = found.curve;
    put("beside-held", `${other.value} (dotted) ${found.held}. What this one gains or loses by each part:`);
    list.replaceChildren(...found.why.map(listed));
    document.getElementById("beside-drawing").innerHTML = found.drawing; // made and escaped by the server
  }
  if (lastCurve) drawCurve(document.getElementById("chart"), lastCurve, besideCurve);
}

form.addEventListener("input", (event) => {
  if (event.target.name === "other") { beside(); return; }
  isChanged = true;
  follow();
});
form.addEventListener("submit", () => { isChanged = false; });
addEventListener("beforeunload", (event) => { if (isChanged) event.preventDefault(); });
follow();
