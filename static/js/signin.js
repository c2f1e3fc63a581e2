// Who is working: a badge, or tile and PIN. Offline somebody may go on without PIN, and the entry says so.

import { onScan, readCode } from "./codes.js";
import { inUse, watchIdle } from "./idle.js";
import { watchOver } from "./out.js";
import { ask } from "./outbox.js";
import { $, $$, data, person, say, setPerson, setText, showPerson, words } from "./page.js";

const dialog = $("#signin");
let chosen = null;
let digits = "";
let always = () => {};
let done = () => {};
let check = signIn;

function knock(address, what) {
  return ask(address, {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: "application/json" },
    body: JSON.stringify(what),
  });
}

function signIn(id, pin) {
  return knock("/signin", { person: id, pin });
}

function here({ person: id, name, roles, signin }, how) {
  setPerson({ id, name, roles, signin, how });
  inUse();
  import("./ready.js").then(({ askToKeep }) => askToKeep()).catch(() => null);
}

const isBadge = (code) => code[0] === "P";
const sayOfBadge = (text) => setText($("[data-part=of-badge]", dialog), text);
let knocking = false;

// Signs in at once, whatever is open; a request that asks for the person again takes a PIN only.
export async function byBadge(code) {
  if (dialog.open && check !== signIn) return void sayOfBadge(words.badgeNotHere);
  if (knocking) return;
  knocking = true;
  const answer = await knock("/badge", { badge: code }).finally(() => { knocking = false; });
  if (!answer.ok) {
    if (dialog.open) show("tiles");
    else askPerson();
    sayOfBadge(answer.body.error || words.badgeUnreachable);
    return;
  }
  here(answer.body, "badge");
  const waited = dialog.open; // an action that waits for the sign-in; one that was given up is not done
  dialog.close();
  always("badge");
  if (waited) done("badge");
}

function show(part) {
  for (const name of ["tiles", "pin"]) $(`[data-part=${name}]`, dialog).hidden = name !== part;
  if (part === "tiles") chosen = null;
  $(`[data-part=${part}] button`, dialog)?.focus(); // a hidden button would lose the focus, and keys with it
  digits = "";
  draw("");
  sayOfBadge("");
}

function draw(said) {
  setText($("[data-part=dots]", dialog), "●".repeat(digits.length));
  setText($("[data-part=said]", dialog), said);
}

// Opens the dialog; `checker(id, pin)` may stand in for the sign-in where a request asks for the person again.
export function askPerson(whenDone = () => {}, checker = null, title = words.nobodyTitle) {
  done = whenDone;
  check = checker || signIn;
  setText($("#signin-title"), title || words.nobody);
  for (const element of $$("[data-part=badge]", dialog)) element.hidden = check !== signIn;
  show("tiles");
  if (!dialog.open) dialog.showModal();
}

function claim() {
  here({ ...chosen, person: chosen.id, signin: "" }, "claimed");
  dialog.close();
  always("claimed");
  done("claimed");
}

// A PIN is sent once, however often a wet finger meets the button: a second wrong try would be counted. A sign-in that
// was given up while the PC was asked, or made way for somebody else's, is none; what else a PIN was asked for is done.
let entering = null;

async function enter() {
  if (entering === chosen || !digits) return;
  const [whose, asks, whenDone] = [chosen, check, done];
  entering = whose;
  const answer = await asks(whose.id, digits).finally(() => { entering = entering === whose ? null : entering; });
  const still = dialog.open && chosen === whose && check === asks;
  if (answer.ok && (still || asks !== signIn)) {
    if (still) dialog.close();
    if (asks === signIn) {
      here(answer.body, "pin");
      always("pin");
    }
    whenDone("pin");
    return;
  }
  if (!still) return;
  digits = "";
  draw(answer.body.error || words.unreachable);
  $("[data-act=claim]", dialog).hidden = answer.code !== 0 || check !== signIn;
}

dialog.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  const value = button.dataset.value;
  const acts = {
    person() {
      chosen = data.people.find((p) => p.id === value);
      show("pin");
      setText($("[data-part=who]", dialog), chosen.name);
      const offer = $("[data-act=claim]", dialog);
      offer.hidden = true;
      setText(offer, say(words.claim || "{name}", { name: chosen.name }));
    },
    digit() {
      if (digits.length < 8) digits += value;
      draw("");
    },
    erase() {
      digits = "";
      draw("");
    },
    enter,
    claim,
    back: () => show("tiles"),
    close: () => dialog.close(),
  };
  event.stopPropagation();
  acts[button.dataset.act]?.();
});

dialog.addEventListener("keydown", (event) => {
  if (!chosen || !/^[0-9]$|^Enter$|^Backspace$/.test(event.key)) return;
  if (event.key === "Enter" && event.target.closest("button") && !digits) return;
  event.preventDefault();
  if (event.key === "Enter") enter();
  else if (event.key === "Backspace") digits = digits.slice(0, -1);
  else if (digits.length < 8) digits += event.key;
  if (event.key !== "Enter") draw("");
});

// A badge may be scanned on any page that signs in, and into any field: its code must not stay there.
onScan((text, { target, keys, layouts }) => {
  const code = readCode(text, layouts);
  if (!isBadge(code)) return false;
  if (target.value?.endsWith(keys)) target.value = target.value.slice(0, -keys.length);
  byBadge(code);
  return true;
});

$("form[data-part=badge]", dialog).addEventListener("submit", (event) => {
  event.preventDefault();
  const field = $("#badge");
  const code = readCode(field.value, false);
  field.value = "";
  if (isBadge(code)) byBadge(code);
  else sayOfBadge(words.badgeBad);
});

// Hears of every sign-in of this page, by PIN, by badge or only claimed.
export function onSignIn(listener) {
  always = listener;
}

// Whoever taps a PIN just now, or was asked for one by something else, goes on; why somebody is gone is said after it.
function sayOver(why) {
  if (dialog.open && (chosen || check !== signIn)) {
    dialog.addEventListener("close", () => person() || sayOver(why), { once: true });
    return;
  }
  if (!dialog.open) askPerson();
  sayOfBadge(why);
}

watchIdle(() => dialog.open || askPerson());
watchOver(() => ask("/people.json"), sayOver);
addEventListener("storage", showPerson); // another page of this tablet signed in, or forgot
showPerson();
for (const button of $$("[data-act=signin]")) button.addEventListener("click", () => askPerson());
