// Tiles and labels: what may be taken now, what does not go together, what a scanned code is. No rule stands here:
// the PC sends sentences, and from when on they hold, so that they are right without it and on the next day.

import { now } from "./clock.js";
import { readCode } from "./codes.js";
import { state } from "./jaw.js";
import { ask } from "./outbox.js";
import { $, $$, data, say, setText, words } from "./page.js";
import { cardElement, phase } from "./paint.js";

const SOON = 700; // ms that an answer of the PC may take before the plain sentence is shown
const wet = () => phase(state) === "wet";
const tilesOf = (root) => $$("[data-act=pick]", root);
const chosenOf = (root) => $$("[data-act=pick][aria-pressed=true]", root);

export function tell(text, refused = true) {
  const said = $("#said");
  said.dataset.kind = refused ? "refused" : "said";
  setText(said, text);
}

// Why a thing may not be taken at this moment, in sentences.
function reasons(code) {
  const thing = data.things[code];
  return thing ? [...thing.unfit, ...thing.later.filter(([from]) => from <= now()).map(([, why]) => why)] : [];
}

function stop(title, text) {
  setText($("#stop h2"), title);
  setText($("#stop p"), text);
  if (!$("#stop").open) $("#stop").showModal();
}

function refuse(code, why) {
  stop(words.unfitTitle, `${say(words.unfitWhat, { name: data.things[code].name, why: why.join(" ") })} ${words.unfitDo}`);
}

// Tiles show why they cannot be taken; one that was filled in or picked before its last day was over is let go.
export function paintTiles() {
  for (const tile of tilesOf(document)) {
    const why = reasons(tile.dataset.value);
    tile.dataset.unfit = why.length ? "yes" : "no";
    const small = $("[data-part=why]", tile);
    small.hidden = !why.length;
    setText(small, why.join(" "));
    if (why.length && !wet()) tile.setAttribute("aria-pressed", "false");
  }
}

export function choose(button) {
  for (const other of $$(`[data-act=${button.dataset.act}]`, button.parentElement)) other.setAttribute("aria-pressed", String(other === button));
}

// While resin is wet nothing is refused: the PC marks what was not fit, and it is explained afterwards.
export function take(tile) {
  const code = tile.dataset.value;
  const why = reasons(code);
  if (why.length && !wet()) return refuse(code, why);
  choose(tile);
  tell("");
  if (!wet()) apart(tile);
  return null;
}

// The tile picked last stays; the one that does not go with it must be picked anew.
function apart(tile) {
  const clash = data.things[tile.dataset.value]?.clash || {};
  for (const other of chosenOf(tile.closest("[data-step]"))) {
    const why = clash[other.dataset.value];
    if (!why) continue;
    other.setAttribute("aria-pressed", "false");
    const title = $("legend", other.parentElement).textContent;
    stop(words.clashTitle, `${why} ${say(words.clashDo, { name: data.things[tile.dataset.value].name, title })}`);
  }
}

function meaningOf(code) {
  return data.labels[code] || data.strange[code[0] || ""] || data.strange[""];
}

async function asked(code) {
  if (!code || data.labels[code]) return meaningOf(code);
  const late = new Promise((resolve) => setTimeout(resolve, SOON, null));
  const answer = await Promise.race([ask(`/what/${code}?jaw=${data.code}`), late]);
  return answer?.ok && answer.body.what ? answer.body : meaningOf(code);
}

const wants = (of) => (data.steps[state.now]?.picks || []).some((pick) => pick[2] === of);

export async function scanned(text) {
  const code = readCode(text);
  if (code === data.code) return;
  const tile = code && tilesOf(cardElement(state.now) || document).find((t) => t.dataset.value === code);
  if (tile) return void take(tile);
  // Another jaw's label opens its page, except where tags of parts are read: there it is the wrong tray.
  if (code && "12".includes(code[0]) && !wants("part")) return void (location.href = `/bench/${code}`);
  const { title, what, next, fine } = await asked(code);
  const sentence = [`${code || text}: ${what}`, ...reasons(code), next].filter(Boolean).join(" ");
  if (fine || wet()) tell(sentence, !fine);
  else stop(title, sentence);
}

// The shelf changed: lots, devices or parts are others now. Tiles are fetched anew, and what was picked stays picked.
export async function renew(shelf) {
  if (!shelf || shelf === data.shelf || wet()) return;
  const response = await fetch(location.pathname).catch(() => null);
  if (!response?.ok || !response.headers.has("Seat-And-Cure")) return;
  const fresh = new DOMParser().parseFromString(await response.text(), "text/html");
  const known = JSON.parse($("#data", fresh)?.textContent || "{}");
  if (known.code !== data.code || wet()) return;
  for (const name of ["things", "labels", "strange", "parts", "shelf"]) data[name] = known[name];
  for (const pick of $$("[data-pick]")) {
    const card = $$("[data-step]", fresh).find((c) => c.dataset.step === pick.closest("[data-step]").dataset.step);
    const other = card && $(`[data-pick="${pick.dataset.pick}"]`, card);
    if (other) swap(pick, other);
  }
  paintTiles();
}

function swap(pick, fresh) {
  const before = chosenOf(pick)[0]?.dataset.value;
  pick.replaceChildren(...[...fresh.children].map((child) => document.adoptNode(child)));
  const same = tilesOf(pick).find((tile) => tile.dataset.value === before);
  if (same) choose(same);
  else if (before) for (const tile of tilesOf(pick)) tile.setAttribute("aria-pressed", "false");
}
