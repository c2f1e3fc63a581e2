// A bench page forgets who is signed in after a while without a tap or key, but never while resin is wet.

import { data, person, setPerson } from "./page.js";

const USED = "used"; // when a bench page of this tablet was last tapped, ms
let forgotten = false;

export function inUse() {
  localStorage.setItem(USED, String(Date.now()));
}

// The wall clock, since a tablet's other clock may stand still while it sleeps; set back, it begins to count anew.
function look() {
  const phase = document.body.dataset.phase;
  if (!data.idleMs || !person() || !phase) return;
  const idle = Date.now() - Number(localStorage.getItem(USED) || Infinity);
  if (phase === "wet" || !(idle >= 0)) inUse();
  else if (idle >= data.idleMs) {
    setPerson(null);
    forgotten = true;
  }
}

// `ask` opens the dialog, at the tap after which nobody is known any more.
export function watchIdle(ask) {
  if (!("idleMs" in data)) return;
  const used = () => {
    look();
    if (person() && document.body.dataset.phase) inUse();
  };
  const asked = () => {
    if (!forgotten || person()) return;
    forgotten = false;
    setTimeout(() => person() || ask()); // after what the tap itself does: an alarm is still answered by it
  };
  document.addEventListener("pointerdown", used, true);
  document.addEventListener("keydown", (event) => {
    used();
    if (!["Shift", "Control", "Alt", "Meta"].includes(event.key)) asked();
  }, true);
  document.addEventListener("click", asked, true);
  setInterval(look, 1000);
}
