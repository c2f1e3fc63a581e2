// One jaw on this tablet: what the PC has of it, what was sent, what waits; and how a tap becomes a fact.

import { moment } from "./clock.js";
import { fold } from "./fold.js";
import { ask, follow, isOurs, send, status, tellOthers, tipWords } from "./outbox.js";
import { data, person, say, words } from "./page.js";
import { addFact, ofJaw, putBase } from "./store.js";

const boot = crypto.randomUUID();
let count = 0;
let kept = { base: { events: [], seq: 0 }, sent: [], outbox: [] };
export let state = null;
let shown = 0;

export const app = document.documentElement.dataset.app || "";

const NOTES = ["opened", "claimed"]; // facts that say nothing of the work: the PC does not fold them either
// The state that is shown: the PC's entries, then what was sent and is not among them, then what waits.
function events() {
  const { base, sent, outbox } = kept;
  const all = [...base.events, ...sent.filter((item) => item.seq > base.seq), ...outbox];
  return all.map((item) => item.folded || item).filter((event) => !NOTES.includes(event.kind));
}

export async function reload() {
  kept = await ofJaw(data.code);
  state = fold(data.table, events());
  return state;
}

export function marksOfPc() {
  return [...kept.base.events, ...kept.sent.filter((item) => item.seq > kept.base.seq)].filter((item) => item.marks.length).length;
}

export function beginView() {
  shown = performance.now();
}

function envelope(kind, what) {
  const who = person() || { id: "", how: "claimed", signin: "" };
  const at = moment();
  count += 1;
  const last = kept.sent.length ? kept.sent[kept.sent.length - 1].seq : 0;
  const fact = {
    v: 1, kind, id: crypto.randomUUID(), case: data.case, jaw: data.code, round: state.round, step: "", places: [],
    outcome: "", values: [], picks: {},
    by: { person: who.id, how: who.how, signin: who.signin },
    from: { tablet: "", boot, n: count, app, table: data.tableHash },
    at: { wall: at.wall, offset: at.offset, age: at.age, mono: at.mono },
    saw: { seq: Math.max(last, kept.base.seq), ms: Math.max(0, Math.round(performance.now() - shown)) },
    ...what,
  };
  if (what.stated !== undefined) {
    delete fact.stated;
    if (what.stated !== null) fact.at.stated = Math.round(what.stated);
  }
  return { fact, when: at.when };
}

function folded({ fact, when }) {
  const stated = fact.at.stated;
  return {
    id: fact.id, kind: fact.kind, step: fact.step, outcome: fact.outcome, places: fact.places, round: fact.round,
    values: fact.values, t: stated === undefined ? when : stated, when, stated: stated === undefined ? 0 : 1,
    undo: fact.undo || "", allow: fact.allow || "", roles: (person() || { roles: [] }).roles,
  };
}

// Folds a tap before it is stored. Where it cannot be taken and nothing is wet, nothing is stored: {refused: why}.
export async function tap(kind, what, mayBeRefused) {
  try {
    return await take(kind, what, mayBeRefused);
  } catch (error) {
    status.broken = String(error.name || error);
    return { refused: say(words.status.broken, { why: status.broken }) };
  }
}

async function take(kind, what, mayBeRefused) {
  const made = envelope(kind, what);
  const event = folded(made);
  const known = kept;
  const after = fold(data.table, [...events(), event]);
  const refused = after.marks.find((mark) => mark.id === event.id && mark.grade === "refused");
  if (refused && mayBeRefused) return { refused: refused.why };
  await addFact(made.fact, event);
  status.broken = "";
  status.waiting += 1; // said at once, not only when the PC has answered
  kept.outbox.push({ fact: made.fact, folded: event });
  state = kept === known ? after : fold(data.table, events()); // another tablet's entries may have come meanwhile
  tellOthers();
  return { marked: after.marks.filter((mark) => mark.id === event.id) };
}

export async function note(kind) {
  const made = envelope(kind, {});
  await addFact(made.fact, folded(made));
}

// Asks the PC for what it has of this jaw since the last time; another journal there starts everything anew.
export async function refresh() {
  const { base } = await ofJaw(data.code);
  const answer = await ask(`/bench/${data.code}/base?after=${base.seq}&tip=${await tipWords()}`);
  if (!answer.ok || !isOurs(answer.body) || !Array.isArray(answer.body.events)) return answer;
  if (!(await follow(answer.body))) {
    await send();
    return refresh();
  }
  const known = new Set(base.events.map((event) => event.id));
  const fresh = answer.body.events.filter((event) => !known.has(event.id));
  const titles = Object.fromEntries(Object.entries(data.steps).map(([id, step]) => [id, step.title]));
  await putBase({
    code: data.code, table: data.table, titles, zone: data.zone, events: [...base.events, ...fresh],
    seq: Math.max(base.seq, answer.body.tip.seq),
  }, base.seq);
  return { ...answer, fresh: fresh.length };
}
