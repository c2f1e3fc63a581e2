// Wet gloves make ghost taps: a control takes one tap in a while, and the main action none on a screen that is fresh.

const AFTER_CHANGE = 600; // ms in which the main action takes no tap after the screen changed
const AFTER_TAP = 400; // ms in which a second tap on the same control is dropped
const taps = new WeakMap();
let changedAt = 0;

export function changed() {
  changedAt = performance.now();
  document.body.dataset.ready = "no";
  setTimeout(() => {
    if (performance.now() - changedAt >= AFTER_CHANGE - 1) document.body.dataset.ready = "yes";
  }, AFTER_CHANGE);
}

// Whether a tap on this control counts now; one that counts makes the next one wait.
export function takes(control) {
  const at = performance.now();
  if (at - (taps.get(control) ?? -1e9) < AFTER_TAP) return false;
  if (control.id === "main" && at - changedAt < AFTER_CHANGE) return false;
  taps.set(control, at);
  return true;
}
