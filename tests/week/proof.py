"""What is compared at the end of a week: records, marks, facts; and how long the desk's lists took."""

import json
import time
from dataclasses import dataclass, field

from benchapp.core import events
from benchapp.core.fold import fold
from tests.week.account import differences, marks_of
from tests.week.lab import WeekLab
from tests.week.ledger import Ledger, Mark
from tests.week.people import DeskSeat
from tests.week.replay import Jaw
from tests.week.rows import Journal

SERVERS_OWN = {"claimed", "tablet", "unfit", "waits", "jaw", "gone"}  # marks that only the PC can set


@dataclass
class Proof:
    """Counts of what was compared, and every difference in words."""

    cases: int = 0
    jaws: int = 0
    entries: int = 0
    confirmations: int = 0
    facts: int = 0
    doubles: int = 0
    marks: int = 0
    released: int = 0
    verified: str = ""
    wrong: list[str] = field(default_factory=list)


def prove(lab: WeekLab) -> Proof:
    """Compare every record with the second reading, every mark with the mistakes, every fact with its row."""
    journal = lab.journal()
    jaws = {code: Jaw(journal, code) for code in journal.jaws()}
    found = Proof(len(journal.cases()), len(jaws), len(journal.bodies), doubles=lab.ledger.doubles)
    desk = DeskSeat(lab, lab.bosses[0])
    for code, jaw in jaws.items():
        record = json.loads(desk.see(f"/record/{code}.json").text)
        found.wrong += differences(jaw, record)
        found.confirmations += record["confirmations"]["stored"]
        found.released += record["after"]["release"] is not None
        found.wrong += _same_marks(code, jaw)
    found.wrong += _facts(lab.ledger, journal, found)
    found.wrong += compare_marks(lab.ledger, journal, jaws, found)
    return found


def _same_marks(code: str, jaw: Jaw) -> list[str]:
    """Compare the marks that the PC stored with an entry with those of the second reading."""
    wrong = []
    for deed in jaw.deeds:
        stored = [tuple(m) for m in deed.body["server"]["marks"] if m[0] not in SERVERS_OWN]
        if sorted(stored) != sorted(deed.marks):
            seq, kind = deed.body["server"]["seq"], deed.event["kind"]
            wrong.append(f"jaw {code}: entry {seq} ({kind}) has the marks {stored}; by its table they are {deed.marks}")
        gone = jaw.journal.gone(deed.event["by"]["person"], deed.when)
        if gone != (["gone", "deviation"] in deed.body["server"]["marks"]):
            seq = deed.body["server"]["seq"]
            wrong.append(f"jaw {code}: whoever made entry {seq} was gone: {gone}, and its marks say otherwise")
    return wrong


def _facts(ledger: Ledger, journal: Journal, found: Proof) -> list[str]:
    """Each fact that a tablet without a browser sent has one row, however often it was sent."""
    rows = [b["event"]["id"] for b in journal.bodies if b["event"]["from"]["boot"].startswith("w-")]
    found.facts = len(rows)
    wrong = [] if len(rows) == len(set(rows)) else [f"{len(rows) - len(set(rows))} facts have two rows"]
    lost, strange = ledger.sent - set(rows), set(rows) - ledger.sent
    wrong += [f"facts without a row: {sorted(lost)[:5]}"] if lost else []
    return wrong + ([f"rows that nobody sent: {sorted(strange)[:5]}"] if strange else [])


def compare_marks(ledger: Ledger, journal: Journal, jaws: dict[str, Jaw], found: Proof) -> list[str]:
    """No mark without a mistake and no mistake without its mark, in the journal and in the state of the fold."""
    stored: dict[Mark, dict[str, str]] = {
        (b["event"]["id"], why, grade): b["event"] for b in journal.bodies for why, grade in b["server"]["marks"]
    }
    found.marks = len(stored)
    noted = set(ledger.marks)
    slow = {m for m, event in stored.items() if m[1] == "late" and (event["jaw"], event["step"]) in ledger.slow}
    wrong = [f"mark {m[1:]} at {stored[m]['kind']} {stored[m]['step']} of {stored[m]['jaw']} has no cause"
             for m in set(stored) - noted - slow]
    wrong += [f"{ledger.marks[m]!r} left no mark {m}" for m in noted - set(stored)]
    late = {(stored[m]["jaw"], stored[m]["step"]) for m in slow}
    wrong += [f"{where} was late at a page, without a mark" for where, surely in ledger.slow.items()
              if surely and where not in late]
    state = {(m["id"], m["why"], m["grade"]) for jaw in jaws.values() for m in _fold_marks(jaw)}
    gone = {m for m in noted | slow if m[0] in ledger.undone and m[2] != "refused"}
    due = {m for m in noted | slow if m[1] not in SERVERS_OWN} - gone
    wrong += [f"the fold marks {m} without a cause" for m in state - due]
    wrong += [f"the fold lost the mark {m}" for m in due - state]
    ours = {m for jaw in jaws.values() for m in marks_of(jaw.deeds)} - gone
    return wrong + [f"the second reading and the fold differ at {m}" for m in ours ^ state]


def _fold_marks(jaw: Jaw) -> list[dict[str, str]]:
    bodies = [b for b in jaw.own if b["event"]["kind"] in events.FOLDED]
    marks: list[dict[str, str]] = fold(jaw.table, map(events.fold_event, bodies))["marks"]
    return marks


def measure(desk: DeskSeat, times: int) -> dict[str, list[float]]:
    """Return how long each list of the desk took, in ms; each is asked once more before, which is not counted."""
    jaw, code = max((jaw, case) for jaw, (_, case) in desk.lab.journal().jaws().items())
    pages = {
        "today": "/desk/today", "cases": "/desk/cases", "marks": "/desk/marks", "deviations": "/desk/deviations",
        "materials": "/desk/materials", "people": "/desk/people", "one case": f"/desk/case/{code}",
        "release of a jaw": f"/desk/jaw/{jaw}/release",
    }
    found: dict[str, list[float]] = {}
    for name, path in pages.items():
        desk.see(path)
        for _ in range(times):
            began = time.perf_counter()
            desk.see(path)
            found.setdefault(name, []).append((time.perf_counter() - began) * 1000)
    return found
