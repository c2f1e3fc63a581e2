// Reads a step aloud by a voice of the tablet's own: no word leaves the lab, and it needs no network. Off until asked for.

import { $, $$ } from "./page.js";
import { change, settings } from "./settings.js";

const speech = window.speechSynthesis;
const spoken = (tag) => tag.toLowerCase().split(/[-_]/)[0];
let last = ""; // the step that was read last

// A voice for the language of the page that works without the network; null where there is none.
export function voice() {
  const own = (speech?.getVoices() || []).filter((one) => one.localService && spoken(one.lang) === spoken(document.documentElement.lang));
  return own.find((one) => one.default) || own[0] || null;
}

export function read(text) {
  const found = voice();
  if (!found) return false;
  const words = new SpeechSynthesisUtterance(text);
  words.voice = found;
  words.lang = found.lang;
  speech.cancel();
  speech.speak(words);
  return true;
}

// Voices are known only a while after the page is.
export const onVoices = (listener) => speech?.addEventListener?.("voiceschanged", listener);

function sentences(card) {
  const parts = [$("h1", card), $(".words", card), ...$$(".cautions li > *", card)];
  return parts.map((part) => part.textContent.trim().replace(/[.!?:]?$/, (end) => end || ".")).join(" ");
}

// Reads the step that is on, once; the button says whether it does.
export function readStep(step, card) {
  const on = settings().aloud && Boolean(voice());
  $("[data-act=aloud]").setAttribute("aria-pressed", String(on));
  if (!on || step === last) return;
  last = step;
  if (card) read(sentences(card));
}

// Turns it on or off; false where there is no voice to turn on.
export function turn() {
  const on = !settings().aloud || $("[data-act=aloud]").getAttribute("aria-pressed") !== "true";
  if (on && !voice()) return false;
  change({ aloud: on });
  last = "";
  if (!on) speech.cancel();
  return true;
}
