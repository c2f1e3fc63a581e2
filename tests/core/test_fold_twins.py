"""The two folds, and the two clocks, are one: the same state from the same table and events, after every event."""

import hashlib
import json
from dataclasses import dataclass
from functools import cache
from random import Random
from typing import Any

import pytest
from playwright.sync_api import Page, Route

from benchapp.core.clocks import clocks
from benchapp.core.fold import acts_of, fold, start, take
from tests.core.randoms import compiled_table, random_table, random_walk

WALKS, COMPILED, CHUNKS = 1300, 200, 6

# In the page: one event after another, written down key by key; every tenth time all of them, as after a reload.
FOLD_THERE = """
async ([text, whole]) => {
  const walks = JSON.parse(text);
  const { actsOf, fold, start, take } = await import("/js/fold.js");
  const { clocks } = await import("/js/clocks.js");
  const quoted = new Map();
  const quote = (text) => quoted.get(text) ?? quoted.set(text, JSON.stringify(text)).get(text);
  const canon = (x) => typeof x === "string" ? quote(x) : Array.isArray(x) ? "[" + x.map(canon).join(",") + "]"
    : x && typeof x === "object"
      ? "{" + Object.keys(x).sort().map((k) => quote(k) + ":" + canon(x[k])).join(",") + "}"
      : JSON.stringify(x) ?? "undefined";
  const ids = (events) => events.map((e) => e.id);
  const said = ({ table, events, points }) => {
    const [acts, seen, asked, told] = [actsOf(table), new Set(), new Set(points), []];
    let state = start(table);
    for (let count = 0; count <= events.length; count++) {
      const last = count === events.length;
      const now = last || count % 10 === 0 ? fold(table, events.slice(0, count)) : state;
      if (asked.has(count))
        told.push(canon([
          last ? now : { ...now, log: ids(now.log), refused: ids(now.refused) }, clocks(table, now),
        ]));
      if (last || seen.has(events[count].id)) continue;
      seen.add(events[count].id);
      state = take(table, acts, state, events[count]);
    }
    return told;
  };
  const hex = (bytes) => Array.from(new Uint8Array(bytes), (b) => b.toString(16).padStart(2, "0")).join("");
  const hash = async (text) => hex(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text)));
  return Promise.all(walks.map((walk) => whole ? said(walk) : hash(said(walk).join("\\n"))));
}
"""


@dataclass
class Walk:
    """A table, the events of a walk through it, and after how many of them the states are compared."""

    name: str
    table: dict[str, Any]
    events: list[dict[str, Any]]
    points: list[int]


def walk(seed: int, compiled: bool) -> Walk:
    """Return the walk of a seed: through a random table compared after every event, or through a compiled one."""
    random = Random(f"{seed} {compiled}")
    table = compiled_table(random) if compiled else random_table(random)
    events = random_walk(random, table, random.randint(20, 160 if compiled else 120))
    points = sorted({*range(0, len(events), 10 if compiled else 1), len(events)})
    return Walk(f"{'compiled' if compiled else 'random'} {seed}", table, events, points)


def sent(walks: list[Walk]) -> str:
    """Return what the page is given, as one text: Playwright takes long to hand over what is nested."""
    return json.dumps([{"table": w.table, "events": w.events, "points": w.points} for w in walks])


def said_here(taken: Walk) -> list[str]:
    """Return what Python makes of a walk at each point, written like the page's: one event after another."""
    acts, state, seen, said = acts_of(taken.table), start(taken.table), set(), []
    for count in range(len(taken.events) + 1):
        if count in taken.points:
            said.append(canon([state if count == len(taken.events) else short(state), clocks(taken.table, state)]))
        if count < len(taken.events) and taken.events[count]["id"] not in seen:
            seen.add(taken.events[count]["id"])
            state = take(taken.table, acts, state, taken.events[count])
    assert state == fold(taken.table, taken.events)
    return said


def short(state: dict[str, Any]) -> dict[str, Any]:
    """Return a state with the ids of its events in their place."""
    return state | {key: [event["id"] for event in state[key]] for key in ("log", "refused")}


def canon(plain: Any) -> str:
    """Return plain data as text, keys in order."""
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def hashed(taken: Walk) -> str:
    """Return the hash of what Python makes of a walk."""
    return hashlib.sha256("\n".join(said_here(taken)).encode()).hexdigest()


