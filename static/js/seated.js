// What a jaw's seating check adds to its bench page: findings in turn, places that are watched, the way there and back.

import { acts, beside, look } from "./deeds.js";
import { changed } from "./guards.js";
import { state } from "./jaw.js";
import { $, $$, counted, data, say, setText } from "./page.js";
import { cardElement, paint, view } from "./paint.js";
import { choose } from "./picks.js";

const { watch, again, says, words } = data.seated;
const mains = Object.fromEntries(Object.keys(again).map((step) => [step, data.steps[step].main]));
const pressed = (root) => $$("[data-act=pick][aria-pressed=true]", root);
const findings = (root) => $$(".finding", root);
const isOpen = (finding) => !pressed(finding).length;

// Whoever wants a part made again puts the jaw on hold by the main action, and reads that on it beforehand.
function answered(card) {
  const step = card.dataset.step;
  const print = findings(card).some((one) => pressed(one)[0]?.dataset.value === says);
  if (again[step]) data.steps[step].main = print ? again[step] : mains[step];
  const at = findings(card).findIndex((one) => !one.hidden);
  const left = findings(card).filter(isOpen).length;
  const said = say(words.turn, { n: at + 1, count: findings(card).length });
  setText($(".turn b", card), `${said} · ${left ? counted(words.left, left) : words.all}`);
}

function show(card, at) {
  const all = findings(card);
  all.forEach((one, n) => { one.hidden = n !== (at + all.length) % all.length; });
  answered(card);
}

function firstOpen(card) {
  const at = findings(card).findIndex(isOpen);
  if (at >= 0) show(card, at);
  else answered(card);
}

acts.turn = (button) => {
  const card = button.closest("[data-step]");
  show(card, findings(card).findIndex((one) => !one.hidden) + Number(button.dataset.value));
};
acts.watch = (button) => {
  button.closest("[data-step]").toggleAttribute("data-mapped");
  look("whole");
};

// After the page itself has taken the tap: an answer may change what the main action says.
document.addEventListener("click", (event) => {
  const card = cardElement(state?.now);
  if (!card || !findings(card).length) return;
  if (event.target.closest("#main")) firstOpen(card);
  else if (event.target.closest(".finding [data-act=pick]")) {
    const before = $("#main").textContent;
    answered(card);
    paint(state);
    if ($("#main").textContent !== before) changed();
  }
});

// Places that are not asked there yet are said to be watched, in the same tap as the main action of the step.
const said = (step, outcome) => data.table.acts.find((act) => act.kind === "confirm" && act.step === step && act.outcome === outcome);
function stillToWatch(step, outcome, places) {
  const also = said(step, outcome)?.also || [];
  return places.filter((place) => also.some(([card]) => state.cells[card][place] !== "open"));
}

beside.first = (step, outcome) => {
  if (!watch[step] || outcome !== (mains[step] || data.steps[step].main).outcome) return [];
  return watch[step].map(([name, places]) => ["confirm", { step, outcome: name, places: stillToWatch(step, name, places) }])
    .filter(([, what]) => what.places.length);
};

// What one tap said is taken back by one tap: its facts bear the name of the last one (jaw.js).
beside.last = (log) => {
  const last = log[log.length - 1];
  const names = (watch[last?.step] || []).map(([name]) => name);
  let from = Math.max(0, log.length - 1);
  while (from > 0 && names.includes(log[from - 1].outcome) && log[from - 1].id.startsWith(`${last.id}-`)) from -= 1;
  return log.slice(from).reverse();
};

// Whoever looks at the check's own page finds here again what was picked, typed and looked at.
const KEY = `seated:${data.code}`;
const fields = (card) => $$("[data-value-name] input", card);
document.addEventListener("click", (event) => {
  const card = event.target.closest("a.seat") && cardElement(state?.now);
  if (!card) return;
  const picks = $$("[data-pick]", card).map((pick) => [pick.dataset.pick, pressed(pick)[0]?.dataset.value]);
  const values = fields(card).map((field) => [field.value, field.dataset.good]);
  const at = findings(card).findIndex((one) => !one.hidden);
  const kept = { step: state.now, round: state.round, part: view.part, picks, values, at };
  sessionStorage.setItem(KEY, JSON.stringify(kept));
});

function restore() {
  const kept = JSON.parse(sessionStorage.getItem(KEY) || "null");
  sessionStorage.removeItem(KEY);
  if (!kept || kept.step !== state.now || kept.round !== state.round) return;
  const card = cardElement(kept.step);
  for (const [name, value] of kept.picks) {
    const tile = $$(`[data-pick="${name}"] [data-act=pick]`, card).find((one) => one.dataset.value === value);
    if (tile) choose(tile);
  }
  fields(card).forEach((field, n) => { if (kept.values[n]) [field.value, field.dataset.good] = kept.values[n]; });
  if (findings(card).length) show(card, Math.max(0, kept.at));
  look(kept.part);
}

// What is written at a place is said of it too, on the steps that show it.
const SHOWN = { cut: [".cutsign"], fill: [".whysign"], answers: [".whysign", ".stopsign"] };
function describe(shows) {
  for (const place of $$("[data-place]")) {
    const signs = (SHOWN[shows] || []).flatMap((sign) => $$(`${sign}[id]`, place));
    if (signs.length) place.setAttribute("aria-describedby", signs.map((sign) => sign.id).join(" "));
    else place.removeAttribute("aria-describedby");
  }
}

for (const card of $$("[data-step]")) if (findings(card).length) firstOpen(card);
let step = null;
new MutationObserver(() => {
  if (document.body.dataset.at === step) return;
  if (step === null) restore();
  else for (const card of $$("[data-mapped][data-seating=answers]")) card.removeAttribute("data-mapped");
  step = document.body.dataset.at;
  describe(cardElement(step)?.dataset.seating);
  if (cardElement(step)?.querySelector(".finding")) paint(state);
}).observe(document.body, { attributeFilter: ["data-at"] });
