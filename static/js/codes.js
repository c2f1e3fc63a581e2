// Codes as scanners type them: the check character (ISO 7064 MOD 37-2) decides between keyboard layouts.

const CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";

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

// A wedge scanner types a code within a blink and ends it with Enter; that Enter never presses anything.
// A listener that returns true has taken the scan: those that came to listen later do not hear of it.
export function onScan(listener) {
  let buffer = "";
  let lastAt = 0;
  let stood = ""; // in the field, before the first key of what may be a scan
  document.addEventListener(
    "keydown",
    (event) => {
      const quick = event.timeStamp - lastAt < 60;
      if (event.key === "Enter" || event.key === "Tab") {
        const typed = quick ? buffer : "";
        buffer = "";
        if (typed.length < 4) return;
        event.preventDefault();
        event.stopPropagation();
        // A code is no number: what the scanner typed over is put back.
        if (event.target.inputMode === "decimal") event.target.value = stood;
        if (listener(typed, event.target) === true) event.stopImmediatePropagation();
        return;
      }
      if (event.key.length !== 1 || event.ctrlKey || event.metaKey || event.altKey) return;
      if (!quick) stood = event.target.value;
      buffer = quick ? buffer + event.key : event.key;
      lastAt = event.timeStamp;
      // A blank in the middle of a scan must not press the focused button.
      if (quick && event.key === " ") event.preventDefault();
    },
    true,
  );
}