def differing(page: Page, walks: list[Walk]) -> list[str]:
    """Return, for each walk that the page folds otherwise, where it first does; a whole list in one call."""
    there = page.evaluate(FOLD_THERE, [sent(walks), False])
    here = [hashed(w) for w in walks]
    return [_first(page, w) for w, mine, theirs in zip(walks, here, there, strict=True) if mine != theirs]


def _first(page: Page, taken: Walk) -> str:
    theirs = page.evaluate(FOLD_THERE, [sent([taken]), True])[0]
    for point, mine, their in zip(taken.points, said_here(taken), theirs, strict=True):
        if mine != their:
            event = taken.events[point - 1] if point else None
            return f"walk {taken.name}, after event {point} {event}:\nPython {mine}\npage   {their}"
    return f"walk {taken.name}: told apart by its hash only"


@pytest.fixture
def folding(page: Page, static_url: str) -> Page:
    """A page at the address of the two modules."""
    page.goto(f"{static_url}/js/clocks.js")
    return page


@pytest.mark.browser
@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_both_folds_agree_after_every_event(folding: Page, chunk: int, record_property: Any) -> None:
    """Random walks through random and compiled tables give equal states, marks and clocks in Python and Chromium."""
    walks = [walk(seed, False) for seed in range(chunk, WALKS, CHUNKS)]
    walks += [walk(seed, True) for seed in range(chunk, COMPILED, CHUNKS)]
    wrong = [line for at in range(0, len(walks), 40) for line in differing(folding, walks[at:at + 40])]
    events = sum(len(w.events) for w in walks)
    print(f"{len(walks)} walks, {events} events, {sum(len(w.points) for w in walks)} states compared")
    record_property("events", events)
    assert not wrong, f"{len(wrong)} of {len(walks)} walks differ, the first:\n{wrong[0]}"


def test_the_walks_see_every_kind_of_answer() -> None:
    """The random walks hold each kind of mark, both ends, a hold, several lights, rounds, undos and resolved marks."""
    whys, seen, grades = set(), set(), set()
    for seed in range(150):
        taken = walk(seed, False)
        state = fold(taken.table, taken.events)
        whys |= {mark["why"] for mark in state["marks"]}
        grades |= {mark["grade"] for mark in state["marks"]}
        seen |= {f"ended {state['ended']}", f"held {state['held']}", f"lit {state['lit']}",
                 f"round {state['round'] > 1}"}
        seen |= {f"resolved {mark['resolved']}" for mark in state["marks"]}
        acts = acts_of(taken.table)
        act = lambda e: acts.get((e["kind"], e["step"], e["outcome"]), {"light": 0})  # noqa: E731, B023
        seen |= {f"lights {min(2, sum(act(e)['light'] for e in state['log']))}"}
        why = {mark["id"]: mark["why"] for mark in state["marks"] if mark["grade"] == "refused"}
        seen |= {f"{e['kind']} {why.get(e['id'])}" for e in state["refused"]}
        gone = {e["undo"] for e in taken.events if e["kind"] == "undo"} - {e["id"] for e in state["log"]}
        seen |= {"undone"} if gone - {"", "nobody"} else set()
    refused = {"dark", "unknown", "ended", "round", "who", "held", "stated", "step", "place", "early", "light", "undo"}
    assert refused | {"late", "limit"} <= whys
    assert grades == {"refused", "note", "deviation", "stop"}
    assert {"ended through", "ended scrap", "held 1", "lit 1", "lights 2", "confirm light", "sendback light",
            "round True", "resolved in", "resolved aside", "undone"} <= seen


def test_compiled_walks_see_a_case_with_several_lights() -> None:
    """Among the compiled tables some have two irreversible steps, and walks go on after the first of them was lit."""
    walks = [walk(seed, True) for seed in range(COMPILED)]
    several = [w for w in walks if sum(card["light"] for card in w.table["cards"]) > 1]
    assert len(several) > 20
    assert any(fold(w.table, w.events)["lit"] for w in several)


@cache
def known(first: int, last: int) -> tuple[str, list[str]]:
    """Return random walks as the page is given them, and Python's hash of each: one making serves every slip."""
    walks = [walk(seed, False) for seed in range(first, last)]
    return sent(walks), [hashed(w) for w in walks]


