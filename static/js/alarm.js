// Rings until somebody answers: sound, flash, vibration. What it rings for is handed in.

import { $, setText } from "./page.js";

let audio = null;
let timer = 0;

// Browsers let sound begin only with a tap; every tap makes sure of it.
function wakeSound() {
  try {
    audio ??= new AudioContext();
    if (audio.state === "suspended") audio.resume();
  } catch {
    audio = null;
  }
}

document.addEventListener("pointerdown", wakeSound, true);
document.addEventListener("keydown", wakeSound, true);

// Rings once, for whoever wants to hear it beforehand; false where this browser makes no sound.
export async function ringOnce() {
  wakeSound();
  await audio?.resume();
  beep();
  return audio?.state === "running";
}

function beep() {
  if (audio && audio.state === "running")
    for (const [at, pitch] of [[0, 880], [0.25, 660], [0.5, 880]]) {
      const tone = audio.createOscillator();
      const volume = audio.createGain();
      tone.frequency.value = pitch;
      volume.gain.setValueAtTime(0.0001, audio.currentTime + at);
      volume.gain.linearRampToValueAtTime(0.4, audio.currentTime + at + 0.02);
      volume.gain.linearRampToValueAtTime(0.0001, audio.currentTime + at + 0.2);
      tone.connect(volume).connect(audio.destination);
      tone.start(audio.currentTime + at);
      tone.stop(audio.currentTime + at + 0.22);
    }
  if (navigator.vibrate && navigator.userActivation?.hasBeenActive) navigator.vibrate([300, 150, 300]);
}

// Shows and rings what nobody has heard yet, for the jaws of these codes; without words it is silent.
export function alarm(text, codes) {
  $("#alarm").hidden = !text;
  $("#alarm").dataset.rings = codes.join(" ");
  setText($("#alarm span"), text);
  ring(Boolean(text));
}

function ring(on) {
  document.body.toggleAttribute("data-alarm", on);
  if (on && !timer) {
    beep();
    timer = setInterval(beep, 2000);
  } else if (!on && timer) {
    clearInterval(timer);
    timer = 0;
  }
}

const HEARD = "heard";

export function heard(key) {
  return (localStorage.getItem(HEARD) || "").split(" ").includes(key);
}

export function answer(keys) {
  const known = (localStorage.getItem(HEARD) || "").split(" ").filter(Boolean);
  localStorage.setItem(HEARD, [...new Set([...known, ...keys])].slice(-60).join(" "));
}
