// The camera is one more scanner. When it is used stands here; what it needs is fetched when it first is.

import { $, $$, setText, words } from "./page.js";

const CAMERA = "camera"; // kept on this tablet: which one, and whether somebody closed it
const wet = () => document.body.dataset.phase === "wet";
const shown = (place) => Boolean(place) && !place.closest("dialog:not([open]), [hidden]");
let finder = null; // the window that shows what the camera sees, once it was fetched
let byHand = null; // the place in which somebody opened it
let wasWet = false;

export function kept() {
  try {
    return JSON.parse(localStorage.getItem(CAMERA)) || {};
  } catch {
    return {};
  }
}

export function keep(changed) {
  localStorage.setItem(CAMERA, JSON.stringify({ ...kept(), ...changed }));
}

// Without asking anybody: where the browser says beforehand that it may, and nobody closed it here.
async function mayBegin() {
  if (kept().on === false) return false;
  const found = await navigator.permissions?.query({ name: "camera" }).catch(() => null);
  return found?.state === "granted";
}

// The place where it would begin by itself: where a badge is asked for, or something that has a label.
function place() {
  const dialog = $("#signin[open]");
  const within = dialog && $("[data-finder]", dialog);
  if (shown(within)) return within;
  if (dialog || document.body.dataset.phase === "") return null;
  if (document.body.matches(".bench") && !$("[data-step]:not([hidden]) [data-pick]")) return null;
  const there = $("body > [data-finder], main [data-finder]:not([data-by-hand])");
  return there && (there.dataset.camera !== "off" || free(there)) ? there : null;
}

// By itself it never lies over words or controls.
function free(there) {
  const own = there.getBoundingClientRect();
  return $$("main :is(button, input, h1, p, li, legend, .clock)").every((one) => {
    const { left, right, top, bottom } = one.getBoundingClientRect();
    return there.contains(one) || right <= own.left || left >= own.right || bottom <= own.top || top >= own.bottom;
  });
}

async function settle() {
  const wetBegins = wet() && !wasWet;
  wasWet = wet();
  if (wetBegins || !shown(byHand)) byHand = null;
  const there = place();
  if (byHand) return;
  if (!there || wet()) return void finder?.close();
  if (!(await mayBegin()) || byHand || there !== place() || wet()) return;
  if (await fetched()) finder.begin(there, false);
}

async function fetched() {
  try {
    finder ??= await import("./finder.js");
  } catch {
    setText($("#said"), `${words.camera.noReader} ${words.camera.instead}`);
  }
  return finder;
}

// Closed by a tap it stays closed on this tablet, until a tap opens it.
export function closedByHand() {
  byHand = null;
  keep({ on: false });
}

document.addEventListener("click", async (event) => {
  const button = event.target.closest?.("[data-act=camera]");
  if (!button) return;
  const opens = button.getAttribute("aria-pressed") !== "true";
  byHand = opens ? button.closest("[data-finder]") || $("body > [data-finder]") : null;
  keep({ on: opens });
  if (!(await fetched())) return;
  if (byHand) finder.begin(byHand, true);
  else finder.close();
}, true);

const watch = new MutationObserver(settle);
watch.observe(document.body, { attributeFilter: ["data-at", "data-phase"] });
if ($("#signin")) watch.observe($("#signin"), { attributeFilter: ["open", "hidden"], subtree: true });
settle();
