// A page of an older version goes on; the first page asks to renew it while no attended step runs on this tablet.

import { jawsHere } from "./bases.js";
import { now } from "./clock.js";
import { clocks } from "./clocks.js";
import { status } from "./outbox.js";
import { $ } from "./page.js";

const LATELY = 2 * 3600000; // a jaw that was left lying, or went on at another tablet, must not hold renewal up for ever
const PATIENCE = 10000;

// Whether a step that holds a person runs: wet resin, or a clock of a step that is attended.
export function runs(table, state, at) {
  if (state.ended || state.held || at - Math.max(0, ...Object.values(state.stamps)) > LATELY) return false;
  const is = (step, what) => table.cards.some((card) => card.step === step && card[what]);
  return is(state.now, "wet") || clocks(table, state).some((clock) => is(clock.step, "attended") && clock.ends > at);
}

export async function stepRuns() {
  return (await jawsHere()).some(({ base, state }) => runs(base.table, state, now()));
}

// `status.pc` is the version that the PC answered with.
export async function offerRenewal() {
  const older = Boolean(status.pc) && status.pc !== document.documentElement.dataset.app;
  $("#renew").hidden = !older || (await stepRuns());
}

function reaches(worker, states) {
  return new Promise((resolve) => {
    const look = () => states.includes(worker.state) && resolve();
    worker.addEventListener("statechange", look);
    look();
    setTimeout(resolve, PATIENCE);
  });
}

// The new worker fetches every kept page anew before it is active; what waits in the outbox is not its business.
async function takeOver() {
  const registration = await navigator.serviceWorker.getRegistration();
  await registration.update();
  const fresh = registration.installing || registration.waiting;
  if (!fresh) return;
  await reaches(fresh, ["installed", "activating", "activated", "redundant"]);
  fresh.postMessage("take over");
  await reaches(fresh, ["activated", "redundant"]);
}

$("#renew button").addEventListener("click", async (event) => {
  event.target.disabled = true;
  await takeOver().catch(() => null); // without a worker the page alone is renewed
  location.reload();
});
