// The screen stays on while a step or a clock runs, since a tablet that sleeps rings for nobody; where it may not, the
// status line says so. A browser takes the lock away whenever the page hides.

import { status } from "./outbox.js";
import { showStatus } from "./page.js";

const AGAIN = 30000; // ms until a refused lock is asked for once more
let lock = null;
let wanted = false;
let asking = false;
let notBefore = 0;

function tell() {
  document.body.dataset.awake = !wanted ? "" : lock ? "yes" : "no";
  const sleeps = wanted && !lock && !asking;
  if (Boolean(status.sleeps) === sleeps) return;
  status.sleeps = sleeps;
  showStatus(status);
}

async function ask() {
  if (lock || asking || document.visibilityState !== "visible" || performance.now() < notBefore) return;
  asking = true;
  try {
    lock = await navigator.wakeLock.request("screen");
    lock.addEventListener("release", () => {
      lock = null;
      tell();
    });
  } catch {
    notBefore = performance.now() + AGAIN;
  }
  asking = false;
  if (!wanted && lock) await lock.release();
  tell();
}

// Called as often as one likes: with every tick of a page.
export function stayAwake(wish) {
  wanted = wish;
  if (wish) ask();
  else if (lock) lock.release();
  tell();
}

document.addEventListener("visibilitychange", () => {
  notBefore = 0;
  if (wanted) ask();
});
