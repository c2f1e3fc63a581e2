// What the camera sees, in a small window; a label before it is read as a scanner reads it.

import { closedByHand, keep, kept } from "./camera.js";
import { take } from "./codes.js";
import { inUse } from "./idle.js";
import { $$, person, setText, words } from "./page.js";

const REST = 120000; // ms without a code after which the camera rests
const AGAIN = 2000; // ms for which a label must be out of sight before it is read again
const PAUSE = 80; // ms between two looks: the tablet stays cool
const LONGEST = 200; // signs; nothing that is meant for us is longer
const WIDE = 1920; // px that are asked for: at 40 cm a module still has two of them
const SHAPE = 4 / 3; // of what is cut out of the middle and shown

let stream = null;
let worker = null;
let resting = 0;
let turn = 0; // a camera that comes when another turn has begun is let go
let failed = false; // then it begins anew by a tap only
let asleep = null; // the place in which it looked before the page was hidden
const taken = new Map(); // text to when it was last seen, ms

const made = (name, parts) => Object.assign(document.createElement(name), parts);
const video = made("video", { muted: true, playsInline: true });
const said = made("p", { role: "status" });
const view = made("div", { className: "finder-view" });
view.append(video, said);
const other = made("button", { type: "button", textContent: words.camera.other, hidden: true, onclick: change });
const away = made("button", { type: "button", textContent: words.camera.close, onclick: leave });
other.dataset.act = "camera-other";
away.dataset.act = "camera-close";
const parts = [view, other, away];

const placed = () => view.parentElement;

function show(state, text) {
  placed().dataset.camera = state;
  setText(said, text);
  const pressed = state !== "off" && placed().matches("body > *");
  for (const button of $$("[data-act=camera][aria-pressed]")) button.setAttribute("aria-pressed", String(pressed));
}

function release() {
  turn += 1;
  clearTimeout(resting);
  for (const track of stream?.getTracks() || []) track.stop();
  worker?.terminate();
  stream = worker = video.srcObject = null;
}

function halt(state, text) {
  release();
  failed = state === "no";
  show(state, text);
}

export function close() {
  asleep = null;
  if (placed()) halt("off", "");
}

function leave() {
  closedByHand();
  close();
}

const instead = (text) => `${text} ${words.camera.instead}`;
const WHY = { NotAllowedError: "refused", SecurityError: "refused", NotFoundError: "none", OverconstrainedError: "none" };

// Begins in a place, or moves there. Once it rests or has failed it begins anew by a tap only.
export async function begin(place, tapped) {
  if (failed && !tapped) return null;
  const from = placed();
  const state = from?.dataset.camera;
  if (from !== place) {
    if (from) from.dataset.camera = "off";
    place.append(...parts);
  }
  if (stream) {
    show("on", said.textContent);
    return void video.play().catch(() => null); // a film that is moved stands still
  }
  if (!tapped && (state === "rest" || state === "asked")) return show(state, said.textContent);
  release();
  const focused = place.contains(document.activeElement);
  show("asked", "");
  if (focused) away.focus(); // the button that was tapped is gone
  return wake(turn);
}

async function wake(mine) {
  if (!isSecureContext) return halt("no", instead(words.camera.insecure));
  if (!navigator.mediaDevices?.getUserMedia || !window.OffscreenCanvas) return halt("no", instead(words.camera.old));
  try {
    const found = await navigator.mediaDevices.getUserMedia({ audio: false, video: await wished() });
    if (mine !== turn) return found.getTracks().forEach((track) => track.stop());
    stream = found;
  } catch (error) {
    if (mine === turn) halt("no", instead(words.camera[WHY[error.name] || "busy"]));
    return null;
  }
  const [track] = stream.getVideoTracks();
  const { deviceId = "", facingMode = "" } = track.getSettings();
  keep({ device: deviceId, facing: facingMode });
  track.onended = () => stream && halt("no", instead(words.camera.lost));
  video.dataset.facing = facingMode;
  video.srcObject = stream;
  await video.play().catch(() => null);
  if (mine !== turn) return null;
  show("on", words.camera.hold);
  other.hidden = (await cameras()).length < 2;
  if (mine === turn) read();
  return null;
}

const cameras = async () => (await navigator.mediaDevices.enumerateDevices()).filter(({ kind }) => kind === "videoinput");

// The name of a camera may be another one tomorrow; on which side of the tablet it is stays.
async function wished() {
  const { device, facing } = kept();
  const known = device && (await cameras()).some(({ deviceId }) => deviceId === device);
  const which = known ? { deviceId: { exact: device } } : { facingMode: { ideal: facing || "environment" } };
  return { ...which, width: { ideal: WIDE }, height: { ideal: (WIDE * 9) / 16 } };
}

async function change() {
  const all = await cameras();
  const now = all.findIndex(({ deviceId }) => deviceId === kept().device);
  const next = all[(now + 1) % all.length];
  keep({ device: next.deviceId, facing: next.getCapabilities?.().facingMode?.[0] || "" });
  const place = placed();
  release();
  await begin(place, true);
}

function read() {
  worker = new Worker("/static/js/camera-worker.js");
  const mine = turn;
  const gone = () => mine === turn && halt("no", instead(words.camera.noReader));
  worker.onerror = (event) => {
    event.preventDefault();
    gone();
  };
  worker.onmessage = ({ data: told }) => {
    if (mine !== turn) return;
    if (told.error) return gone();
    hear(told.found || []);
    setTimeout(look, told.ready ? 0 : PAUSE, mine);
  };
  tire();
}

// A label is held into the middle; what lies at the edges is not worth its pixels.
async function look(mine) {
  if (mine !== turn) return;
  const { videoWidth: across, videoHeight: down } = video;
  const width = Math.floor(Math.min(across, down * SHAPE));
  const height = Math.floor(width / SHAPE);
  const cut = [(across - width) >> 1, (down - height) >> 1, width, height];
  const picture = await (width ? createImageBitmap(video, ...cut).catch(() => null) : null);
  if (mine !== turn) picture?.close();
  else if (picture) worker.postMessage(picture, [picture]);
  else setTimeout(look, PAUSE, mine);
}

// Of several labels the one nearest to the middle is meant; one that stays in sight is read once.
function hear(found) {
  const at = performance.now();
  const [meant] = found.sort((one, two) => one.off - two.off);
  const fresh = meant && !(at - taken.get(meant.text) < AGAIN);
  for (const { text } of found) if (taken.has(text) || text === meant.text) taken.set(text, at);
  if (fresh) accept(meant.text);
}

function accept(text) {
  tire();
  if (person()) inUse();
  navigator.vibrate?.(60);
  setText(said, words.camera.took); // never the code itself: it may be a badge
  view.dataset.took = "yes";
  setTimeout(() => {
    delete view.dataset.took;
    if (stream) setText(said, words.camera.hold);
  }, 1200);
  take(text.slice(0, LONGEST));
}

function tire() {
  clearTimeout(resting);
  resting = setTimeout(() => halt("rest", words.camera.rests), REST);
}

// A page that nobody sees does not look; it goes on when it is seen again.
document.addEventListener("visibilitychange", () => {
  const hidden = document.visibilityState !== "visible";
  if (hidden && stream) {
    asleep = placed();
    halt("asked", "");
  } else if (!hidden && asleep) {
    const place = asleep;
    asleep = null;
    if (document.body.dataset.phase !== "wet") begin(place, true);
    else close();
  }
});
