// The desk rings too, whoever sits there: what is due in the lab stands at the foot of each of its pages until it is heard.
// A page of a tablet that says so rings for what concerns whoever is signed in there.

import { alarm, answer, heard } from "./alarm.js";
import { askDue, keyOf, linesOf, ringingNow } from "./due.js";
import { $, person } from "./page.js";

let fresh = [];

function tick() {
  fresh = ringingNow("", document.body.dataset.rings === "mine" ? person() : null).filter((one) => !heard(keyOf(one)));
  alarm(linesOf(fresh).join(" · "), fresh.map((one) => one.code));
}

async function beat() {
  await askDue();
  tick();
}

$("#alarm button").addEventListener("click", () => {
  answer(fresh.map(keyOf));
  tick();
});
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && beat());
setInterval(beat, 5000);
setInterval(tick, 1000);
beat();
