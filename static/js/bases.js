// What this tablet keeps of the PC's entries of a jaw, brought up to date.

import { fold } from "./fold.js";
import { ask, follow, isOurs, send, tipWords } from "./outbox.js";
import { bases, ofJaw, putBase, waiting } from "./store.js";

// Every jaw that was opened on this tablet, with the state that it has here.
export async function jawsHere() {
  const found = [];
  for (const base of await bases()) {
    if (!base.table) continue;
    const { sent, outbox } = await ofJaw(base.code);
    found.push({ base, state: fold(base.table, [...base.events, ...[...sent, ...outbox].map((item) => item.folded)]) });
  }
  return found;
}

// Asks the PC for what it has of a jaw since the last time; another journal there starts everything anew.
// `about` holds the jaw's table, titles and zone, so that other pages can fold it and show its clocks.
export async function refreshBase(code, about) {
  const { base } = await ofJaw(code);
  const answer = await ask(`/bench/${code}/base?after=${base.seq}&tip=${await tipWords()}&waiting=${await waiting()}`);
  if (!answer.ok || !isOurs(answer.body) || !Array.isArray(answer.body.events)) return answer;
  if (!(await follow(answer.body))) {
    await send();
    return refreshBase(code, about);
  }
  const known = new Set(base.events.map((event) => event.id));
  const fresh = answer.body.events.filter((event) => !known.has(event.id));
  await putBase({
    code, ...about, events: [...base.events, ...fresh], seq: Math.max(base.seq, answer.body.tip.seq),
  }, base.seq);
  return { ...answer, fresh: fresh.length };
}
