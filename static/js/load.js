// The load of this chamber on this tablet: which jaws, each with its table and its state, also without the PC.

import { refreshBase } from "./bases.js";
import { eventsOf } from "./facts.js";
import { fold } from "./fold.js";
import { ask, status } from "./outbox.js";
import { data, say, words } from "./page.js";
import { getMeta, ofJaw, putMeta } from "./store.js";

export let load = { id: "", jaws: [], last: [] };
export let kept = []; // {code, about, kept, events, state, seq} of each jaw of the load, in order

const KEY = `load:${data.code}`;

// Whatever reads or changes the load has its turn, one after the other, and never waits for the PC in it: what began
// before a jaw was scanned or taken out would else put the load back.
let before = Promise.resolve();

function inTurn(work) {
  const turn = before.then(work);
  before = turn.catch(() => {});
  return turn;
}

async function readJaw(code, about) {
  const mine = await ofJaw(code);
  const events = eventsOf(mine);
  const last = mine.sent.length ? mine.sent[mine.sent.length - 1].seq : 0;
  return { code, about, kept: mine, events, state: fold(about.table, events), seq: last };
}

// A load has a name of its own, by which its jaws are found together later.
async function read() {
  load = (await getMeta(KEY)) || { ...load, id: load.id || crypto.randomUUID() };
  const found = [];
  for (const code of load.jaws) {
    const about = await getMeta(`about:${code}`);
    if (about) found.push(await readJaw(code, about));
  }
  kept = found;
}

async function save(changed) {
  load = { ...load, ...changed };
  await putMeta(KEY, load);
  await read();
}

export const saveLoad = (changed) => inTurn(() => save(changed));

export const forget = (code) => inTurn(() => save({ jaws: load.jaws.filter((one) => one !== code) }));

// Reads every jaw of the load anew; `fromPc` asks the PC first for what other tablets did.
export async function readLoad(fromPc = false) {
  if (fromPc) {
    let reached = load.jaws.length ? null : (await ask("/people.json")).ok;
    for (const code of load.jaws) {
      const about = await getMeta(`about:${code}`);
      if (about) reached = (await refreshBase(code, { table: about.table, titles: about.titles, zone: about.zone })).ok;
    }
    if (reached !== null) status.online = reached;
  }
  return inTurn(read);
}

// Takes a jaw into the load; returns why it cannot, or "". `stands` tells the step of the load then, -1 for none.
export async function addJaw(code, stands) {
  if (load.jaws.includes(code)) return "";
  const answer = await ask(`/chamber/${data.code}/jaw/${code}`);
  if (answer.ok && answer.body.table) {
    await putMeta(`about:${code}`, answer.body);
    await refreshBase(code, { table: answer.body.table, titles: answer.body.titles, zone: answer.body.zone });
  } else if (answer.code) return answer.body.error || words.unreachable;
  return inTurn(() => taken(code, stands()));
}

async function taken(code, at) {
  const about = await getMeta(`about:${code}`);
  if (!about) return words.load.unknown;
  const jaw = await readJaw(code, about);
  const step = about.loads.findIndex((one) => one.step === jaw.state.now);
  if (step < 0) return say(words.load.notyet, { code: about.spaced, step: about.titles[jaw.state.now] || words.load.ended });
  if (jaw.state.held) return say(words.load.held, { code: about.spaced });
  if (at >= 0 && step !== at) return say(words.load.another, { code: about.spaced });
  if (!load.jaws.includes(code)) await save({ jaws: [...load.jaws, code] });
  return "";
}
