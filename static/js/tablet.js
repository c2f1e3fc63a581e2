// This tablet: what is set and tried here stays here.

import { ringOnce } from "./alarm.js";
import { read, voice } from "./aloud.js";
import { jawsHere } from "./bases.js";
import { onScan, readCode } from "./codes.js";
import { $, $$, counted, data, say, setText, startWorker } from "./page.js";
import { isHeldKey, isPedal, unfit } from "./pedal.js";
import { askToKeep, readiness } from "./ready.js";
import { PEDAL, change, settings } from "./settings.js";
import "./status.js";

const all = data.words;
const words = all.pedal;
const room = $("#pedal");
const nameOf = ({ key }) => words.keys[key] || (key.length === 1 ? key.toUpperCase() : key);
let heard = 0;

function show(said) {
  const { pedal } = settings();
  room.dataset.key = pedal.key;
  setText($("[data-part=is]", room), say(words.is, { key: nameOf(pedal) }));
  setText($("[data-part=said]", room), said);
}

function listen(on) {
  room.toggleAttribute("data-listening", on);
  $("[data-do=learn]", room).setAttribute("aria-pressed", String(on));
  heard = 0;
}

function learn(event) {
  if (event.key === "Tab") return listen(false); // the focus goes on
  if (isHeldKey(event) || event.repeat) return null;
  event.preventDefault();
  event.stopImmediatePropagation();
  const why = unfit(event);
  if (event.key === "Escape") show(words.left);
  else if (why) return show(words[why]);
  else {
    change({ pedal: { code: event.code, key: event.key } });
    show(say(words.learned, { key: nameOf(event) }));
  }
  return listen(false);
}

document.addEventListener("keydown", (event) => {
  if (room.hasAttribute("data-listening")) return void learn(event);
  if (!isPedal(event) || event.repeat) return;
  event.preventDefault();
  heard += 1;
  setText($("[data-part=said]", room), counted(words.heard, heard));
}, true);

$("[data-do=learn]", room).addEventListener("click", () => {
  const on = !room.hasAttribute("data-listening");
  listen(on);
  show(on ? words.press : words.left);
});
$("[data-do=usual]", room).addEventListener("click", () => {
  listen(false);
  change({ pedal: PEDAL });
  show("");
});
show("");

function paintHand() {
  const { hand } = settings();
  document.documentElement.dataset.hand = hand;
  for (const button of $$("[data-do=hand]")) button.setAttribute("aria-pressed", String(button.dataset.value === hand));
}

for (const button of $$("[data-do=hand]"))
  button.addEventListener("click", () => {
    change({ hand: button.dataset.value });
    paintHand();
  });

const saidOf = (id, text) => setText($(`#${id} [data-part=said]`), text);
$("[data-do=ring]").addEventListener("click", async () => saidOf("sound", (await ringOnce()) ? all.rang : all.noSound));
$("[data-do=read]").addEventListener("click", () => {
  const done = read(all.sample);
  saidOf("voice", done ? say(all.read, { name: voice().name }) : all.noVoice);
});

// Only tried here: what is scanned leads nowhere, and a badge signs nobody in.
onScan((text, { layouts }) => {
  saidOf("camera", readCode(text, layouts) ? all.sawCode : all.sawOther);
  return true;
});

async function paintReady() {
  const here = await jawsHere();
  const found = await readiness(here.filter(({ state }) => !state.ended).map(({ base }) => base.code));
  $("#ready").dataset.ready = found.ready ? "yes" : "no";
  for (const item of $$("[data-check]")) {
    const good = found[item.dataset.check];
    item.dataset.good = good ? "yes" : "no";
    setText(item, say(all.ready[item.dataset.check][good ? "yes" : "no"], { code: found.lost[0] }));
  }
  $("[data-do=keep]").disabled = found.kept;
}

$("[data-do=keep]").addEventListener("click", async () => {
  await askToKeep(true);
  await paintReady();
});

paintHand();
saidOf("screen", navigator.wakeLock ? all.awake : all.dark);
document.body.dataset.drawn = "yes"; // nothing is shown before it is known, so nothing moves
await startWorker(false);
await paintReady();
document.body.dataset.loaded = "yes";
