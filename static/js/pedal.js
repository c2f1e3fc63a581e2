// The foot switch: a pedal types one key, and in the wet window, there alone, that key presses the main action.

import { $ } from "./page.js";
import { settings } from "./settings.js";

const APART = 100; // ms; a scanner's keys follow one another faster than that, a foot never does
const OWN = ["Enter", " ", "Tab", "Escape", "Backspace", "Delete", "Dead", "Process", "Unidentified", ""];
const HELD = ["Shift", "Control", "Alt", "AltGraph", "Meta", "CapsLock", "NumLock", "Fn"];

export const isHeldKey = (event) => HELD.includes(event.key);
const combined = (event) => event.ctrlKey || event.altKey || event.metaKey;

// Why a key cannot be the pedal's, by name of a sentence: it would press, leave or type something of its own.
export function unfit(event) {
  if (combined(event)) return "combined";
  if (OWN.includes(event.key)) return "own";
  return event.key.length === 1 && !/\p{L}/u.test(event.key) ? "typed" : "";
}

// A letter by its place on the keyboard, so that it is the same key in every layout; every other key by its name.
export function isPedal(event, { code, key } = settings().pedal) {
  return !combined(event) && (key.length > 1 || !code ? event.key === key : event.code === code);
}

const wet = () => document.body.dataset.phase === "wet" && !$("dialog[open]");

export function onPedal(press) {
  let lastAt = -1e9;
  let soon = 0;
  document.addEventListener("keydown", (event) => {
    const quick = event.timeStamp - lastAt < APART;
    lastAt = event.timeStamp;
    clearTimeout(soon); // whatever follows at once is typed by a scanner, and so was the key before it
    if ($("dialog[open]") || !isPedal(event)) return;
    // Elsewhere a step on it does nothing at all; but a letter that is typed into a field is a letter.
    if (!wet() && event.key.length === 1 && "value" in event.target) return;
    event.preventDefault();
    if (!wet() || event.repeat) return;
    if (event.key.length > 1) press();
    else if (!quick) soon = setTimeout(() => wet() && press(), APART);
  });
}
