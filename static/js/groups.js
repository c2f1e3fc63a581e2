// What the main action covers next: the twin of benchapp/core/walk.py's next_places.

export const cardOf = (table, step) => table.cards.find((card) => card.step === step);

export function nextPlaces(table, state, prefer = "") {
  const card = cardOf(table, state.now);
  if (!card) return [];
  const group = new Map(table.groups);
  let asked = card.places.filter((place) => state.cells[card.step][place] === "open");
  const near = asked.filter((place) => place === prefer || (prefer && group.get(place) === prefer));
  if (near.length) asked = near;
  if (card.by === "place" || !asked.length || !group.has(asked[0])) return asked.slice(0, 1);
  return asked.filter((place) => group.get(place) === group.get(asked[0]));
}

// For each part of the arch: how many places the step has there, how many wait elsewhere, and what to show.
export function parts(table, state) {
  const card = cardOf(table, state.now);
  const found = {};
  if (!card) return found;
  const cells = state.cells[card.step];
  for (const [place, name] of table.groups) {
    const part = (found[name] ??= { count: 0, wait: 0, asked: 0, done: 0 });
    if (!(place in cells)) continue;
    part.count += 1;
    part.wait += cells[place] === "wait" ? 1 : 0;
    part.asked += cells[place] === "open" ? 1 : 0;
    part.done += cells[place] === "done" ? 1 : 0;
  }
  for (const [name, part] of Object.entries(found)) {
    const own = cells[name] || cells["-"];
    part.state = part.wait ? "wait" : part.asked || own === "open" ? "open" : part.count ? own || "done" : "none";
    if (part.state === "off") part.state = part.done === part.count ? "done" : "none";
  }
  return found;
}
