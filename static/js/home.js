// The first page: a code opens its jaw; clocks of jaws opened on this tablet ring here too.

import { answer, heard, ring, wakeSound } from "./alarm.js";
import { now } from "./clock.js";
import { clocks } from "./clocks.js";
import { onScan, readCode } from "./codes.js";
import { fold } from "./fold.js";
import { ask, onChange, send, status } from "./outbox.js";
import { $, data, say, setText, showStatus, startWorker, wallClock, words } from "./page.js";
import "./signin.js";
import { bases, ofJaw, tidy, waiting } from "./store.js";

function open(text, layouts) {
  const code = readCode(text, layouts);
  if (code) location.href = ["A", "B"].includes(code[0]) ? `/find?code=${code}` : `/bench/${code}`;
  else setText($("#said"), words.badcode);
}

$("#find").addEventListener("submit", (event) => {
  event.preventDefault();
  open($("#code").value, false);
});
onScan((text) => open(text, true));

let ringing = [];

// Folding every jaw of this tablet is the dear part; it is done when something changed, not every second.
let running = [];
async function readJaws() {
  running = [];
  for (const base of await bases()) {
    if (!base.table) continue;
    const { sent, outbox } = await ofJaw(base.code);
    const state = fold(base.table, [...base.events, ...[...sent, ...outbox].map((item) => item.folded)]);
    for (const clock of clocks(base.table, state)) running.push({ clock, base });
  }
}

function tick() {
  const due = running.filter(({ clock }) => clock.ends <= now());
  ringing = due.map(({ clock, base }) => `${base.code}:${clock.step}:${clock.ends}`);
  const fresh = due.filter((_, i) => !heard(ringing[i]));
  $("#alarm").hidden = !fresh.length;
  const lines = fresh.map(({ clock, base }) =>
    say(words.rings, { code: base.code, step: base.titles[clock.step], clock: wallClock(clock.ends, base.zone) }));
  setText($("#alarm span"), lines.join(" · "));
  ring(fresh.length > 0);
}

$("#alarm button").addEventListener("click", () => {
  answer(ringing);
  tick();
});
document.addEventListener("pointerdown", wakeSound, true);
document.addEventListener("keydown", wakeSound, true);

async function beat() {
  const answered = await ask("/people.json");
  status.online = answered.ok && Array.isArray(answered.body.people);
  if (status.online) data.people = answered.body.people;
  status.waiting = await waiting();
  if (status.waiting) await send();
  showStatus(status);
}

onChange(async () => {
  await readJaws();
  showStatus(status);
});
addEventListener("online", beat);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && beat());
setInterval(beat, 5000);
setInterval(tick, 1000);
await tidy(Date.now());
await readJaws();
await beat();
tick();
status.worker = await startWorker(true);
showStatus(status);
document.body.dataset.loaded = "yes";
