"""A data folder with a long journal, built fast: real envelopes, a chain that verifies, tags, texts and triggers.

Every case is worked by the default protocol from its sheet to the last step, in the tablet's own past, so that
all floors have run out; what is left of a case's share are pages that were opened.
"""

import contextlib
import json
import random
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchapp import paths
from benchapp.actions.lab import add_lab, people
from benchapp.actions.stock import things
from benchapp.core import events, seal
from benchapp.core.codes import make_code
from benchapp.core.course import compile_table, table_bytes
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.sheet import read_lab
from benchapp.core.walk import walk_on
from benchapp.serve import bench_of
from benchapp.store.engine import connect, sqlite3
from benchapp.store.folder import DataFolder, create, open_for_writing
from tests.benchmarks.machine import say

DAY = 24 * 3600 * 1000
BEGAN = 1_500_000_000_000  # UTC ms; the bulk is written as of then: 20,000 cases one after another take 4 years
TEETH = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
STEP = 50_000


@dataclass
class Template:
    """What all jaws have in common: table, the legal way through it, picks and values by step, the lab's people."""

    protocol: bytes
    table: bytes
    person: str
    walk: list[dict[str, Any]] = field(default_factory=list)
    picks: dict[str, dict[str, str]] = field(default_factory=dict)
    values: dict[str, list[dict[str, str]]] = field(default_factory=dict)

    def fact(self, number: int, code: str, case: str, parts: dict[str, str], by: dict[str, str], at: int,
             new_id: str) -> dict[str, Any]:
        """Return confirmation `number` of the way through as a tablet sends it; `at` is the jaw's first moment."""
        event = self.walk[number]
        picks = {name: parts.get(code, code) for name, code in self.picks.get(event["step"], {}).items()}
        return {
            "v": 1, "kind": "confirm", "id": new_id, "case": case, "jaw": code, "round": 0, "step": event["step"],
            "places": event["places"], "outcome": event["outcome"], "values": self.values.get(event["step"], []),
            "picks": picks, "by": by,
            "from": {"tablet": "", "boot": "b3f9c1f4-6a34-4d0b-9c52-0f7b5d9a2e11", "n": number + 1,
                     "app": "0123456789ab", "table": seal.digest(self.table)},
            "at": {"wall": at + event["t"], "offset": 0, "age": 0, "mono": event["t"]},
            "saw": {"seq": 0, "ms": 4200},
        }


@dataclass(frozen=True)
class Fresh:
    """A jaw that was accepted and waits: its code, its case, and what its parts' picks stand for."""

    code: str
    case: str
    parts: dict[str, str]


@dataclass
class Built:
    """A folder, what its jaws have in common, and the jaws that nobody has touched yet."""

    data: Path
    entries: int
    template: Template
    fresh: list[Fresh]


def template_of(data: Path) -> Template:
    """Return the template for a folder's lab."""
    text = (paths.PROTOCOLS / "green-splinted.toml").read_bytes()
    protocol = read_protocol("protocol", text.decode())
    compiled = compile_table(protocol, "upper", TEETH)
    state, walk = walk_on(compiled, [], 0)
    assert state["ended"] == "through" and not state["marks"], state["marks"]
    with (store := open_for_writing(data)):
        bench = bench_of(store)
        known, person = things(bench), people(bench)[0].id
    found = Template(text, table_bytes(compiled), person, walk)
    for step in protocol.steps:
        found.values[step.id] = [{"name": v.name, "value": str(v.usual), "unit": v.unit} for v in step.values]
        found.picks[step.id] = {
            pick.name: pick.kind or "" if pick.of == "part" else next(
                (t.code for t in known if t.of == pick.of and pick.kind in (None, t.kind)), person)
            for pick in step.picks
        }
    return found


