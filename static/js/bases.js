// What this tablet keeps of the PC's entries of a jaw, brought up to date.

import { ask, follow, isOurs, send, tipWords } from "./outbox.js";
import { ofJaw, putBase, waiting } from "./store.js";

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
