// The clocks of a jaw: the twin of benchapp/core/clocks.py.

const has = (map, key) => Object.prototype.hasOwnProperty.call(map, key);

export function clocks(table, state) {
  if (state.ended) return [];
  const found = [];
  for (const act of table.acts) {
    const cells = has(state.cells, act.step) ? state.cells[act.step] : {};
    if (act.kind !== "confirm" || !Object.values(cells).includes("open")) continue;
    for (const kind of ["floors", "ceilings"])
      for (const [since, ms, , grade] of act[kind]) {
        if (!has(state.stamps, since) || (kind === "floors" && act.step !== state.now)) continue;
        const clock = { kind: kind.slice(0, -1), since, step: act.step, ms, grade, ends: state.stamps[since] + ms };
        if (!found.some((c) => JSON.stringify(c) === JSON.stringify(clock))) found.push(clock);
      }
  }
  const key = (c) => [c.ends, c.kind, c.since, c.step];
  return found.sort((a, b) => compare(key(a), key(b)));
}

function compare(a, b) {
  for (let i = 0; i < a.length; i += 1) if (a[i] !== b[i]) return a[i] < b[i] ? -1 : 1;
  return 0;
}
