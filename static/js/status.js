// Pages that only show: where the last taps of this tablet are stored; what waits is sent on.

import { ask, onChange, send, status } from "./outbox.js";
import { showStatus } from "./page.js";
import { waiting } from "./store.js";

async function beat() {
  const answered = await ask("/people.json");
  status.online = answered.ok && Array.isArray(answered.body.people);
  status.waiting = await waiting();
  if (status.waiting) await send();
  showStatus(status);
}

onChange(() => showStatus(status));
addEventListener("online", beat);
setInterval(beat, 5000);
await beat();
document.body.dataset.loaded = "yes";
