// The first page: a code opens its jaw; what the PC says is due rings here, and without the PC what this tablet knows.

import { alarm, answer, heard } from "./alarm.js";
import { now } from "./clock.js";
import { clocks } from "./clocks.js";
import { onScan, readCode } from "./codes.js";
import { fold } from "./fold.js";
import { ask, onChange, send, status } from "./outbox.js";
import { $, data, setText, showStatus, startWorker, words } from "./page.js";
import { askDue, isOthers, keyOf, linesOf, offerHanding, ringingNow } from "./due.js";
import { offerRenewal, stepRuns } from "./renew.js";
import { byBadge } from "./signin.js";
import { bases, ofJaw, tidy, waiting } from "./store.js";

function open(text, layouts) {
  const code = readCode(text, layouts);
  if (code[0] === "P") {
    $("#code").value = ""; // who signs in by typing leaves no badge behind
    byBadge(code);
  } else if (code) location.href = ["A", "B", "0"].includes(code[0]) ? `/find?code=${code}` : `/bench/${code}`;
  else look(text);
}

// What is no code may be a pan or an order; only the PC knows those.
async function look(text) {
  setText($("#said"), words.looking);
  const found = await ask(`/find?code=${encodeURIComponent(text)}`);
  if (found.ok && found.body.to) location.href = found.body.to;
  else setText($("#said"), found.body.error || words.badcode);
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

// What concerns who is signed in, and the jaws that were opened on this tablet; without the PC only those.
let fresh = [];
function tick() {
  const here = running.filter(({ clock, base }) => clock.ends <= now() && !isOthers(base.code)).map(({ clock, base }) => ({
    code: base.code, case: base.case || "", step: clock.step, title: base.titles[clock.step], ends: clock.ends,
  }));
  const byKey = new Map([...here, ...(status.online ? ringingNow() : [])].map((one) => [keyOf(one), one]));
  ringing = [...byKey.keys()];
  fresh = [...byKey.values()].filter((one) => !heard(keyOf(one)));
  $("#alarm [data-act=hand]").hidden = !fresh.every((one) => one.case);
  alarm(linesOf(fresh, running.length ? running[0].base.zone : undefined).join(" · "), fresh.map((one) => one.code));
}

$("#alarm [data-act=heard]").addEventListener("click", () => {
  answer(ringing);
  tick();
});
$("#alarm [data-act=hand]").addEventListener("click", () => offerHanding(fresh, tick));

async function beat() {
  const answered = await ask("/people.json");
  status.online = answered.ok && Array.isArray(answered.body.people);
  if (status.online) data.people = answered.body.people;
  if (status.online) await askDue();
  status.waiting = await waiting();
  if (status.waiting) await send();
  showStatus(status);
  tick();
  await offerRenewal();
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
status.worker = await startWorker(!(await stepRuns()));
showStatus(status);
document.body.dataset.loaded = "yes";
