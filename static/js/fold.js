// Table and events folded into the state of a jaw: the twin of benchapp/core/fold.py, line by line.
// No rule and no word of the trade stands here; the table holds them. Random walks prove the two equal.

const NUMBER = /^-?[0-9]{1,9}(\.[0-9]{1,6})?$/;
const has = (map, key) => Object.prototype.hasOwnProperty.call(map, key);
const cellOf = (s, step, place) => (has(s.cells, step) && has(s.cells[step], place) ? s.cells[step][place] : "none");
const keyOf = (e) => JSON.stringify([e.kind, e.step, e.outcome]);

export function start(table) {
  const cells = {};
  for (const card of table.cards) {
    cells[card.step] = {};
    for (const p of card.places) cells[card.step][p] = card.asleep.includes(p) ? "off" : "open";
  }
  return settle(table, {
    cells, stamps: {}, now: "", round: 0, held: 0, lit: 0, dark: 0, ended: "", log: [], marks: [], refused: [],
  });
}

export function fold(table, events) {
  const acts = actsOf(table);
  const seen = new Set();
  let state = start(table);
  for (const event of events) {
    if (seen.has(event.id)) continue;
    seen.add(event.id);
    state = take(table, acts, state, event);
  }
  return state;
}

export const actsOf = (table) => new Map([...table.acts].reverse().map((a) => [keyOf(a), a]));

// The state after one more event, whose id was not seen before; `s` is used up.
export function take(table, acts, s, e) {
  if (e.kind === "undo") return undo(table, acts, s, e);
  if (e.kind === "resolve") return resolve(table, acts, s, e);
  if (e.kind === "reason") {
    for (const mark of s.marks) if (mark.id === e.allow && mark.grade !== "refused") mark.reason = e.outcome;
    return s;
  }
  const act = acts.get(keyOf(e));
  const why = refusal(table, s, act, e);
  if (why) {
    s.refused.push(e);
    addMark(s, e, why, "refused");
    return s;
  }
  breaches(s, act, e);
  return settle(table, set(table, acts, s, act, e));
}

function refusal(table, s, act, e) {
  if (!act) return "unknown";
  if (s.ended && !(s.ended === "through" && act.kind === "scrap")) return "ended";
  if (e.round !== s.round) return "round";
  if (act.who.length && !e.roles.some((role) => act.who.includes(role))) return "who";
  if (s.held && act.kind !== "resume" && act.kind !== "scrap" && !isWet(table, s.now)) return "held";
  if (e.stated && (e.t > e.when || (s.log.length && e.t < s.log[s.log.length - 1].t))) return "stated";
  if ((act.kind === "dark" || act.kind === "bright") && !mayTurn(s, act)) return "step";
  if (act.kind === "confirm") {
    if (s.dark) return "dark";
    if (e.step !== s.now) return "step";
    if (s.lit && act.reset.length) return "light";
    if (!e.places.length || new Set(e.places).size !== e.places.length) return "place";
    if (e.places.some((p) => !act.from.includes(cellOf(s, e.step, p)))) return "place";
    if (!e.places.every((p) => fits(table, act, p))) return "place";
    if (act.floors.some((f) => f[3] === "stop" && early(s, f, e))) return "early";
  }
  if (act.kind === "hold" && s.held) return "held";
  if (act.kind === "resume" && !s.held) return "step";
  if (act.kind === "sendback" && (s.lit || at(table, act.step) > at(table, s.now))) return s.lit ? "light" : "step";
  return "";
}

const mayTurn = (s, act) =>
  act.kind === "bright" ? s.dark !== 0 : !s.dark && act.shift.includes(s.now) && lastLit(s, act) !== "";

function lastLit(s, act) {
  let found = "";
  for (const step of act.shift)
    if (has(s.stamps, step) && (!found || s.stamps[step] >= s.stamps[found])) found = step;
  return found;
}

const early = (s, limit, e) => has(s.stamps, limit[0]) && e.t + limit[2] < s.stamps[limit[0]] + limit[1];
const late = (s, limit, e) => has(s.stamps, limit[0]) && e.t - limit[2] > s.stamps[limit[0]] + limit[1];

function breaches(s, act, e) {
  if (e.stated) addMark(s, e, "stated", "note");
  for (const limit of act.floors) if (early(s, limit, e)) addMark(s, e, "early", limit[3]);
  for (const limit of act.ceilings) if (late(s, limit, e)) addMark(s, e, "late", limit[3]);
  for (const [name, least, most, grade] of act.limits)
    for (const value of e.values)
      if (value.name === name && !within(value.value, least, most)) addMark(s, e, "limit", grade);
}

