"""Whoever looks after the seating checks: begins those that are due, and stores what came of them, each once."""

import json
from dataclasses import dataclass, field
from typing import Any

from benchapp.actions.bench import Bench
from benchapp.actions.jaws import line
from benchapp.actions.seating import asked_of, checks_of, due, meshes_of
from benchapp.background import Result
from benchapp.core import events, seal
from benchapp.core.seating_line import MeshFile, summary_of
from benchapp.core.words import N_
from benchapp.seating.report import DEFINITIONS  # plain data: it loads none of the libraries that compute
from benchapp.store.meshes import Meshes

CHANGES = ("mesh", "correct", "remake")  # what may let a check be due
TRIES = 3  # a process that ends without a result so often is not begun again
GAVE_UP = N_("The check ended {tries} times without a result, so it is not begun again by itself. The files may be too "
             "large for this PC: export them with fewer triangles.")


@dataclass
class Keeper:
    """One look after the other; it remembers which entries it has seen and which jaws are open."""

    bench: Bench
    seen: int = 0
    jaws: set[str] = field(default_factory=set)
    lost: dict[str, int] = field(default_factory=dict)

    def look(self) -> bool:
        """Begin what is due and store what is done; return whether a check is still open."""
        self._read()
        busy = False
        for code in sorted(self.jaws):
            pair = due(line(self.bench, code))
            if pair is None:
                self.jaws.discard(code)
            elif _are_there(meshes_of(self.bench), pair):
                busy = self._tend(code, pair, busy) or busy
        return bool(self.jaws)

    def _read(self) -> None:
        """Note the jaws of which something may be due, by the entries that came since."""
        first, until = not self.seen, self.bench.store.tip().seq
        if until == self.seen:
            return
        done = _stored(self.bench) if first else frozenset()
        for kind in CHANGES[:1] if first else CHANGES:
            for entry in self.bench.store.tagged("kind", kind, self.seen):
                event = events.read_body(entry.body)["event"]
                if kind == "mesh" and event["id"] not in done:
                    self.jaws.add(event["jaw"])
                elif kind != "mesh":
                    self.jaws |= set(_of_case(self.bench, event["case"]))
        self.seen = until

    def _tend(self, code: str, pair: tuple[MeshFile, MeshFile], busy: bool) -> bool:
        """Bring the check of one jaw one step further, and tell whether it is at work.

        As long as another one is `busy` it is not begun: a hundred files that came at once are no hundred processes.
        """
        base, arch = pair
        checks, meshes = checks_of(self.bench), meshes_of(self.bench)
        asked = asked_of(self.bench, line(self.bench, code))
        key = checks.named(base.hash, arch.hash, asked)
        state = checks.look(key).state
        if state in ("none", "lost") and not busy:
            self.lost[key] = self.lost.get(key, 0) + int(state == "lost")
            if self.lost[key] >= TRIES:
                store_result(self.bench, code, pair, key, Result(None, (GAVE_UP.format(tries=TRIES),)))
                return False
            checks.begin(meshes.path(base.hash), meshes.path(arch.hash), asked, key)
            state = "waiting"
        if (result := checks.result(key)) is not None:
            store_result(self.bench, code, pair, key, result)
            return False
        return state in ("waiting", "running")


def _stored(bench: Bench) -> frozenset[str]:
    """Return the ids of the `mesh` events of which a check is stored."""
    found = (events.read_body(entry.body)["event"] for entry in bench.store.tagged("kind", "seating"))
    return frozenset(id for event in found for id in event["data"]["of"])


def _of_case(bench: Bench, code: str) -> list[str]:
    """Return those jaws of a case to which a file was ever attached."""
    opened = bench.store.first_tagged("case", code)
    jaws = events.read_body(opened.body)["event"].get("data", {}).get("jaws", []) if opened else []
    return [jaw["code"] for jaw in jaws if line(bench, jaw["code"]).seating]


def _are_there(meshes: Meshes, pair: tuple[MeshFile, MeshFile]) -> bool:
    return all(meshes.there(file.hash) for file in pair)


def store_result(bench: Bench, code: str, pair: tuple[MeshFile, MeshFile], key: str, result: Result) -> bool:
    """Store what came of a check, in the name of whoever attached the last file; return whether it was not stored yet.

    The whole report lies apart, by its hash. Where a pair was refused there is none; the sentences lie in `texts`.
    """
    base, arch = pair
    last = max(pair, key=lambda file: file.seq)
    data: dict[str, Any] = {
        "base": base.hash, "arch": arch.hash, "revision": base.revision, "key": key, "of": [base.id, arch.id],
        "definitions": result.report["definitions_version"] if result.report else DEFINITIONS,
    }
    with bench.store.writing() as writer:
        found = line(bench, code)
        if due(found) != pair:
            return False
        if result.report is not None:
            body = json.dumps(result.report, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()
            data |= {"report": seal.digest(body), "summary": summary_of(result.report)}
            writer.add_course(data["report"], body)
        else:
            data["texts"] = {
                f"fault-{at}": bench.text(writer, words) for at, words in enumerate(result.faults, 1)
            }
        bench.request(
            writer, "seating", last.person, case=found.case["code"], jaw=code, data=data,
            outcome="told" if result.report else "refused",
        )
    return True
