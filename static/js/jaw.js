// One jaw on this tablet: what the PC has of it, what was sent, what waits; and how a tap becomes a fact.

import { eventsOf, folded, makeFact } from "./facts.js";
import { refreshBase } from "./bases.js";
import { fold } from "./fold.js";
import { status, tellOthers } from "./outbox.js";
import { data, say, words } from "./page.js";
import { addFact, addFacts, ofJaw } from "./store.js";

let kept = { base: { events: [], seq: 0 }, sent: [], outbox: [] };
export let state = null;
let shown = 0;

const events = () => eventsOf(kept);

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
  const last = kept.sent.length ? kept.sent[kept.sent.length - 1].seq : 0;
  const jaw = { case: data.case, code: data.code, tableHash: data.tableHash, round: state.round, shown };
  return makeFact({ ...jaw, seq: Math.max(last, kept.base.seq) }, kind, what);
}

// Folds the facts of a tap, [kind, what] each, before they are stored, all or none. Where one cannot be taken and
// nothing is wet, nothing is stored: {refused: why}.
export async function tap(facts, mayBeRefused) {
  try {
    return await take(facts, mayBeRefused);
  } catch (error) {
    status.broken = String(error.name || error);
    return { refused: say(words.status.broken, { why: status.broken }) };
  }
}

async function take(facts, mayBeRefused) {
  const made = facts.map(([kind, what]) => envelope(kind, what));
  const last = made[made.length - 1];
  for (const [n, one] of made.slice(0, -1).entries()) { // one tap: one moment, and names that belong together
    one.fact.id = `${last.fact.id}-${n + 1}`;
    one.fact.at = { ...last.fact.at };
    one.when = last.when;
  }
  const items = made.map((one) => ({ fact: one.fact, folded: folded(one) }));
  const own = (mark) => items.some(({ fact }) => fact.id === mark.id);
  const known = kept;
  const after = fold(data.table, [...events(), ...items.map((item) => item.folded)]);
  const refused = after.marks.find((mark) => own(mark) && mark.grade === "refused");
  if (refused && mayBeRefused) return { refused: refused.why };
  await addFacts(items);
  status.broken = "";
  status.waiting += items.length; // said at once, not only when the PC has answered
  kept.outbox.push(...items);
  state = kept === known ? after : fold(data.table, events()); // another tablet's entries may have come meanwhile
  tellOthers();
  return { marked: after.marks.filter(own) };
}

export async function note(kind) {
  const made = envelope(kind, {});
  await addFact(made.fact, folded(made));
}

export function refresh() {
  const titles = Object.fromEntries(Object.entries(data.steps).map(([id, step]) => [id, step.title]));
  return refreshBase(data.code, { case: data.case, table: data.table, titles, zone: data.zone });
}
