// Enrolment: the symbol on the PC's screen holds the address of this page with the code in it.

import { onScan, readCode } from "./codes.js";
import { $ } from "./page.js";

onScan((text, { layouts }) => {
  const said = /[?&]code=([^&]+)/.exec(text)?.[1] || text;
  const code = readCode(said, layouts);
  if (!code || !$("#code")) return false;
  $("#code").value = code;
  $("#name").focus();
  return true;
});
