// One chamber: the jaws of a load, worked together with single taps; every jaw gets its own fact.

import { alarm, answer, heard } from "./alarm.js";
import { stayAwake } from "./awake.js";
import { now } from "./clock.js";
import { clocks } from "./clocks.js";
import { onScan, readCode, take } from "./codes.js";
import { folded, makeFact } from "./facts.js";
import { addJaw, forget, kept, load, readLoad, saveLoad } from "./load.js";
import { fold } from "./fold.js";
import { changed, takes } from "./guards.js";
import { onChange, send, status, tellOthers } from "./outbox.js";
import { $, $$, counted, data, person, say, setText, showStatus, since, startWorker, wallClock, words } from "./page.js";
import { askPerson, onSignIn } from "./signin.js";
import { addFacts, waiting } from "./store.js";
import { nudge, offer, valuesIn } from "./values.js";

let shown = performance.now();
let ringing = [];
let busy = false;

// Where the load stands: every jaw at the same of its steps, or who is elsewhere.
function standing() {
  const steps = kept.map((jaw) => jaw.about.loads.findIndex((one) => one.step === jaw.state.now));
  const at = Math.max(-1, ...steps);
  return {
    at, others: kept.filter((_, i) => steps[i] !== at), done: kept.length > 0 && at < 0,
    dark: kept.some((jaw) => jaw.state.dark), begun: at > 0 || kept.some((jaw) => jaw.state.dark),
  };
}

const isOf = (jaw) => jaw.about.loads.find((one) => one.step === jaw.state.now);

function draw() {
  const { at, others, done, dark, begun } = standing();
  const first = kept.find((jaw) => isOf(jaw));
  const before = `${$("#main").textContent} ${kept.length}`;
  document.body.dataset.at = done ? "out" : first ? isOf(first).step : "empty";
  document.body.dataset.dark = dark ? "yes" : "no";
  drawJaws(others, begun);
  drawValues(done ? [] : kept.filter((jaw) => !others.includes(jaw)));
  const main = $("#main");
  main.dataset.act = done ? "fresh" : "confirm";
  main.disabled = !done && (!first || others.length > 0 || dark);
  setText($("[data-part=title]", main), done ? words.load.fresh : first ? isOf(first).title : words.load.empty);
  const count = counted(words.load.count, kept.length);
  setText($("[data-part=what]", main), dark ? words.load.dark : others.length ? words.load.others : kept.length ? count : "");
  setText($("#step"), done ? words.load.out : first ? isOf(first).words : words.load.scan);
  $("[data-act=dark]").hidden = dark || done || at < 1;
  $("[data-act=bright]").hidden = !dark;
  $("[data-act=undo]").hidden = !load.last.length;
  $("#find").hidden = done;
  if (before !== `${main.textContent} ${kept.length}`) changed();
  showStatus(status);
  tick();
}

function drawJaws(others, begun) {
  const list = $("#jaws");
  const rows = kept.map((jaw) => {
    const row = $(`[data-jaw="${jaw.code}"]`, list) || $("#row").content.firstElementChild.cloneNode(true);
    row.dataset.jaw = jaw.code;
    setText($(".code", row), jaw.about.spaced);
    setText($(".whose", row), jaw.about.whose);
    setText($(".stands", row), others.includes(jaw) ? say(words.load.stands, { step: jaw.about.titles[jaw.state.now] || words.load.ended }) : "");
    row.dataset.fits = others.includes(jaw) ? "no" : "yes";
    $("[data-act=out]", row).hidden = begun && !others.includes(jaw);
    return row;
  });
  if (rows.length !== list.children.length || rows.some((row, i) => row !== list.children[i])) list.replaceChildren(...rows);
}

// Jaws of two editions may not be asked the same: each value is asked once, and goes to the jaws that ask for it.
const keyOf = (one, value) => [one.step, value.name, value.unit].join(" ");

function drawValues(jaws) {
  const asked = {};
  for (const jaw of jaws) for (const value of isOf(jaw)?.values || []) asked[keyOf(isOf(jaw), value)] ??= value;
  offer($("#values"), load.id, asked);
}

function tell(text) {
  setText($("#said"), text);
}

// All jaws take it, or none does: a load that is half turned over would have two clocks.
async function together(kind, what) {
  if (!person()) return askPerson();
  const made = kept.map((jaw) => {
    const one = isOf(jaw) || {};
    const seq = Math.max(jaw.seq, jaw.kept.base.seq);
    const fact = makeFact({ case: jaw.about.case, code: jaw.code, tableHash: jaw.about.tableHash, round: jaw.state.round, seq, shown },
      kind, what(jaw, one));
    return { jaw, fact: fact.fact, folded: folded(fact) };
  });
  for (const { jaw, folded: event } of made) {
    const after = fold(jaw.about.table, [...jaw.events, event]);
    const refused = after.marks.find((mark) => mark.id === event.id && mark.grade === "refused");
    if (refused) return tell(say(words.load.refused, { code: jaw.about.spaced, why: words.marks[refused.why] || refused.why }));
  }
  await addFacts(made.map(({ fact, folded: event }) => ({ fact, folded: event })));
  status.waiting += made.length; // said at once, not only when the PC has answered
  await saveLoad({ last: kind === "undo" ? [] : made.map(({ jaw, fact }) => [jaw.code, fact.id]) });
  tell("");
  shown = performance.now();
  tellOthers();
  draw();
  send();
  return null;
}

