// The desk rings too, whoever sits there: what is due in the lab stands at the foot of each of its pages until it is heard.

import { answer, heard, ring, wakeSound } from "./alarm.js";
import { askDue, keyOf, linesOf, ringingNow } from "./due.js";
import { $, setText } from "./page.js";

let fresh = [];

function tick() {
  fresh = ringingNow("", null).filter((one) => !heard(keyOf(one)));
  $("#alarm").hidden = !fresh.length;
  $("#alarm").dataset.rings = fresh.map((one) => one.code).join(" ");
  setText($("#alarm span"), linesOf(fresh).join(" · "));
  ring(fresh.length > 0);
}

async function beat() {
  await askDue();
  tick();
}

$("#alarm button").addEventListener("click", () => {
  answer(fresh.map(keyOf));
  tick();
});
document.addEventListener("pointerdown", wakeSound, true);
document.addEventListener("keydown", wakeSound, true);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && beat());
setInterval(beat, 5000);
setInterval(tick, 1000);
beat();
