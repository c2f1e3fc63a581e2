// Codes come in one way, whoever reads them: a wedge scanner, the camera, a hand. The check character (ISO 7064
// MOD 37-2) decides between keyboard layouts.

const CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const QUICK = 60; // ms between two keys of a scanner

function whole(code) {
  if (code.length !== 10 || [...code].some((c) => !ALPHABET.includes(c))) return false;
  let sum = 0;
  for (const c of code.slice(0, 9)) sum = ((sum + CHARACTERS.indexOf(c)) * 2) % 37;
  return CHARACTERS[(38 - sum) % 37] === code[9];
}

const swapYZ = (text) => text.replace(/[YZ]/g, (c) => (c === "Y" ? "Z" : "Y"));

export function readCode(text, layouts = true) {
  const plain = text.toUpperCase().replace(/[\s-]/g, "").replace(/O/g, "0").replace(/[IL]/g, "1");
  if (whole(plain)) return plain;
  return layouts && whole(swapYZ(plain)) ? swapYZ(plain) : "";
}

const listeners = [];

// Listeners are asked in the order in which they came; one that returns true has taken the code.
export function onScan(listener) {
  listeners.push(listener);
}

// `keys` are what a scanner typed into `target`, whatever layout the tablet has. Nobody's layout swaps what a hand typed.
export function take(text, { target = document.body, keys = text, layouts = true } = {}) {
  return listeners.some((listener) => listener(text, { target, keys, layouts }) === true);
}

// The key as it is marked on the keyboard that scanners are set to when they leave the box.
const markedOn = (place) => /^(?:Key|Digit|Numpad)([A-Z0-9])$/.exec(place)?.[1] || "";

// What a tablet with an Azerty or a Cyrillic layout makes of a scanner's keys is no code; the places of the keys are.
function meant(keys, places) {
  return readCode(keys, false) || !readCode(places, false) ? keys : places;
}

// A wedge scanner types a code within a blink and ends it with Enter; that Enter never presses anything.
let keys = "";
let places = "";
let lastAt = -QUICK;
let stood = ""; // in the field, before the first key of what may be a scan

function ended(event) {
  const [typed, text, quick] = [keys, meant(keys, places), event.timeStamp - lastAt < QUICK];
  keys = places = "";
  lastAt = -QUICK;
  if (!quick || typed.length < 4) return;
  event.preventDefault();
  event.stopPropagation();
  // A code is no number: what the scanner typed over is put back.
  if (event.target.inputMode === "decimal") event.target.value = stood;
  if (take(text, { target: event.target, keys: typed })) event.stopImmediatePropagation();
}

function typed(event) {
  const place = markedOn(event.code || "");
  if ((event.key.length !== 1 && !place) || event.ctrlKey || event.metaKey || event.altKey) return;
  const quick = event.timeStamp - lastAt < QUICK;
  if (!quick) {
    stood = event.target.value;
    keys = places = "";
  }
  keys += event.key.length === 1 ? event.key : "?";
  places += place;
  lastAt = event.timeStamp;
  // A blank in the middle of a scan must not press the focused button.
  if (quick && event.key === " ") event.preventDefault();
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Enter" || event.key === "Tab") ended(event);
  else typed(event);
}, true);