const acts = {
  confirm: () => {
    const { values, wrong } = valuesIn($("#values"));
    if (wrong.length) return tell(say(words.mendFirst, { title: wrong[0].title }));
    return together("confirm", (jaw, one) => ({
      step: one.step, places: ["-"], outcome: one.outcome, picks: { ...(one.pick ? { [one.pick]: data.code } : {}), load: load.id },
      values: values.filter((value) => (one.values || []).some((own) => keyOf(one, own) === keyOf(one, value))),
    }));
  },
  dark: () => together("dark", () => ({ picks: { load: load.id } })),
  bright: () => together("bright", () => ({ picks: { load: load.id } })),
  undo: () => together("undo", (jaw) => ({ undo: (load.last.find(([code]) => code === jaw.code) || ["", ""])[1] })),
  less: (button) => nudge(button, -1),
  more: (button) => nudge(button, 1),
  out: async (button) => {
    await forget(button.closest("[data-jaw]").dataset.jaw);
    draw();
  },
  fresh: async () => {
    await saveLoad({ id: crypto.randomUUID(), jaws: [], last: [] });
    draw();
  },
  heard: () => {
    answer(ringing);
    tick();
  },
};

document.addEventListener("click", async (event) => {
  const control = event.target.closest("[data-act]");
  if (!control || control.closest("#signin") || !acts[control.dataset.act]) return;
  if (busy || !takes(control)) return;
  busy = true;
  try {
    await acts[control.dataset.act](control);
  } catch (error) {
    status.broken = String(error.name || error);
    showStatus(status);
  } finally {
    busy = false;
  }
});

async function scan(text, layouts) {
  const code = readCode(text, layouts);
  if (!code) return tell(words.badcode);
  if (code === data.code) return tell("");
  const why = await addJaw(code, () => standing().at);
  tell(why);
  if (!why) $("#code").value = "";
  draw();
  return null;
}

$("#find").addEventListener("submit", (event) => {
  event.preventDefault();
  take($("#code").value, { target: $("#code"), layouts: false });
});
onScan((text, { layouts }) => scan(text, layouts));

function tick() {
  const running = kept.flatMap((jaw) => clocks(jaw.about.table, jaw.state)
    .filter((clock) => clock.step === jaw.state.now && isOf(jaw)).map((clock) => ({ clock, jaw })));
  const floors = running.filter(({ clock }) => clock.kind === "floor");
  const last = floors.sort((a, b) => b.clock.ends - a.clock.ends)[0];
  const left = last ? Math.max(0, last.clock.ends - now()) : 0;
  const dark = document.body.dataset.dark === "yes";
  stayAwake(running.length > 0);
  $("#clock").hidden = !last;
  if (last) {
    const seconds = Math.ceil(left / 1000);
    $("#clock").dataset.ends = last.clock.ends;
    $("#clock").dataset.over = left ? "no" : "yes";
    setText($("#clock .clock-left"), dark ? words.load.stopped : `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`);
    setText($("#clock .clock-ends"), dark ? "" : `${left ? words.left : words.up} · ${say(words.until, { clock: wallClock(last.clock.ends, last.jaw.about.zone) })}`);
  }
  const due = running.filter(({ clock }) => clock.ends <= now() && !dark);
  ringing = due.map(({ clock, jaw }) => `${jaw.code}:${clock.step}:${clock.ends}`);
  const fresh = due.filter((_, i) => !heard(ringing[i]));
  const text = fresh.length ? say(words.load.rings, {
    step: isOf(fresh[0].jaw).title, n: fresh.length, clock: since(fresh[0].clock.ends, now(), fresh[0].jaw.about.zone),
  }) : "";
  alarm(text, fresh.map(({ jaw }) => jaw.code));
}

async function beat() {
  await readLoad(true);
  status.waiting = await waiting();
  if (status.waiting) await send();
  draw();
}

onChange(async () => {
  await readLoad();
  draw();
});
addEventListener("online", beat);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && beat());
onSignIn(() => draw());
await readLoad();
draw();
await beat();
setInterval(beat, 5000);
setInterval(tick, 1000);
if (!person()) askPerson();
for (const box of $$("#code")) box.focus();
status.worker = await startWorker(false);
showStatus(status);
document.body.dataset.loaded = "yes";
