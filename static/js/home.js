// The first page: a code opens its jaw; what the PC says is due rings here, and without the PC what this tablet knows.

import { alarm, answer, heard } from "./alarm.js";
import { jawsHere } from "./bases.js";
import { now } from "./clock.js";
import { clocks } from "./clocks.js";
import { onScan, readCode, take } from "./codes.js";
import { ask, onChange, send, status } from "./outbox.js";
import { $, data, say, setText, showStatus, startWorker, words } from "./page.js";
import { askDue, isOthers, keyOf, linesOf, offerHanding, ringingNow } from "./due.js";
import { readiness } from "./ready.js";
import { offerRenewal, stepRuns } from "./renew.js";
import "./signin.js";
import { tidy, waiting } from "./store.js";

// A badge signs in before this is asked; a jaw's page is at hand without the PC too.
function open(text, layouts) {
  const code = readCode(text, layouts);
  if ("12".includes(code[0] || "-")) location.href = `/bench/${code}`;
  else if ("AB0".includes(code[0] || "-")) location.href = `/find?code=${code}`;
  else look(code || text, code ? "" : words.looking);
}

// A chamber has a page of its own; what is no code may be a pan or an order. Only the PC knows those.
async function look(text, meanwhile) {
  setText($("#said"), meanwhile);
  const found = await ask(`/find?code=${encodeURIComponent(text)}`);
  if (found.ok && found.body.to) location.href = found.body.to;
  else setText($("#said"), found.body.error || words.badcode);
}

$("#find").addEventListener("submit", (event) => {
  event.preventDefault();
  take($("#code").value, { target: $("#code"), layouts: false });
});
onScan((text, { layouts }) => open(text, layouts));

let ringing = [];

// Folding every jaw of this tablet is the dear part; it is done when something changed, not every second.
let running = [];
let inHand = [];
async function readJaws() {
  const here = await jawsHere();
  running = here.flatMap(({ base, state }) => clocks(base.table, state).map((clock) => ({ clock, base })));
  inHand = here.filter(({ state }) => !state.ended).map(({ base }) => base.code);
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
  $("#alarm [data-act=hand]").hidden = data.display || !fresh.every((one) => one.case);
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
// Ready offline is said only when it is true; else the first thing that is missing.
const MUST = ["secure", "worker", "files", "jaws"];
async function tellReady() {
  const found = await readiness(inHand);
  const why = MUST.find((name) => !found[name]);
  $("#ready").dataset.ready = found.ready ? "yes" : "no";
  const text = why ? say(words.ready.not, { why: say(words.ready[why].no, { code: found.lost[0] }) }) : words.ready.is;
  setText($("#ready"), why || found.kept ? text : `${text} ${words.ready.butCleared}`);
}

addEventListener("online", beat);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState !== "visible") return;
  beat();
  tellReady();
});
setInterval(beat, 5000);
setInterval(tellReady, 60000);
setInterval(tick, 1000);
await tidy(Date.now());
await readJaws();
await beat();
tick();
status.worker = await startWorker(!(await stepRuns()));
showStatus(status);
await tellReady();
document.body.dataset.loaded = "yes";
