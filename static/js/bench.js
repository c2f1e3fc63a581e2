// The bench page: taps, keys and scans become facts; the state is painted; the heart beats.

import { answer, heard, ring, wakeSound } from "./alarm.js";
import { now } from "./clock.js";
import { onScan, readCode } from "./codes.js";
import { nextPlaces } from "./groups.js";
import { beginView, marksOfPc, note, refresh, reload, state, tap } from "./jaw.js";
import { ask, onChange, send, status } from "./outbox.js";
import { $, $$, data, person, say, setText, showStatus, startWorker, wallClock, words } from "./page.js";
import { cardElement, paint, paintClocks, phase, view } from "./paint.js";
import { askPerson } from "./signin.js";
import { waiting } from "./store.js";

const DEAD_AFTER_CHANGE = 600; // ms in which the main action takes no tap after the screen changed
const DEAD_AFTER_TAP = 400; // ms in which a second tap on the same control is dropped
const taps = new WeakMap();
let changedAt = 0;
let stated = null;
let ringing = [];

const show = (text, refused = true) => {
  const said = $("#said");
  said.dataset.kind = refused ? "refused" : "said";
  setText(said, text);
};
const open = (id) => $(id).showModal();
const pressed = (root) => $$("[aria-pressed=true]", root);

function changed() {
  changedAt = performance.now();
  document.body.dataset.ready = "no";
  setTimeout(() => {
    if (performance.now() - changedAt >= DEAD_AFTER_CHANGE - 1) document.body.dataset.ready = "yes";
  }, DEAD_AFTER_CHANGE);
}

function draw() {
  if (document.body.dataset.at !== (state.now || state.ended)) view.part = "whole";
  const before = `${document.body.dataset.at} ${$("#main").textContent} ${view.part}`;
  paint(state);
  if (before !== `${document.body.dataset.at} ${$("#main").textContent} ${view.part}`) changed();
  status.marked = marksOfPc();
  showStatus(status);
  tick();
  explain();
}

// Breaches wait until nothing is wet any more; then they are explained before anything else.
function explain() {
  const dialog = $("#reason-breach");
  const mark = phase(state) === "wet" ? null
    : state.marks.find((m) => !m.reason && (m.grade === "deviation" || m.grade === "stop"));
  if (!mark && dialog.open) dialog.close();
  if (!mark || dialog.open) return;
  dialog.dataset.mark = mark.id;
  setText($("[data-part=about]", dialog), say(words.explain, { what: words.marks[mark.why] }));
  dialog.showModal();
}

async function act(kind, what) {
  if (!person()) return askPerson(() => draw());
  const wet = phase(state) === "wet";
  const done = await tap(kind, stated ? { ...what, stated: stated.at, picks: { ...what.picks, reason: stated.reason } } : what, !wet);
  if (done.refused) {
    show(say(words.refused, { why: words.marks[done.refused] || done.refused }));
    return done;
  }
  stated = null;
  show(done.marked.length ? say(words.taken, { why: done.marked.map((m) => words.marks[m.why]).join(" ") }) : "", true);
  beginView();
  draw();
  changed();
  send();
  return done;
}

function fromCard() {
  const card = cardElement(state.now);
  const picks = {};
  for (const [name, title] of data.steps[state.now].picks) {
    const chosen = pressed($(`[data-pick="${name}"]`, card))[0];
    if (!chosen) return { missing: title };
    picks[name] = chosen.dataset.value;
  }
  const values = data.steps[state.now].values.map(([name, , , unit]) => ({
    name, value: $(`[data-value-name="${name}"] output`, card).textContent, unit,
  }));
  return { picks, values };
}

async function confirm(outcome) {
  const step = state.now;
  const more = fromCard();
  if (more.missing && phase(state) !== "wet") return show(say(words.pickFirst, { title: more.missing }));
  const places = nextPlaces(data.table, state, view.part);
  const done = await act("confirm", { step, places, outcome, values: more.values || [], picks: more.picks || {} });
  if (done && !done.refused && view.part !== "whole" && !nextPlaces(data.table, state, view.part).some((p) => places.includes(p))) {
    view.part = "whole";
    draw();
  }
  return done;
}

function place(name) {
  const card = cardElement(state.now);
  const tool = card && pressed($(".tools", card))[0];
  if (!tool || !(name in (state.cells[state.now] || {}))) return null;
  return act("confirm", { step: state.now, places: [name], outcome: tool.dataset.outcome });
}

