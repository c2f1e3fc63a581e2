// What runs by itself in the lab: whom an alarm concerns, when the next safe moment is, handing to a colleague.

import { answer } from "./alarm.js";
import { now } from "./clock.js";
import { folded, makeFact } from "./facts.js";
import { ask, send, status, tellOthers } from "./outbox.js";
import { $, $$, person, say, setText, since, wallClock, words } from "./page.js";
import { addFacts } from "./store.js";

let known = { due: [], all: 0, zone: "UTC" };

export async function askDue() {
  const answered = await ask("/due.json");
  if (!answered.ok || !Array.isArray(answered.body.due)) return;
  known = answered.body;
}

export const keyOf = (one) => `${one.code}:${one.step}:${one.ends}`;

// An alarm concerns who has the jaw in hand; a page where nobody signed in, as the PC's; and everybody after a while.
export function ringingNow(but = "", me = person()) {
  return known.due.filter((one) => one.code !== but && one.ends <= now()
    && (!me || !one.charge || one.charge === me.id || now() - one.ends >= known.all));
}

// Whether the alarm of this jaw was handed to somebody else.
export function isOthers(code) {
  const me = person();
  const one = known.due.find((found) => found.code === code);
  return Boolean(me && one && one.handed && one.charge !== me.id && now() - one.ends < known.all);
}

const MOST = 2;
export function linesOf(ones, zone = known.zone) {
  const lines = ones.slice(0, MOST).map((one) => say(words.rings, { code: one.code, step: one.title, clock: since(one.ends, now(), zone) }));
  return ones.length > MOST ? [...lines, say(words.andMore, { n: ones.length - MOST })] : lines;
}

// What of mine falls due within the next `ms`, and the first moment from which as long a time is free of it.
export function inTheWay(ms, but = "") {
  const me = person();
  const mine = known.due.filter((one) => one.code !== but && (!one.charge || !me || one.charge === me.id));
  const first = mine.find((one) => one.ends <= now() + ms);
  if (!first) return "";
  let safe = now();
  for (const one of mine) if (one.ends <= safe + ms) safe = Math.max(safe, one.ends + 60000);
  return say(words.inTheWay, {
    code: first.code, step: first.title, clock: wallClock(first.ends, known.zone), safe: wallClock(safe, known.zone),
    minutes: Math.ceil(ms / 60000),
  });
}

// Hands what rings to a colleague: it goes on ringing there, and is silent here.
export function offerHanding(ones, done) {
  const dialog = $("#hand");
  dialog.ones = ones;
  dialog.handed = done;
  for (const tile of $$("[data-act=hand-to]", dialog)) tile.hidden = Boolean(person()) && tile.dataset.value === person().id;
  if (!dialog.open) dialog.showModal();
}

$("#hand")?.addEventListener("click", async (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  event.stopPropagation();
  const dialog = $("#hand");
  dialog.close();
  if (button.dataset.act !== "hand-to") return;
  const made = dialog.ones.map((one) => makeFact(
    { case: one.case, code: one.code, tableHash: "", round: 0, seq: 0, shown: performance.now() },
    "hand", { picks: { to: button.dataset.value } }));
  await addFacts(made.map((one) => ({ fact: one.fact, folded: folded(one) })));
  status.waiting += made.length;
  answer(dialog.ones.map(keyOf));
  for (const one of dialog.ones) Object.assign(one, { charge: button.dataset.value, handed: true });
  setText($("#said"), say(words.handed, { name: button.textContent.trim() }));
  tellOthers();
  dialog.handed();
  send();
});
