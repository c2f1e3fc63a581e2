// What this tablet keeps: facts that wait (outbox), facts that the PC has (sent), the PC's entries of opened jaws (base).

import { openDB } from "/static/vendor/idb-8.0.4.js";

const DAYS = 30 * 24 * 3600 * 1000;
const STRICT = { durability: "strict" };
let opened = null;

function db() {
  opened ??= openDB("seat-and-cure", 1, {
    upgrade(fresh) {
      fresh.createObjectStore("outbox", { keyPath: "n", autoIncrement: true });
      fresh.createObjectStore("sent", { keyPath: "id" });
      fresh.createObjectStore("entries", { keyPath: "code" });
      fresh.createObjectStore("meta");
    },
    terminated() {
      opened = null;
    },
  });
  return opened;
}

export const addFact = (fact, folded) => addFacts([{ fact, folded }]);

// All of them or none: what was said of several jaws with one tap is stored with one write.
export async function addFacts(items) {
  const tx = (await db()).transaction("outbox", "readwrite", STRICT);
  for (const { fact, folded } of items) tx.store.add({ fact, folded });
  await tx.done;
}

export const getMeta = async (key) => (await db()).get("meta", key);

export async function putMeta(key, value) {
  const tx = (await db()).transaction("meta", "readwrite", STRICT);
  tx.store.put(value, key);
  await tx.done;
}

export const oldest = async (count) => (await db()).getAll("outbox", null, count);
export const waiting = async () => (await db()).count("outbox");
export const bases = async () => (await db()).getAll("entries");

export async function ofJaw(code) {
  const tx = (await db()).transaction(["outbox", "sent", "entries"]);
  const [outbox, sent, base] = await Promise.all([
    tx.objectStore("outbox").getAll(), tx.objectStore("sent").getAll(), tx.objectStore("entries").get(code),
  ]);
  return {
    base: base || { code, events: [], seq: 0, marks: [] },
    sent: sent.filter((item) => item.fact.jaw === code).sort((a, b) => a.seq - b.seq),
    outbox: outbox.filter((item) => item.fact.jaw === code),
  };
}

// Moves what the PC acknowledged by id from outbox to sent, in one write; returns how many that were.
// Not strict: a power cut that undoes this write leaves the facts waiting, and the PC knows them by their ids.
export async function acknowledge(items, acks, when) {
  const byId = new Map(acks.map((ack) => [ack.id, ack]));
  const tx = (await db()).transaction(["outbox", "sent"], "readwrite");
  let count = 0;
  for (const item of items) {
    const ack = byId.get(item.fact.id);
    if (!ack || !["stored", "again", "parked"].includes(ack.was)) continue;
    count += 1;
    tx.objectStore("outbox").delete(item.n);
    if (ack.was === "parked") continue;
    const folded = { ...item.folded, when: ack.when, roles: ack.roles };
    if (!folded.stated) folded.t = ack.when;
    tx.objectStore("sent").put({ id: item.fact.id, fact: item.fact, folded, seq: ack.seq, marks: ack.marks, kept: when });
  }
  await tx.done;
  return count;
}

// Puts what was made from entry `from` on; an answer that another one has overtaken changes nothing.
export async function putBase(base, from) {
  const tx = (await db()).transaction("entries", "readwrite");
  const there = await tx.store.get(base.code);
  if ((there ? there.seq : 0) === from) tx.store.put(base);
  await tx.done;
}

export const tip = async () => (await (await db()).get("meta", "tip")) || null;

export async function raiseTip(found) {
  const tx = (await db()).transaction("meta", "readwrite");
  const known = await tx.store.get("tip");
  if (!known || found.seq > known.seq) tx.store.put({ seq: found.seq, hash: found.hash }, "tip");
  await tx.done;
}

// The PC came back with another journal: everything that this tablet ever sent is offered again, oldest first.
export async function offerAgain() {
  const tx = (await db()).transaction(["outbox", "sent", "entries", "meta"], "readwrite", STRICT);
  const sent = (await tx.objectStore("sent").getAll()).sort((a, b) => a.seq - b.seq);
  const outbox = await tx.objectStore("outbox").getAll();
  const queued = new Set(outbox.map((item) => item.fact.id));
  tx.objectStore("outbox").clear();
  for (const item of [...sent.filter((s) => !queued.has(s.fact.id)), ...outbox])
    tx.objectStore("outbox").add({ fact: item.fact, folded: item.folded });
  tx.objectStore("sent").clear();
  tx.objectStore("entries").clear();
  tx.objectStore("meta").delete("tip");
  await tx.done;
}

export async function tidy(when) {
  const tx = (await db()).transaction("sent", "readwrite");
  for (const item of await tx.store.getAll()) if (item.kept < when - DAYS) tx.store.delete(item.id);
  await tx.done;
}