def build(data: Path, entries: int, cases: int, fresh: int, seed: int = 1) -> Built:
    """Make a data folder with `entries` journal entries from `cases` cases and `fresh` untouched jaws on top.

    A folder that an earlier run built with the same numbers is used again.
    """
    note = data / "built.json"
    wanted = {"entries": entries, "cases": cases, "seed": seed}
    if not DataFolder(data).database.exists():
        say(f"building {entries:,} entries from {cases:,} cases in {data}")
        create(data, f"bench-lab-{seed}")
        sheet = read_lab("lab.toml", (paths.DEMO_CASES / "lab.toml").read_text("utf-8"))
        with (store := open_for_writing(data)):
            add_lab(bench_of(store), sheet)
        _Bulk(data, template_of(data), random.Random(seed)).run(entries, cases)
        note.write_text(json.dumps(wanted), "utf-8")
    elif not note.exists() or json.loads(note.read_text("utf-8")) != wanted:
        raise SystemExit(f"{data} holds another journal than the one asked for: name another folder.")
    template = template_of(data)
    bulk = _Bulk(data, template, random.Random())  # fresh codes every time, so that no jaw is met twice
    return Built(data, entries, template, bulk.run(bulk.tip()[0] + fresh, 0, fresh))


class _Bulk:
    """One transaction that appends to a journal of its own making."""

    def __init__(self, data: Path, template: Template, rng: random.Random) -> None:
        self.path, self.template, self.rng = DataFolder(data).database, template, rng
        self.t = BEGAN
        self.texts: list[tuple[str, bytes, str]] = []
        self.fresh: list[Fresh] = []

    def tip(self) -> tuple[int, str]:
        """Return number and hash of the last entry."""
        with contextlib.closing(connect(self.path, "ro")) as connection:
            found: tuple[int, str] = connection.execute(
                "SELECT seq, hash FROM journal ORDER BY seq DESC LIMIT 1").fetchone()
            return found

    def run(self, entries: int, cases: int, fresh: int = 0) -> list[Fresh]:
        """Append until the journal holds `entries`; return the jaws that were only accepted."""
        seq, last = self.tip()
        with contextlib.closing(connect(self.path, "rw")) as connection:
            for pragma in ("synchronous = OFF", "cache_size = -1000000", "temp_store = MEMORY"):
                connection.execute(f"PRAGMA {pragma}")
            connection.execute("BEGIN IMMEDIATE")
            guards = connection.execute(
                "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'journal'").fetchall()
            for name, _ in guards:  # put back below, word for word; opening the folder compares them
                connection.execute(f"DROP TRIGGER {name}")
            for body in (self.template.table, self.template.protocol):
                connection.execute("INSERT OR IGNORE INTO course SELECT ?1, ?2 WHERE NOT EXISTS "
                                   "(SELECT 1 FROM course WHERE hash = ?1)", (seal.digest(body), body))
            connection.execute("CREATE TEMP TABLE found (name TEXT, value TEXT, seq INTEGER)")
            self._append(connection, seq, last, entries, cases, fresh)
            connection.execute("INSERT INTO tag SELECT DISTINCT name, value, seq FROM found ORDER BY 1, 2, 3")
            connection.executemany("INSERT INTO texts VALUES (?, ?, ?)", self.texts)
            for _, sql in guards:
                connection.execute(sql)
            connection.execute("COMMIT")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return self.fresh

    def _append(self, connection: sqlite3.Connection, seq: int, last: str, entries: int, cases: int,
                fresh: int) -> None:
        stream = self._events(entries - seq, cases, fresh)
        while seq < entries:
            rows, tags = [], []
            for event, tablet in stream:
                seq += 1
                roles = ["technician"] if tablet else []
                server = {"seq": seq, "received": self.t, "when": self.t, "marks": [], "roles": roles,
                          "tablet": tablet}
                body = events.body_bytes(event, server)
                before, last = last, seal.link(last, body)
                rows.append((seq, event["id"], body, before, last))
                tags += [(name, value, seq) for name, value in _tags(event, tablet)]
                if len(rows) == STEP:
                    break
            connection.executemany("INSERT INTO journal VALUES (?, ?, ?, ?, ?)", rows)
            connection.executemany("INSERT INTO temp.found VALUES (?, ?, ?)", tags)
            if entries > STEP:
                say(f"  {seq:,} of {entries:,}")

    def _events(self, wanted: int, cases: int, fresh: int) -> Iterator[tuple[dict[str, Any], str]]:
        left = wanted - fresh
        for number in range(cases):
            share = left // (cases - number)
            left -= share
            yield from self._case(share)
        for _ in range(fresh):
            case, jaw = self._accepted()
            self.fresh.append(jaw)
            yield case, ""

    def _case(self, share: int) -> Iterator[tuple[dict[str, Any], str]]:
        event, jaw = self._accepted()
        tablet = f"T{self.rng.randrange(8)}BENCHMRK"
        by = {"person": self.template.person, "how": "pin", "signin": self._id()}
        yield event, ""
        signin = self._plain("signin", case="", jaw="", by=by | {"signin": ""}, id=by["signin"])
        kinds = [signin, *([None] * len(self.template.walk))][: share - 1]
        opened = max(0, share - 1 - len(kinds))
        began, number = self.t, 0
        for known in kinds:
            if known is None:
                fact = self.template.fact(number, jaw.code, jaw.case, jaw.parts, by, began, self._id())
                number += 1
                self.t = fact["at"]["wall"]
                yield fact, tablet
            else:
                yield known, tablet
        for _ in range(opened):
            yield self._plain("opened", case=jaw.case, jaw=jaw.code, by=by, id=self._id()), tablet

    def _accepted(self) -> tuple[dict[str, Any], Fresh]:
        self.t += 60_000
        code, case = make_code("1", self.rng.choice), make_code("0", self.rng.choice)
        parts = {"base": make_code("B", self.rng.choice), "arch": make_code("A", self.rng.choice)}
        texts = {}
        for name in ("patient", "prescriber", "order"):
            salt, text = self.rng.randbytes(16), f"{name} {case}"
            texts[name] = seal.text_id(salt, text)
            self.texts.append((texts[name], salt, text))
        jaw = {
            "jaw": "upper", "code": code, "teeth": list(TEETH), "table": seal.digest(self.template.table),
            "protocol": seal.digest(self.template.protocol),
            "parts": [{"part": part, "code": tag, "make": 1, "revision": "B", "print_job": "P-118"}
                      for part, tag in parts.items()],
        }
        data = {
            "code": case, "kind": "new", "due": "2031-01-15", "shade": "light warm 2", "tint": "rose 2",
            "allergy": "no", "options": [], "training": 1, "speed": 1, "jaws": [jaw], "texts": texts,
        }
        return self._plain("case", case=case, id=self._id(), data=data), Fresh(code, case, parts)

    def _plain(self, kind: str, **what: Any) -> dict[str, Any]:
        return {
            "v": 1, "kind": kind, "id": "", "case": "", "jaw": "", "round": 0, "step": "", "places": [],
            "outcome": "", "values": [], "picks": {}, "by": {"person": "", "how": "pc", "signin": ""},
            "from": {"tablet": "", "boot": "", "n": 0, "app": "0.1.0"},
            "at": {"wall": self.t, "offset": 0, "age": 0, "mono": 0}, "saw": {"seq": 0, "ms": 0},
        } | what

    def _id(self) -> str:
        return str(uuid.UUID(int=self.rng.getrandbits(128), version=4))


def _tags(event: dict[str, Any], tablet: str) -> list[tuple[str, str]]:
    """As `events.tags_of`, without reading the bytes again; `verify` compares the two."""
    pairs = [("kind", event["kind"]), ("case", event["case"]), ("jaw", event["jaw"]),
             ("person", event["by"]["person"]), ("tablet", tablet)]
    pairs += [("picked", picked) for picked in event["picks"].values()]
    for jaw in event["data"]["jaws"] if "data" in event else []:
        pairs += [("jaw", jaw["code"]), *(("part", part["code"]) for part in jaw["parts"])]
    return [pair for pair in pairs if pair[1]]
