// Pages that only show: where the last taps of this tablet are stored; what waits is sent on.

import { ask, onChange, send, status } from "./outbox.js";
import { $, showStatus } from "./page.js";
import { waiting } from "./store.js";

// A page that the PC gave to a stranger says so itself: where nothing waits there is nothing to ask.
const stranger = $("[data-stands=stranger]") ? "foreign" : "";

async function beat() {
  status.waiting = await waiting();
  if (stranger && !status.waiting) {
    status.online = true;
    status.foreign = stranger;
    return showStatus(status);
  }
  const answered = await ask("/people.json");
  status.online = answered.ok && Array.isArray(answered.body.people);
  status.waiting = await waiting();
  if (status.waiting) await send();
  return showStatus(status);
}

onChange(() => showStatus(status));
addEventListener("online", beat);
setInterval(beat, 5000);
await beat();
document.body.dataset.loaded = "yes";
