// The PC's time as this tablet knows it: its own clock, plus what was missing at the last answer of the PC.

const KEY = "clock";
const known = read();

function read() {
  try {
    return { offset: 0, at: 0, last: 0, ...JSON.parse(localStorage.getItem(KEY)) };
  } catch {
    return { offset: 0, at: 0, last: 0 };
  }
}

export function learn(serverNow, askedAt, answeredAt) {
  if (!Number.isFinite(serverNow) || answeredAt - askedAt > 2000) return;
  // The least that fits, as if the answer had taken no time: a clock ahead of the PC's would let a tap at the very end
  // of a floor through that the PC finds too early. What still fits is kept, so a slow answer moves nothing.
  const least = Math.floor(serverNow - answeredAt);
  if (!known.at || known.offset < least || known.offset > serverNow - askedAt) known.offset = least;
  known.at = answeredAt;
  known.last = Math.min(known.last, Math.round(serverNow)); // no entry on the PC is later than that
  localStorage.setItem(KEY, JSON.stringify(known));
}

export const now = () => Date.now() + known.offset;

// A moment for an event: never before the one before it, as the PC will have it too.
export function moment() {
  const wall = Date.now();
  const age = known.at ? Math.max(0, wall - known.at) : 0;
  known.last = Math.max(known.last, wall + known.offset);
  localStorage.setItem(KEY, JSON.stringify(known));
  return { wall, offset: known.offset, age, mono: Math.round(performance.now()), when: known.last };
}
