// The bench page: taps, keys and scans become facts; the state is painted; the heart beats.

import { alarm, answer, heard } from "./alarm.js";
import { onVoices, readStep, turn } from "./aloud.js";
import { stayAwake } from "./awake.js";
import { now } from "./clock.js";
import { onScan } from "./codes.js";
import { askDue, inTheWay, isOthers, keyOf, linesOf, offerHanding, ringingNow } from "./due.js";
import { acts, explain, look, onDeed, place } from "./deeds.js";
import { changed, takes } from "./guards.js";
import { beginView, marksOfPc, note, refresh, reload, state } from "./jaw.js";
import { onChange, send, status } from "./outbox.js";
import { $, data, person, say, setText, showStatus, startWorker, wallClock, words } from "./page.js";
import { cardElement, paint, paintClocks, phase, view } from "./paint.js";
import { onPedal } from "./pedal.js";
import { paintTiles, renew, scanned } from "./picks.js";
import { askPerson, onSignIn } from "./signin.js";
import { waiting } from "./store.js";

let ringing = [];
let fresh = [];

function draw() {
  if (document.body.dataset.at !== (state.now || state.ended)) view.part = "whole";
  const before = `${document.body.dataset.at} ${$("#main").textContent} ${view.part}`;
  paint(state);
  if (before !== `${document.body.dataset.at} ${$("#main").textContent} ${view.part}`) changed();
  status.marked = marksOfPc();
  showStatus(status);
  tick();
  explain();
  readAloud();
}

function readAloud() {
  readStep(document.body.dataset.at, cardElement(state.now));
}

// One way for finger, key and pedal.
function press(control) {
  if (!takes(control)) return;
  if (control.dataset.sextant) look(control.dataset.sextant);
  else if (control.dataset.place) place(control.dataset.place);
  else if (control.dataset.act === "heard") hear();
  else if (control.dataset.act === "aloud") {
    if (turn()) readAloud();
    else setText($("#said"), words.noVoice);
  } else if (control.dataset.act === "hand") offerHanding(fresh, tick);
  else acts[control.dataset.act]?.(control);
}

function hear() {
  answer(ringing);
  tick();
}

const CONTROL = "[data-act], [data-place], [data-sextant]";
document.addEventListener("click", (event) => {
  const control = event.target.closest(CONTROL);
  if (control && !control.closest("#signin, #hand")) press(control);
});
document.addEventListener("keydown", (event) => {
  const drawn = event.target.closest?.("g[role=button]");
  if (drawn && (event.key === "Enter" || event.key === " ")) {
    event.preventDefault();
    press(drawn);
  }
  // What must be read or answered is not left by Escape, nor by a scanner that types one.
  if (event.key === "Escape" && $("dialog[open][closedby=none]")) event.preventDefault();
});

onPedal(() => press($("#main")));
onScan(scanned);

function tick() {
  paintTiles();
  const running = paintClocks(state);
  stayAwake(running.length > 0 || Boolean(person() && state.now && !state.ended && !state.held));
  const card = data.table.cards.find((c) => c.step === state.now);
  const due = running.filter((c) => c.ends <= now() && (c.kind === "ceiling" || (card && !card.attended)));
  const own = due.map((c) => ({ code: data.code, case: data.case, step: c.step, title: data.steps[c.step].title, ends: c.ends }));
  const all = [...(isOthers(data.code) ? [] : own), ...ringingNow(data.code)];
  ringing = all.map(keyOf);
  const wet = phase(state) === "wet";
  // While resin is wet the clock itself says it, or a silent line; nothing rings, and nothing covers a control.
  fresh = wet ? [] : all.filter((one) => !heard(keyOf(one)));
  alarm(linesOf(fresh, data.zone).join(" · "), fresh.map((one) => one.code));
  banner(wet ? linesOf(ringingNow(data.code)).join(" · ") : wetIsNext(card) ? inTheWay(data.wetMs, data.code) : "");
}

function banner(text) {
  $("#banner").hidden = !text;
  setText($("#banner"), text);
}

function wetIsNext(card) {
  if (!card || card.wet || state.ended) return false;
  const later = data.table.cards.slice(data.table.cards.indexOf(card) + 1);
  const next = later.find((one) => Object.values(state.cells[one.step]).includes("open"));
  return Boolean(next && next.wet);
}

async function beat() {
  const answered = await refresh();
  status.online = answered.ok || answered.code === 401;
  status.waiting = await waiting();
  if (answered.fresh) {
    await reload();
    draw();
  }
  if (answered.ok) await renew(answered.body.shelf);
  if (answered.ok) data.waits = answered.body.waits || "";
  if (answered.ok) checked(answered.body.check || "");
  if (status.waiting) send();
  showStatus(status);
  if (answered.ok) await askDue();
}

// A seating check came meanwhile: offered once, where nothing is wet and nothing else is asked.
function checked(check) {
  if (check === data.check || phase(state) !== "dry" || $("dialog[open]")) return;
  data.check = check;
  $("#checked").showModal();
}

// Many answers may come while one is being read in: one more reading after it shows them all.
let reading = false;
let more = false;
onChange(async (facts) => {
  more ||= facts;
  if (reading) return;
  reading = true;
  try {
    while (more) {
      more = false;
      await reload();
    }
  } finally {
    reading = false;
  }
  draw();
});
addEventListener("online", beat);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState !== "visible") return;
  beat();
});

onDeed((fresh) => {
  draw();
  if (fresh) changed();
}, beat);
try {
  await reload();
  await note("opened");
} catch (error) {
  status.broken = String(error.name || error);
}
beginView();
draw();
onVoices(readAloud);
await beat();
setInterval(beat, 5000);
setInterval(tick, 1000);
tick();
onSignIn((how) => {
  if (how === "claimed") note("claimed").then(send);
  draw();
});
if (!person()) askPerson();
status.worker = await startWorker(false);
showStatus(status);
const check = $("a[href$='/seating']");
if (check) fetch(check.href).catch(() => null); // passes the worker, which keeps it with this page
document.body.dataset.loaded = "yes";
