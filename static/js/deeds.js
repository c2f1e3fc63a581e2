// What a control does: facts are made, dialogs opened, another part of the arch is looked at.

import { now } from "./clock.js";
import { nextPlaces } from "./groups.js";
import { beginView, state, tap } from "./jaw.js";
import { ask, send, status } from "./outbox.js";
import { $, $$, data, person, say, setText, wallClock, words } from "./page.js";
import { cardElement, phase, view } from "./paint.js";
import { choose, paintTiles, take, tell as show } from "./picks.js";
import { askPerson } from "./signin.js";
import { ofJaw } from "./store.js";
import { lastGood, nudge, valuesIn } from "./values.js";

// What a seating check adds to a tap (seated.js): facts before its own, entries that are taken back together.
export const beside = { first: () => [], last: (log) => log.slice(-1) };

let stated = null;
let drawn = () => {};
let whenScrapped = () => {};

// The page says how it is drawn anew, and what follows when the PC scrapped the jaw.
export function onDeed(draw, scrapped) {
  drawn = draw;
  whenScrapped = scrapped;
}

const open = (id) => $(id).showModal();
const GRADES = ["deviation", "stop"];
const pressed = (root) => $$("[aria-pressed=true]", root);

// Breaches wait until nothing is wet any more; then they are explained before anything else.
export async function explain() {
  const dialog = $("#reason-breach");
  const own = () => (phase(state) === "wet" ? null : state.marks.find((m) => !m.reason && GRADES.includes(m.grade)));
  const ofPc = own() ? null : await ofPcAlone().catch(() => null);
  const mark = own() || (phase(state) === "wet" ? null : ofPc);
  if (!mark && dialog.open) dialog.close();
  if (!mark || dialog.open) return;
  dialog.dataset.mark = mark.id;
  setText($("[data-part=about]", dialog), say(words.explain, { what: words.marks[mark.why] }));
  dialog.showModal();
}

// Some breaches only the PC can see: a picked lot had been blocked meanwhile. They are explained like the others; but
// for what somebody did who was gone no colleague has a reason: a supervisor reads it.
async function ofPcAlone() {
  if (!status.marked) return null;
  const { base, sent, outbox } = await ofJaw(data.code);
  const stored = [...base.events, ...sent.map((item) => ({ ...item.folded, marks: item.marks }))];
  const answered = new Set([...stored, ...outbox.map((item) => item.folded)].filter((e) => e.kind === "reason").map((e) => e.allow));
  for (const { id, marks } of stored) {
    const mark = marks.find(([why, grade]) => GRADES.includes(grade) && why !== "gone" && !state.marks.some((m) => m.id === id && m.why === why));
    if (mark && !answered.has(id) && state.log.some((event) => event.id === id)) return { id, why: mark[0] };
  }
  return null;
}

// One after the other: a tap is folded onto what the one before it left.
let before = Promise.resolve();
export function act(kind, what, first = []) {
  const done = before.then(() => deed([...first, [kind, what]]));
  before = done.catch(() => null);
  return done;
}

async function deed(facts) {
  if (!person()) return askPerson();
  const wet = phase(state) === "wet";
  const late = (what) => (stated ? { ...what, stated: stated.at, picks: { ...what.picks, reason: stated.reason } } : what);
  const done = await tap(facts.map(([kind, what]) => [kind, late(what)]), !wet);
  if (done.refused) {
    show(say(words.refused, { why: words.marks[done.refused] || done.refused }));
    return done;
  }
  stated = null;
  show(done.marked.length ? say(words.taken, { why: done.marked.map((m) => words.marks[m.why]).join(" ") }) : "", true);
  beginView();
  drawn(true);
  send();
  return done;
}

function fromCard() {
  const card = cardElement(state.now);
  const picks = {};
  let missing = "";
  for (const [name, title] of data.steps[state.now].picks) {
    const chosen = pressed($(`[data-pick="${name}"]`, card))[0];
    if (chosen) picks[name] = chosen.dataset.value;
    else missing ||= title;
  }
  return { picks, missing, ...valuesIn(card) };
}

