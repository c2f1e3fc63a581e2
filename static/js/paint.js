// Shows a state: only by data-state, hidden and texts of elements that are there from the start.

import { now } from "./clock.js";
import { clocks } from "./clocks.js";
import { cardOf, nextPlaces, parts } from "./groups.js";
import { $, $$, counted, data, say, setText, wallClock, words } from "./page.js";

const SIGNS = { open: "○", done: "✓", wait: "!", off: "", none: "" };
export const view = { part: "whole" };
// What the page calls its places before any state is painted over it.
const named = new Map($$("[data-place]").map((one) => [one.dataset.place, one.ariaLabel || one.textContent.trim()]));
const called = (place) => named.get(place) || words.groups[place] || place;

export function cardElement(step) {
  return $$("[data-step]").find((card) => card.dataset.step === step) || null;
}

export function phase(state) {
  if (state.ended) return "ended";
  const card = cardOf(data.table, state.now);
  if (card && card.wet) return "wet";
  return state.lit ? "lit" : "dry";
}

export function paint(state) {
  document.body.dataset.phase = phase(state);
  document.body.dataset.held = state.held ? "yes" : "no";
  const step = state.ended ? "" : state.now; // a scrapped jaw still stands at a step, and asks for nothing any more
  document.body.dataset.at = step || state.ended;
  for (const card of $$("[data-step]")) card.hidden = card.dataset.step !== step;
  const mapped = Boolean(cardElement(step)?.hasAttribute("data-mapped"));
  if (!mapped) view.part = "whole";
  document.body.dataset.view = view.part;
  document.body.dataset.mapped = mapped ? "yes" : "no";
  paintEnd(state);
  if (mapped) paintMap(state);
  paintMain(state);
  paintOthers(state);
  for (const button of $$("#back [data-act=back-to]"))
    button.hidden = !data.table.acts.some((act) => act.kind === "sendback" && act.step === button.dataset.value)
      || order(button.dataset.value) > order(state.now);
  paintClocks(state);
}

// What leads back is not offered once light has been: a tap on it would have to be refused, also while resin is wet.
function paintOthers(state) {
  const back = data.table.acts.filter((act) => act.kind === "confirm" && act.step === state.now && act.reset.length);
  const card = cardElement(state.now);
  for (const button of card ? $$("[data-act=say]", card) : [])
    button.hidden = Boolean(state.lit) && back.some((act) => act.outcome === button.dataset.outcome);
}

const order = (step) => data.table.cards.findIndex((card) => card.step === step);

function paintEnd(state) {
  $("#ended").hidden = !state.ended;
  setText($("#ended [data-part=title]"), state.ended === "scrap" ? words.scrapped : words.through);
  $("#held").hidden = !state.held;
  setText($("#held"), state.held ? words.held : "");
}

function paintMap(state) {
  const cells = state.cells[state.now] || {};
  for (const element of $$("[data-place]")) {
    const place = element.dataset.place;
    const cell = place in cells ? cells[place] : "none";
    element.dataset.state = cell;
    element.setAttribute("aria-disabled", String(cell === "none"));
    element.setAttribute("tabindex", cell === "none" ? "-1" : "0");
    element.setAttribute("aria-label", [called(place), words.cells[cell]].filter(Boolean).join(", "));
    setText($(".sign", element), SIGNS[cell]);
  }
  const counted = parts(data.table, state);
  for (const target of $$("[data-sextant]")) {
    const part = counted[target.dataset.sextant] || { count: 0, state: "none", wait: 0 };
    target.dataset.state = part.state;
    setText($(".count", target), `${SIGNS[part.state]} ${part.wait || part.count || ""}`.trim());
    target.setAttribute("aria-label", `${called(target.dataset.sextant)}, ${many(part.count)} ${SIGNS[part.state]}`.trim());
  }
  for (const band of $$("[data-band]")) band.dataset.state = (counted[band.dataset.band] || { state: "none" }).state;
  $("#whole").hidden = view.part !== "whole";
  for (const part of $$("[data-view-of]")) part.hidden = part.dataset.viewOf !== view.part;
  $(".map-back").hidden = view.part === "whole";
  $(".areas-open").hidden = !$$(".areas [data-place]").some((area) => area.dataset.state !== "none");
}

const many = (n) => counted(words.placesCount, n);

function groupWords(state, places) {
  const step = data.steps[state.now];
  const names = places.map(called).join(", ");
  const group = new Map(data.table.groups);
  const covered = step.single.filter((place) => places.includes(group.get(place)));
  return covered.length ? `${names} · ${many(covered.length)}` : names;
}

function paintMain(state) {
  const main = $("#main");
  let title = words.ended;
  let what = "";
  if (state.held && !state.ended) title = words.resume;
  else if (state.now && !state.ended) {
    title = data.steps[state.now].main.title;
    what = groupWords(state, nextPlaces(data.table, state, view.part));
  }
  main.dataset.act = state.held ? "resume" : "confirm";
  main.disabled = Boolean(state.ended);
  setText($("[data-part=title]", main), title);
  setText($("[data-part=what]", main), what);
}

export function paintClocks(state) {
  const at = now();
  const running = clocks(data.table, state);
  for (const element of $$("[data-clock]")) {
    const [kind, since, step] = element.dataset.clock.split(":");
    const clock = running.find((c) => c.kind === kind && c.since === since && c.step === step);
    element.hidden = !clock;
    if (!clock) continue;
    const left = clock.ends - at;
    element.dataset.over = left <= 0 ? "yes" : "no";
    element.dataset.ends = clock.ends;
    setText($(".clock-left", element), span(Math.abs(left)));
    const ended = kind === "floor" ? words.up : words.over;
    const template = left > 0 ? `${words.left}, ${words.until}` : `${ended}, ${words.since}`;
    setText($(".clock-ends", element), say(template, { clock: wallClock(clock.ends, data.zone, true) }));
  }
  document.body.dataset.clocks = running.length ? "yes" : "no";
  return running;
}

function span(ms) {
  const seconds = Math.ceil(ms / 1000);
  const two = (n) => String(n).padStart(2, "0");
  const hours = Math.floor(seconds / 3600);
  return `${hours ? `${hours}:` : ""}${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)}`;
}
