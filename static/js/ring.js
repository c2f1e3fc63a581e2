// The desk rings too, whoever sits there: what is due in the lab stands at the foot of each of its pages until it is heard.

import { alarm, answer, heard } from "./alarm.js";
import { askDue, keyOf, linesOf, ringingNow } from "./due.js";
import { $ } from "./page.js";

let fresh = [];

function tick() {
  fresh = ringingNow("", null).filter((one) => !heard(keyOf(one)));
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
