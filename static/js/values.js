// Numbers that are read off and confirmed with a step: tapped up and down or typed, and mended where they are none.

import { $, $$, say, setText, words } from "./page.js";

const TYPED = /^([-−]?)(\d{0,9})(?:[.,](\d{0,3}))?$/;
const DIGITS = 1e9; // what an event takes has at most nine before the point
const BOX = "[data-value-name]";

// Without superfluous zeros, but with `least` decimals.
function written(text, least) {
  const [whole, part = ""] = (Number(text) ? text : text.replace("-", "")).split(".");
  const decimals = part.replace(/0+$/, "").padEnd(least, "0");
  return `${whole}${decimals && "."}${decimals}`;
}

// A number as people type it, in the one form that is shown and stored; "" for what is none.
// 1,000 may have been a thousand: three decimals are read only below 1, or where the value itself has three.
export function readNumber(text, least = 0) {
  const [all, minus, digits, part = ""] = TYPED.exec(text.trim()) || [];
  if (!all || !(digits + part) || (part.length === 3 && Number(digits) && least < 3)) return "";
  return written(`${minus && "-"}${digits.replace(/^0+(?=\d)/, "") || "0"}.${part}`, least);
}

const decimalsOf = (box) => Number(box.dataset.decimals);

function put(box, number) {
  const field = $("input", box);
  field.dataset.good = number;
  if (field.value !== number) field.value = number;
}

// Beside the number; what is none stays in the field. While resin is wet nothing is refused: the last good one counts.
function tell(box, wrong) {
  const field = $("input", box);
  const wet = document.body.dataset.phase === "wet";
  field.setAttribute("aria-invalid", String(wrong));
  const said = wrong ? [words.notNumber] : [];
  if (wrong && wet) said.push(say(words.lastCounts, { value: field.dataset.good }));
  setText($("[data-part=wrong]", box), said.join(" "));
}

function read(box) {
  const field = $("input", box);
  return field.value === field.dataset.good ? field.value : readNumber(field.value, decimalsOf(box));
}

function settle(box) {
  const number = read(box);
  if (number) put(box, number);
  tell(box, !number);
  return Boolean(number);
}

// What the controls within `root` say; `wrong` are those that hold no number, and their last good one stands in.
export function valuesIn(root) {
  const boxes = $$(`${BOX}:not([hidden])`, root);
  const wrong = boxes.filter((box) => !settle(box)).map((box) => ({ box, title: box.getAttribute("aria-label") }));
  const values = boxes.map((box) => ({ name: box.dataset.valueName, value: $("input", box).dataset.good, unit: box.dataset.unit }));
  return { values, wrong };
}

// Puts the last good number back into the field, and returns it.
export function lastGood(box) {
  put(box, $("input", box).dataset.good);
  tell(box, false);
  return $("input", box).value;
}

export function nudge(button, direction) {
  const box = button.closest(BOX);
  const sum = Number(read(box) || $("input", box).dataset.good) + direction * Number(box.dataset.size);
  if (Math.abs(sum) < DIGITS) put(box, written(sum.toFixed(3), decimalsOf(box)));
  tell(box, false);
}

// Shows a control for each value of `list` (by a key of its own); what was typed stays for as long as `of` does.
export function offer(root, of, list) {
  if (root.dataset.of !== of) root.replaceChildren();
  root.dataset.of = of;
  for (const [key, value] of Object.entries(list))
    if (!$$(BOX, root).some((box) => box.dataset.key === key)) root.append(made(key, value));
  for (const box of $$(BOX, root)) box.hidden = !Object.hasOwn(list, box.dataset.key);
}

function made(key, value) {
  const box = $("#value").content.firstElementChild.cloneNode(true);
  Object.assign(box.dataset, { key, valueName: value.name, size: value.size, decimals: value.decimals, unit: value.unit });
  box.setAttribute("aria-label", value.title);
  setText($("[data-part=title]", box), value.title);
  setText($(".unit", box), value.unit);
  const field = $("input", box);
  field.setAttribute("aria-label", [value.title, value.unit].filter(Boolean).join(", "));
  const wrong = $("[data-part=wrong]", box);
  wrong.id = `wrong-${key}`.replace(/[^\w-]/g, "_");
  field.setAttribute("aria-describedby", wrong.id);
  put(box, value.usual);
  return box;
}

let entered = null;
const boxOf = (event) => event.target.closest?.(`${BOX} input`)?.closest(BOX);
document.addEventListener("change", (event) => boxOf(event) && settle(boxOf(event)));
document.addEventListener("input", (event) => boxOf(event) && read(boxOf(event)) && tell(boxOf(event), false));
document.addEventListener("focusin", (event) => { entered = boxOf(event); });
// Whoever clicks into the number types over it, and does not add to it.
document.addEventListener("click", (event) => {
  if (entered && boxOf(event) === entered) event.target.select();
  entered = null;
});