const within = (value, least, most) => NUMBER.test(value) && +least <= +value && +value <= +most;

function addMark(s, e, why, grade) {
  s.marks.push({ id: e.id, why, grade, resolved: "", reason: "" });
  if (grade === "stop") s.held = 1;
}

function set(table, acts, s, act, e) {
  for (const place of act.kind === "confirm" && act.to ? e.places : []) s.cells[e.step][place] = act.to;
  elsewhere(s, act, e, Object.keys(s.cells));
  const fresh = act.reset.length ? start(table).cells : {};
  for (const card of act.reset) {
    s.cells[card] = fresh[card];
    delete s.stamps[card];
  }
  if (act.reset.length) [s.now, s.dark] = ["", 0];
  for (const before of act.reset.length && table.format > 1 ? standing(acts, s.log, act.reset) : [])
    elsewhere(s, acts.get(keyOf(before)), before, act.reset);
  if (act.stamp) s.stamps[act.stamp] = e.t;
  if (act.kind === "dark") s.dark = e.t;
  if (act.kind === "bright") {
    s.stamps[lastLit(s, act)] += Math.max(0, e.t - s.dark);
    s.dark = 0;
  }
  s.round += act.round;
  s.held = Math.max(0, Math.min(1, s.held + act.held));
  s.lit = Math.max(s.lit, act.light);
  if (act.kind === "scrap") s.ended = "scrap";
  s.log.push(e);
  return s;
}

// What an act says of the same places on some cards.
function elsewhere(s, act, e, cards) {
  for (const place of act.kind === "confirm" ? e.places : [])
    for (const [card, froms, to] of act.also)
      if (cards.includes(card) && froms.includes(cellOf(s, card, place))) s.cells[card][place] = to;
}

// The events whose steps neither begin anew now nor did after them.
function standing(acts, log, reset) {
  let kept = [];
  for (const e of log) {
    kept.push(e);
    const anew = acts.get(keyOf(e)).reset;
    if (anew.length) kept = kept.filter((one) => !anew.includes(one.step));
  }
  return kept.filter((one) => !reset.includes(one.step));
}

function undo(table, acts, s, e) {
  const last = s.log[s.log.length - 1];
  const act = last && acts.get(keyOf(last));
  if (!last || !act || last.id !== e.undo || !act.undo || e.when - last.when > act.undo) {
    addMark(s, e, "undo", "refused");
    return s;
  }
  const back = start(table);
  for (const before of s.log.slice(0, -1)) {
    if (s.marks.some((mark) => mark.id === before.id && mark.grade === "stop")) back.held = 1;
    settle(table, set(table, acts, back, acts.get(keyOf(before)), before));
  }
  back.refused = s.refused;
  back.marks = s.marks.filter((mark) => mark.id !== last.id || mark.grade === "refused");
  back.round = s.round + act.round; // a round is never counted twice, or a late tap could slip into it
  return back;
}

function resolve(table, acts, s, e) {
  for (const mark of s.marks) {
    if (mark.id !== e.allow || mark.grade !== "refused" || mark.resolved) continue;
    mark.resolved = e.outcome;
    for (const event of s.refused) {
      const act = acts.get(keyOf(event));
      if (event.id === e.allow && e.outcome === "in" && canTakeIn(s, act)) {
        const places = event.places.filter((p) => cellOf(s, event.step, p) !== "none" && fits(table, act, p));
        s = settle(table, set(table, acts, s, act, { ...event, places }));
      }
    }
  }
  return s;
}

// Only what was said of places, while the jaw is under way; and after first light nothing goes back.
const canTakeIn = (s, act) => act && act.kind === "confirm" && !s.ended && !(s.lit && act.reset.length);

function settle(table, s) {
  if (!s.now || !asks(s, s.now)) s.now = (table.cards.find((card) => asks(s, card.step)) || { step: "" }).step;
  if (!s.now && !s.ended) s.ended = "through";
  return s;
}

const asks = (s, step) => Object.values(s.cells[step]).includes("open");

const isWet = (table, step) => table.cards.some((card) => card.wet && card.step === step);

// An exception is said of single places: a group that it sent elsewhere could never come back.
const fits = (table, act, place) => act.of !== "place" || table.groups.some(([single]) => single === place);

function at(table, step) {
  const steps = table.cards.map((card) => card.step);
  return steps.includes(step) ? steps.indexOf(step) : steps.length;
}
