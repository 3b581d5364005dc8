"use strict";
// Asks how far the work is, and shows the answer when it is there.
const job = document.getElementById("job");
async function look() {
  try {
    const found = await (await fetch(`${job.dataset.where}/state`)).json();
    document.getElementById("share").value = found.share;
    document.getElementById("left").textContent = found.left;
    const told = document.getElementById("told");
    if (told.textContent !== found.stage) told.textContent = found.stage;
    if (found.stage !== "waiting" && found.stage !== "running") { location.reload(); return; }
    document.getElementById("offline").hidden = true;
  } catch { document.getElementById("offline").hidden = false; }
  setTimeout(look, 400);
}
look();
