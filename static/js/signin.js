// Who is working: tile, then PIN. Offline somebody may go on without PIN, and the entry says so.

import { ask } from "./outbox.js";
import { $, $$, data, say, setPerson, setText, showPerson, words } from "./page.js";

const dialog = $("#signin");
let chosen = null;
let digits = "";
let always = () => {};
let done = () => {};
let check = signIn;

async function signIn(id, pin) {
  const answer = await ask("/signin", {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: "application/json" },
    body: JSON.stringify({ person: id, pin }),
  });
  if (answer.ok) setPerson({ id, name: answer.body.name, roles: answer.body.roles, signin: answer.body.signin, how: "pin" });
  return answer;
}

function show(part) {
  for (const name of ["tiles", "pin"]) $(`[data-part=${name}]`, dialog).hidden = name !== part;
  if (part === "tiles") chosen = null;
  $(`[data-part=${part}] button`, dialog)?.focus(); // a hidden button would lose the focus, and keys with it
  digits = "";
  draw("");
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
  show("tiles");
  if (!dialog.open) dialog.showModal();
}

function claim() {
  setPerson({ id: chosen.id, name: chosen.name, roles: chosen.roles, signin: "", how: "claimed" });
  dialog.close();
  always("claimed");
  done("claimed");
}

async function enter() {
  const answer = await check(chosen.id, digits);
  digits = "";
  if (answer.ok) {
    dialog.close();
    if (check === signIn) always("pin");
    done("pin");
    return;
  }
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

// Hears of every sign-in of this page, by PIN or only claimed.
export function onSignIn(listener) {
  always = listener;
}

showPerson();
for (const button of $$("[data-act=signin]")) button.addEventListener("click", () => askPerson());