# What a slip of the hand could make of the page's half; each must be told from Python's by a few walks.
SLIPS = [
    ("fold.js", 'if (e.round !== s.round) return "round";', ""),
    ("fold.js", "e.t + limit[2] < s.stamps", "e.t + limit[2] <= s.stamps"),
    ("fold.js", "e.t - limit[2] > s.stamps", "e.t - limit[2] >= s.stamps"),
    ("fold.js", "e.when - last.when > act.undo", "e.when - last.when >= act.undo"),
    ("fold.js", "if (seen.has(event.id)) continue;", ""),
    ("fold.js", "!s.now || !asks(s, s.now)", "true"),
    ("fold.js", "delete s.stamps[card];", ""),
    ("fold.js", 'mark.grade === "refused");', "false);"),
    ("fold.js", "back.round = s.round + act.round;", ""),
    ("fold.js", 'act.of !== "place" ||', "true ||"),
    ("fold.js", '!== "none" && fits(table, act, p)', '!== "none"'),
    ("fold.js", "&& !(s.lit && act.reset.length)", ""),
    ("fold.js", 'if (s.lit && act.reset.length) return "light";', ""),
    ("fold.js", "[0-9]{1,9}", "\\\\d+"),
    ("fold.js", "(has(s.cells, step) && has(s.cells[step], place) ? s.cells[step][place] : \"none\")",
     '((s.cells[step] ?? {})[place] ?? "none") && (has(s.cells, step) ? s.cells[step][place] ?? "none" : "none")'),
    ("fold.js", 'if (s.dark) return "dark";', ""),
    ("fold.js", "s.stamps[step] >= s.stamps[found]", "s.stamps[step] > s.stamps[found]"),
    ("fold.js", "Math.max(0, e.t - s.dark)", "e.t - s.dark"),
    ("fold.js", "table.format > 1", "table.format > 0"),
    ("fold.js", "kept = kept.filter((one) => !anew.includes(one.step));", ";"),
    ("fold.js", "return kept.filter((one) => !reset.includes(one.step));", "return kept;"),
    ("clocks.js", "!has(state.stamps, since)", "!(since in state.stamps)"),
    ("clocks.js", 'kind === "floors" && act.step !== state.now', "false"),
]


@pytest.mark.browser
@pytest.mark.parametrize(("file", "right", "wrong"), SLIPS)
def test_a_slip_in_the_page_is_found(page: Page, static_url: str, file: str, right: str, wrong: str) -> None:
    """Each slip put into the page's half is told from Python's within a few walks: the comparison can fail."""
    def spoil(route: Route) -> None:
        text = route.fetch().text()
        assert text.count(right) == 1, f"{right!r} no longer stands in {file}"
        route.fulfill(body=text.replace(right, wrong), content_type="text/javascript")

    page.route(f"**/js/{file}", spoil)
    page.goto(f"{static_url}/vendor/")
    for first, last in ((0, 5), (5, 20), *((at, at + 20) for at in range(20, 400, 20))):
        text, here = known(first, last)
        if page.evaluate(FOLD_THERE, [text, False]) != here:
            return
    pytest.fail(f"400 walks do not notice {wrong!r} for {right!r} in {file}")


@pytest.mark.browser
def test_names_that_javascript_knows_are_marked_alike(folding: Page) -> None:
    """Events that name `__proto__` and the like get the same mark on both sides and leave nothing behind."""
    random = Random(5)
    table = compiled_table(random)
    first = table["cards"][0]["step"]
    odd = ["__proto__", "constructor", "toString", "hasOwnProperty", "valueOf", "prototype"]
    events: list[dict[str, Any]] = []
    for name in odd:
        for step, outcome, places in ((name, "x", ["-"]), (first, name, ["-"]), (first, "", [name]),
                                      (name, name, [name])):
            for act in [a["outcome"] for a in table["acts"] if a["step"] == first][:1]:
                events.append({
                    "id": f"e{len(events)}", "kind": "confirm", "step": step, "outcome": outcome or act,
                    "places": places, "round": 0, "values": [{"name": name, "value": name, "unit": name}],
                    "t": 1, "when": 1, "stated": 0, "undo": "", "allow": "", "roles": [name],
                })
    taken = Walk("odd names", table, events, list(range(len(events) + 1)))
    assert differing(folding, [taken]) == []
    state = fold(table, events)
    assert [mark["grade"] for mark in state["marks"]] == ["refused"] * len(events)
    assert state["cells"] == start(table)["cells"] and state["log"] == []
    assert folding.evaluate("Object.keys({}).length + Object.keys(Object.prototype).length") == 0
