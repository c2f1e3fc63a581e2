"""What must hold after every run, whatever went wrong in it: counted, so that a table can say so."""

import json
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from click.testing import CliRunner

from benchapp.cli import cli
from benchapp.core import events
from benchapp.core.fold import fold
from tests.faults.tablet import Tablet
from tests.live import LiveLab

Body = dict[str, Any]


@dataclass
class Proof:
    """What the journal and the tablets said at the end of a run; `wrong` is empty where all of it holds."""

    rows: int = 0
    confirmations: int = 0
    doubles: int = 0
    lost: int = 0
    wiped: int = 0  # gone with the tablet's storage before they were sent: nobody could have kept them
    strange: int = 0
    order_breaks: int = 0
    verified: bool = False
    folds_equal: bool = False
    wrong: list[str] = field(default_factory=list)


def facts(journal: Iterable[Body]) -> list[Body]:
    """Return the entries that came from tablets as facts, in order."""
    return [body for body in journal if body["event"]["kind"] in events.FACTS]


def table_of(lab: LiveLab, code: str) -> dict[str, Any]:
    """Return the table that a jaw was opened with, as stored."""
    cases = [b["event"]["data"] for b in lab.journal() if b["event"]["kind"] == "case"]
    name = next(jaw["table"] for case in cases for jaw in case["jaws"] if jaw["code"] == code)
    with closing(sqlite3.connect(f"file:{lab.data / 'bench.sqlite3'}?mode=ro", uri=True)) as connection:
        (body,) = connection.execute("SELECT body FROM course WHERE hash = ?", (name,)).fetchone()
    table: dict[str, Any] = json.loads(body)
    return table


def folded_here(lab: LiveLab, code: str, journal: list[Body]) -> dict[str, Any]:
    """Return the state that Python folds from the journal."""
    of_jaw = [b for b in journal if b["event"]["jaw"] == code and b["event"]["kind"] in events.FOLDED]
    return fold(table_of(lab, code), map(events.fold_event, of_jaw))


def plain(state: dict[str, Any]) -> dict[str, Any]:
    """Return a state without what the PC's answer adds to its events (number and marks)."""
    bare = {
        key: [{k: v for k, v in event.items() if k not in ("seq", "marks")} for event in state[key]]
        for key in ("log", "refused")
    }
    return state | bare


def order_breaks(journal: list[Body], tablets: Iterable[Tablet] = ()) -> int:
    """Count the facts that stand before an earlier one: of the same page life, or of the same tablet."""
    last: dict[str, int] = {}
    count = 0
    for body in facts(journal):
        origin = body["event"]["from"]
        count += origin["n"] <= last.get(origin["boot"], 0)
        last[origin["boot"]] = origin["n"]
    place = {body["event"]["id"]: seq for seq, body in enumerate(journal)}
    for tablet in tablets:
        known = [place[fact] for fact in tablet.stored if fact in place]
        count += sum(after < before for before, after in pairwise(known))
    return count


def prove(lab: LiveLab, code: str, tablets: list[Tablet]) -> Proof:
    """Compare journal and tablets after everything was sent; the server must be running."""
    found = Proof()
    for tablet in tablets:
        tablet.all_stored()
        waiting, _ = tablet.snapshot()
        found.wrong += [f"{len(waiting)} still wait on a tablet"] if waiting else []
    journal = lab.journal()
    rows = facts(journal)
    ids = [body["event"]["id"] for body in rows]
    stored = {fact for tablet in tablets for fact in (*tablet.stored, *tablet.seen)}
    gone = stored - set(ids)
    wiped = {fact for tablet in tablets for fact in tablet.wiped}
    found.rows = len(rows)
    found.confirmations = sum(body["event"]["kind"] == "confirm" for body in rows)
    found.doubles = len(ids) - len(set(ids))
    found.wiped, found.lost = len(gone & wiped), len(gone - wiped)
    found.strange = len(set(ids) - stored)
    found.order_breaks = order_breaks(journal, tablets)
    verify = CliRunner().invoke(cli, ["verify", "--data", str(lab.data)])
    found.verified = verify.exit_code == 0 and verify.output.startswith("Holds.")
    here = plain(folded_here(lab, code, journal))
    there = [plain(state) for tablet in tablets for state in (tablet.folded(), tablet.shown())]
    found.folds_equal = all(state == here for state in there)
    for tablet in tablets:
        tablet.page.wait_for_function("at => document.body.dataset.at === at", arg=here["now"] or here["ended"])
    for name in ("doubles", "lost", "strange", "order_breaks"):
        found.wrong += [f"{name}: {getattr(found, name)}"] if getattr(found, name) else []
    found.wrong += [] if found.verified else [verify.output]
    found.wrong += [] if found.folds_equal else [difference(here, there)]
    return found


def difference(here: dict[str, Any], there: list[dict[str, Any]]) -> str:
    """Return where the states differ, in words."""
    for number, state in enumerate(there):
        for key in here:
            if state.get(key) != here[key]:
                return f"state {number} of the pages differs in {key}: Python {here[key]} page {state.get(key)}"[:4000]
    return "the pages' states have other keys"
