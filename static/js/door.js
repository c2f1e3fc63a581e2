// The desk's door: a badge that is scanned signs in, whatever has the focus; its code stays in no field.

import { onScan, readCode } from "./codes.js";

const field = document.getElementById("badge");
const PIN = /^[0-9]{4,8}$/;
let sent = false;

onScan((text, { target }) => {
  const typed = target.matches("input");
  if (typed && target.form !== field.form && PIN.test(text)) return target.form.requestSubmit(); // a PIN, typed in haste
  if (typed) target.value = "";
  if (sent) return null;
  sent = true;
  field.value = readCode(text) || text; // what is no badge the PC says in words
  return field.form.requestSubmit();
});
addEventListener("pageshow", () => { sent = false; });
