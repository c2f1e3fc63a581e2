// How a tap becomes a fact: the envelope of version 1, and what the fold needs of it.

import { moment } from "./clock.js";
import { person } from "./page.js";

const boot = crypto.randomUUID();
let count = 0;

const app = document.documentElement.dataset.app || "";

// `jaw` says of what: {case, code, tableHash, round, seq, shown}; `shown` is when the view was last another one.
export function makeFact(jaw, kind, what) {
  const who = person() || { id: "", how: "claimed", signin: "" };
  const at = moment();
  count += 1;
  const fact = {
    v: 1, kind, id: crypto.randomUUID(), case: jaw.case, jaw: jaw.code, round: jaw.round, step: "", places: [],
    outcome: "", values: [], picks: {},
    by: { person: who.id, how: who.how, signin: who.signin },
    from: { tablet: "", boot, n: count, app, table: jaw.tableHash },
    at: { wall: at.wall, offset: at.offset, age: at.age, mono: at.mono },
    saw: { seq: jaw.seq, ms: Math.max(0, Math.round(performance.now() - jaw.shown)) },
    ...what,
  };
  if (what.stated !== undefined) {
    delete fact.stated;
    if (what.stated !== null) fact.at.stated = Math.round(what.stated);
  }
  return { fact, when: at.when };
}

export function folded({ fact, when }) {
  const stated = fact.at.stated;
  return {
    id: fact.id, kind: fact.kind, step: fact.step, outcome: fact.outcome, places: fact.places, round: fact.round,
    values: fact.values, t: stated === undefined ? when : stated, when, stated: stated === undefined ? 0 : 1,
    undo: fact.undo || "", allow: fact.allow || "", roles: (person() || { roles: [] }).roles,
  };
}

const NOTES = ["opened", "claimed", "hand"]; // facts that say nothing of the work: the PC does not fold them either

// What is folded to the shown state: the PC's entries, then what was sent and is not among them, then what waits.
export function eventsOf({ base, sent, outbox }) {
  const all = [...base.events, ...sent.filter((item) => item.seq > base.seq), ...outbox];
  return all.map((item) => item.folded || item).filter((event) => !NOTES.includes(event.kind));
}