async function confirm(outcome) {
  const step = state.now;
  paintTiles();
  const more = fromCard();
  // Who puts the jaw on hold because something is missing cannot pick it first.
  const holds = data.steps[step].holds.includes(outcome);
  if (!holds && phase(state) !== "wet") {
    if (more.missing) return show(say(words.pickFirst, { title: more.missing }));
    if (more.wrong.length) return show(say(words.mendFirst, { title: more.wrong[0].title }));
  }
  const places = nextPlaces(data.table, state, view.part);
  const done = await act("confirm", { step, places, outcome, values: more.values, picks: more.picks }, beside.first(step, outcome));
  if (done && !done.refused && more.wrong.length) {
    const instead = more.wrong.map(({ box, title }) => say(words.storedInstead, { title, value: lastGood(box) }));
    show([$("#said").textContent, ...instead].filter(Boolean).join(" "));
  }
  if (done && !done.refused && view.part !== "whole" && !nextPlaces(data.table, state, view.part).some((p) => places.includes(p))) {
    view.part = "whole";
    drawn(false);
  }
  return done;
}

export function place(name) {
  const card = cardElement(state.now);
  const tool = card && pressed($(".tools", card))[0];
  if (!tool || !(name in (state.cells[state.now] || {}))) return null;
  return act("confirm", { step: state.now, places: [name], outcome: tool.dataset.outcome });
}

export function look(part) {
  view.part = part;
  beginView();
  drawn(false);
}

async function undo() {
  const undone = beside.last(state.log).map(({ id }) => ["undo", { undo: id }]);
  if (!undone.length) return show(words.marks.undo);
  const done = await act(...undone.pop(), undone);
  if (undone.length && done && !done.refused) show(data.seated.words.back, false);
  return done;
}

let goingBack = "";
const reasons = {
  hold: (reason) => act("hold", { picks: { reason } }),
  "send-back": (reason) => act("sendback", { step: goingBack, picks: { reason } }),
  stated: (reason) => {
    stated = { at: stateAt, reason };
    setText($("#main [data-part=what]"), wallClock(stateAt, data.zone));
  },
  breach: (reason) => act("reason", { allow: $("#reason-breach").dataset.mark, outcome: reason }),
  scrap: (reason) => askPerson(() => whenScrapped(), (id, pin) => ask(`/jaw/${data.code}/scrap`, {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: "application/json" },
    body: JSON.stringify({ person: id, pin, reason }),
  })),
};

let stateAt = 0;
function lateBy(minutes) {
  const last = state.log.length ? state.log[state.log.length - 1].t : 0;
  stateAt = Math.min(now(), Math.max(last, stateAt - minutes * 60000));
  const ago = Math.round((now() - stateAt) / 60000);
  setText($("#late [data-part=when]"), say(ago ? words.late : words.now, { minutes: ago, clock: wallClock(stateAt, data.zone) }));
}

export const acts = {
  confirm: () => state.now && confirm(data.steps[state.now].main.outcome),
  resume: () => (data.waits ? show(data.waits) : act("resume", {})),
  say: (button) => confirm(button.dataset.outcome),
  undo,
  hold: () => open("#reason-hold"),
  sendback: () => (state.lit ? show(say(words.refused, { why: words.marks.light })) : open("#back")),
  scrap: () => open("#reason-scrap"),
  late: () => {
    stateAt = now();
    lateBy(0);
    open("#late");
  },
  earlier: (button) => lateBy(Number(button.dataset.value)),
  state: () => {
    $("#late").close();
    open("#reason-stated");
  },
  "back-to": (button) => {
    goingBack = button.dataset.value;
    $("#back").close();
    open("#reason-send-back");
  },
  reason: (button) => {
    const dialog = button.closest("dialog");
    dialog.close();
    reasons[dialog.dataset.asked](button.dataset.value);
  },
  close: (button) => button.closest("dialog").close(),
  caution: (button) => {
    setText($("#caution h2"), button.textContent);
    setText($("#caution p"), button.nextElementSibling.textContent);
    open("#caution");
  },
  tool: choose,
  pick: take,
  less: (button) => nudge(button, -1),
  more: (button) => nudge(button, 1),
  whole: () => look("whole"),
  areas: () => look("areas"),
};
