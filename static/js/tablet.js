// This tablet: what is set and tried here stays here.

import { $, counted, data, say, setText } from "./page.js";
import { isHeldKey, isPedal, unfit } from "./pedal.js";
import { PEDAL, change, settings } from "./settings.js";
import "./status.js";

const words = data.words.pedal;
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
