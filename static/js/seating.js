// A jaw's seating check: a tooth or connector that is picked is marked everywhere, its numbers stand below the map, and
// the picture in three dimensions, once it is there, turns to it.

import { $, $$, say, setText, startWorker } from "./page.js";

const kept = $("#seat-data");
const { words, solid } = kept ? JSON.parse(kept.textContent) : {};
let viewer = null;
let picked = "";

const titleOf = (cell) => cell.firstChild?.textContent.trim() || "";

// The row of the table in a sentence: its numbers are there already, in the words of the page.
function tell(place) {
  const row = $(`tr[data-row="${place}"]`);
  const line = $("#picked");
  line.replaceChildren(Object.assign(document.createElement("b"), { textContent: solid.words[place] || place }));
  if (!row) return;
  const heads = $$("thead th", row.closest("table"));
  const parts = [...row.cells].slice(1).map((cell, at) => {
    const unit = $("small", heads[at + 1])?.textContent || "";
    return [titleOf(heads[at + 1]), titleOf(cell), unit];
  }).filter(([, text]) => text);
  line.append(document.createElement("br"), parts.map((words) => words.join(" ").trim()).join(" · "));
}

function pick(place) {
  picked = place;
  for (const spot of $$(".spot")) spot.setAttribute("aria-pressed", String(spot.dataset.spot === place));
  for (const cross of $$("[data-stop]")) cross.toggleAttribute("data-picked", cross.dataset.stop === place);
  for (const row of $$("tr[data-row]")) row.toggleAttribute("data-picked", row.dataset.row === place);
  tell(place);
  if (!viewer) return;
  viewer.look(place);
  said(say(words.at, { place: solid.words[place] || place }));
}

const room = $("#solid");
const said = (text) => setText($("[data-part=said]", room), text);

function stop(text) {
  viewer?.end();
  viewer = null;
  const canvas = $(".solid-stage canvas");
  canvas.replaceWith(canvas.cloneNode()); // one that was taken away never draws again
  room.dataset.solid = "failed";
  $(".solid-stage").hidden = $(".solid-tools").hidden = true;
  const still = $(".solid-still");
  if (still) still.hidden = false;
  $("[data-do=solid]").hidden = false;
  said(text);
}

function show() {
  const still = $(".solid-still");
  if (still) still.hidden = true;
  $(".solid-stage").hidden = $(".solid-tools").hidden = false;
  $("[data-do=solid]").hidden = true;
  room.dataset.solid = "open";
}

async function open() {
  room.dataset.solid = "loading";
  said(words.loading);
  try {
    const { Viewer } = await import("./solid.js");
    const data = await fetch(solid.file);
    if (!data.ok) throw new Error(`${solid.file}: ${data.status}`);
    show();
    viewer = await Viewer.of($(".solid-stage canvas"), await data.arrayBuffer(), solid, () => stop(words.lost));
  } catch (error) {
    return stop(error.name === "NoWebgl" ? words.noWebgl : words.gone);
  }
  const older = solid.meshes.some((hash, at) => viewer.meshes[at] && viewer.meshes[at] !== hash);
  said(older ? words.older : words.shown);
  lift();
  for (const input of $$(".solid-tools :checked")) choose(input);
  if (picked) viewer.look(picked);
  $(".solid-stage canvas").focus({ preventScroll: true });
  return null;
}

function lift() {
  const mm = Number($("[data-do=lift]").value);
  viewer.lift(mm);
  setText($("[data-part=lifted]"), mm ? say(words.lifted, { mm }) : "");
  $("[data-do=lift]").setAttribute("aria-valuetext", say(words.lifted, { mm }));
}

function choose({ name, value }) {
  if (name === "solid-part") viewer.show(value);
  if (name !== "solid-kind") return;
  viewer.colour(value);
  for (const legend of $$("[data-solid-legend]")) legend.hidden = legend.dataset.solidLegend !== value;
}

const KEYS = {
  ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down", "+": "nearer", "=": "nearer", "-": "further",
  Home: "reset",
};

document.addEventListener("click", (event) => {
  const spot = event.target.closest?.("[data-spot]");
  if (spot) {
    pick(spot.dataset.spot);
    if (spot.closest(".seat-stops")) (viewer ? room : $(".seat-map")).scrollIntoView({ block: "nearest" }); // they stand above both
    return null;
  }
  const act = event.target.closest?.("#solid button[data-do]")?.dataset.do;
  if (act === "solid") open();
  else if (act && viewer) viewer.move(act);
  return null;
});
document.addEventListener("keydown", (event) => {
  const spot = event.target.closest?.("g[data-spot]");
  if (spot && (event.key === "Enter" || event.key === " ")) {
    event.preventDefault();
    pick(spot.dataset.spot);
  } else if (viewer && event.target.matches?.(".solid-stage canvas") && KEYS[event.key]) {
    event.preventDefault();
    viewer.move(KEYS[event.key]);
  }
});
if (room) {
  room.addEventListener("input", (event) => viewer && event.target.matches("[data-do=lift]") && lift());
  room.addEventListener("change", (event) => viewer && choose(event.target));
}
document.body.dataset.drawn = "yes";
if (document.body.classList.contains("seat-bench")) await startWorker(false);
