// The one sender: takes the oldest facts to the PC, and lets go only of those that the answer names.

import { learn } from "./clock.js";
import { hearOver, signedAs } from "./out.js";
import { person } from "./page.js";
import { acknowledge, offerAgain, oldest, raiseTip, tip, waiting } from "./store.js";

const BATCH = 50;
const PATIENCE = 8000;
const channel = new BroadcastChannel("seat-and-cure");
export const status = { waiting: 0, online: true, foreign: "", broken: "", marked: 0, worker: true, pc: "" };
let told = () => {};
let again = false;
let sending = false;

export function onChange(listener) {
  told = listener;
  channel.onmessage = () => listener(true);
}

export function tellOthers() {
  channel.postMessage("changed");
}

// A browser that was killed may have lost the cookie by which the PC knows this tablet; the first page gives one anew.
const KNOCK_AGAIN = 20000;
let knocked = -KNOCK_AGAIN;
export async function ask(address, options = {}) {
  let answer = await askOnce(address, options);
  if (answer.code === 401 && performance.now() - knocked >= KNOCK_AGAIN) {
    knocked = performance.now();
    await fetch("/", { cache: "no-store" }).catch(() => null);
    answer = await askOnce(address, options);
  }
  if (answer.code) status.foreign = foreignAs(answer);
  return answer;
}

// Any answer tells whether the PC knows this tablet: a word of the status line, "" where it may send.
function foreignAs({ code, body }) {
  if (code === 403 && body.display) return "display";
  if (code !== 401) return "";
  return body.struck ? "struck" : "foreign";
}

async function askOnce(address, options) {
  const control = new AbortController();
  const timer = setTimeout(() => control.abort(), PATIENCE);
  const askedAt = Date.now();
  const me = person();
  try {
    const response = await fetch(address, { cache: "no-store", ...options, signal: control.signal,
      headers: { Accept: "application/json", ...options.headers, ...signedAs(me) } });
    const body = JSON.parse(await response.text());
    status.pc = response.headers.get("Seat-And-Cure") || status.pc;
    if (response.ok) learn(body.now, askedAt, Date.now());
    hearOver(me, response.headers.get("Signed-Out"));
    return { ok: response.ok, code: response.status, body };
  } catch {
    return { ok: false, code: 0, body: {} };
  } finally {
    clearTimeout(timer);
  }
}

export async function tipWords() {
  const known = await tip();
  return known ? `${known.seq}:${known.hash}` : "";
}

// An answer counts only when it is whole and ours: a stranger's page with status 200 has no tip.
export function isOurs(body) {
  return Boolean(body && body.tip && Number.isInteger(body.tip.seq) && typeof body.tip.hash === "string");
}

export async function follow(body) {
  if (body.chain === false) {
    await offerAgain();
    again = true;
    return false;
  }
  await raiseTip(body.tip);
  return true;
}

export async function send() {
  again = true;
  if (sending) return;
  sending = true;
  try {
    while (again) {
      again = false;
      if (navigator.locks) await navigator.locks.request("sender", drain);
      else await drain();
    }
  } catch (error) {
    status.broken = String(error && error.name ? error.name : error);
  } finally {
    sending = false;
  }
  status.waiting = await waiting();
  told(false);
}

// The jaw is read in anew once, at the end: a fact says the same whether it waits or was sent.
async function drain() {
  let moved = false;
  while (await deliver()) {
    moved = true;
    status.waiting = await waiting();
    told(false);
  }
  if (moved) {
    tellOthers();
    told(true);
  }
}

// Returns true when there may be more to take.
async function deliver() {
  const items = await oldest(BATCH);
  if (!items.length) return false;
  const left = Math.max(0, (await waiting()) - items.length);
  const answer = await ask(`/outbox/1?tip=${await tipWords()}&waiting=${left}`, {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: "application/json" },
    body: JSON.stringify(items.map((item) => item.fact)),
  });
  const good = answer.ok && isOurs(answer.body) && Array.isArray(answer.body.acks);
  status.online = good || answer.code === 401;
  if (!good) return false;
  const count = await acknowledge(items, answer.body.acks, Date.now());
  return (await follow(answer.body)) && count > 0;
}