function look(part) {
  view.part = part;
  beginView();
  draw();
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
  scrap: (reason) => askPerson(() => beat(), (id, pin) => ask(`/jaw/${data.code}/scrap`, {
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

function step(button, direction) {
  const value = button.closest("[data-value-name]");
  const [, , size] = data.steps[state.now].values.find(([name]) => name === value.dataset.valueName);
  const output = $("output", value);
  const decimals = (size.split(".")[1] || "").length;
  setText(output, (Number(output.textContent) + direction * Number(size)).toFixed(decimals));
}

const acts = {
  confirm: () => state.now && confirm(data.steps[state.now].main.outcome),
  resume: () => act("resume", {}),
  say: (button) => confirm(button.dataset.outcome),
  undo: () => (state.log.length ? act("undo", { undo: state.log[state.log.length - 1].id }) : show(words.marks.undo)),
  hold: () => open("#reason-hold"),
  sendback: () => open("#back"),
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
  pick: choose,
  less: (button) => step(button, -1),
  more: (button) => step(button, 1),
  whole: () => look("whole"),
  areas: () => look("areas"),
  heard: () => {
    answer(ringing);
    tick();
  },
};

function choose(button) {
  for (const other of $$(`[data-act=${button.dataset.act}]`, button.parentElement)) other.setAttribute("aria-pressed", String(other === button));
}

// One way for finger, key and pedal: a control takes one tap, and the main action none while the screen is fresh.
function press(control) {
  const at = performance.now();
  if (at - (taps.get(control) ?? -1e9) < DEAD_AFTER_TAP) return;
  if (control.id === "main" && at - changedAt < DEAD_AFTER_CHANGE) return;
  taps.set(control, at);
  if (control.dataset.sextant) look(control.dataset.sextant);
  else if (control.dataset.place) place(control.dataset.place);
  else acts[control.dataset.act]?.(control);
}

const CONTROL = "[data-act], [data-place], [data-sextant]";
document.addEventListener("click", (event) => {
  const control = event.target.closest(CONTROL);
  if (control && !control.closest("#signin")) press(control);
});
document.addEventListener("keydown", (event) => {
  const drawn = event.target.closest?.("g[role=button]");
  if (drawn && (event.key === "Enter" || event.key === " ")) {
    event.preventDefault();
    press(drawn);
  }
  if (event.key === "PageDown" && !$("dialog[open]")) {
    event.preventDefault();
    if (!event.repeat) press($("#main"));
  }
});
document.addEventListener("pointerdown", wakeSound, true);
document.addEventListener("keydown", wakeSound, true);

onScan((text) => {
  const code = readCode(text);
  const tile = code && $$("[data-act=pick]", cardElement(state.now) || document).find((t) => t.dataset.value === code);
  if (tile) choose(tile);
  else if (code && code !== data.code && "12".includes(code[0])) location.href = `/bench/${code}`;
  else if (code !== data.code) {
    setText($("#stop h2"), words.wrongLabel);
    setText($("#stop p"), say(words.wrongLabelDo, { code: code || text }));
    if (!$("#stop").open) open("#stop");
  }
});

function tick() {
  const running = paintClocks(state);
  const card = data.table.cards.find((c) => c.step === state.now);
  const due = running.filter((c) => c.ends <= now() && (c.kind === "ceiling" || (card && !card.attended)));
  ringing = due.map((c) => `${data.code}:${c.step}:${c.ends}`);
  // While resin is wet the clock itself says it; nothing rings, and nothing covers a control.
  const fresh = phase(state) === "wet" ? [] : due.filter((_, i) => !heard(ringing[i]));
  $("#alarm").hidden = !fresh.length;
  setText($("#alarm span"), fresh.map((c) => say(words.rings, { code: data.code, step: data.steps[c.step].title, clock: wallClock(c.ends, data.zone) })).join(" · "));
  ring(fresh.length > 0);
}

let lock = null;
async function stayAwake() {
  if (!navigator.wakeLock || document.visibilityState !== "visible") return;
  lock = await navigator.wakeLock.request("screen").catch(() => null);
  document.body.toggleAttribute("data-awake", Boolean(lock));
}

async function beat() {
  const answered = await refresh();
  status.online = answered.ok || answered.code === 401;
  status.foreign = answered.code === 401;
  status.waiting = await waiting();
  if (answered.fresh) {
    await reload();
    draw();
  }
  if (status.waiting) send();
  showStatus(status);
}

onChange(async (facts) => {
  if (facts) await reload();
  draw();
});
addEventListener("online", beat);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState !== "visible") return;
  stayAwake();
  beat();
});

try {
  await reload();
  await note("opened");
} catch (error) {
  status.broken = String(error.name || error);
}
beginView();
draw();
await beat();
setInterval(beat, 5000);
setInterval(tick, 1000);
tick();
stayAwake();
if (!person()) askPerson(() => draw());
status.worker = await startWorker(false);
showStatus(status);
document.body.dataset.loaded = "yes";
