"""Facts from the tablets: each one is stored once, whatever it says, and answered by its own id."""

import json
from dataclasses import dataclass
from typing import Any

from benchapp.actions.bench import Bench, Unknown
from benchapp.actions.jaws import line_for_writing
from benchapp.actions.lab import zone_of
from benchapp.actions.leaving import GONE, gone_at
from benchapp.actions.stock import marks_of_picks
from benchapp.core import events
from benchapp.core.caseline import waits
from benchapp.core.codes import CodeError, read_code
from benchapp.core.words import N_
from benchapp.store.errors import StoreError
from benchapp.store.journal import Entry, Writer

MOST = 500  # facts in one list; a tablet sends 50
TOGETHER = 16  # lists in one transaction; more than tablets that tap at the same moment


@dataclass(frozen=True)
class Answer:
    """What became of a list of facts: one answer per id, and the tip of the journal afterwards."""

    acks: list[dict[str, Any]]
    seq: int
    hash: str
    now: int


@dataclass
class _Job:
    """One list that waits for the journal; afterwards it holds an answer or an error."""

    tablet: str
    raw: bytes
    facts: list[Any] | None
    answer: Answer | None = None
    error: BaseException | None = None


def take_facts(bench: Bench, tablet: str, raw: bytes) -> Answer:
    """Store a list of facts (JSON bytes) from a tablet.

    Nothing is refused: what cannot be read is parked as bytes. A fact that is stored already is answered
    as stored before. Lists that wait at the same time are stored in one transaction by one of the waiting
    threads, and none is answered before its commit.
    """
    job = _Job(tablet, raw, _read(raw))
    bench.waiting.append(job)
    with bench.turn:
        while job.answer is None and job.error is None:
            _store(bench, [bench.waiting.popleft() for _ in range(min(len(bench.waiting), TOGETHER))])
    if job.error is not None:
        raise job.error
    assert job.answer is not None
    return job.answer


def _store(bench: Bench, jobs: list[_Job]) -> None:
    """Store lists in one transaction; all of them have an answer or an error afterwards."""
    try:
        with bench.writing() as writer:
            answers = [_answer(bench, writer, job) for job in jobs]
    except BaseException as error:
        if len(jobs) > 1 and isinstance(error, Exception) and not isinstance(error, StoreError):
            for job in jobs:  # one of them is at fault, not the disk: the others need not suffer
                _store(bench, [job])
            return
        for job in jobs:
            job.error = error
        return
    for job, answer in zip(jobs, answers, strict=True):
        job.answer = answer


def _answer(bench: Bench, writer: Writer, job: _Job) -> Answer:
    received = bench.received(writer)
    if job.facts is None:
        writer.park(received, job.tablet, N_("not a list of facts in JSON"), job.raw)
        acks = []
    else:
        acks = [_take(bench, writer, job.tablet, received, fact) for fact in job.facts]
    tip = writer.tip()
    return Answer(acks, tip.seq, tip.hash, bench.clock())


def _read(raw: bytes) -> list[Any] | None:
    try:
        facts = json.loads(raw)
    except (ValueError, RecursionError):
        return None
    return facts if isinstance(facts, list) and len(facts) <= MOST else None


def _take(bench: Bench, writer: Writer, tablet: str, received: int, raw: Any) -> dict[str, Any]:
    fact_id = raw.get("id") if isinstance(raw, dict) else None
    known = writer.find(fact_id) if isinstance(fact_id, str) and _sound(fact_id) else None
    if known is not None:
        return _ack(known, "again")
    try:
        fact = events.read_fact(raw)
    except events.EventError as error:
        writer.park(received, tablet, str(error)[:300], json.dumps(raw).encode())
        return {"id": fact_id, "was": "parked", "why": str(error)[:300], "marks": []}
    event = events.event_dict(fact)
    when = _when(bench, writer, tablet, fact, received)
    roles, extra = _who(bench, writer, tablet, fact, when)
    marks = _fold(bench, writer, event, received, when, roles)
    extra += _unfit(bench, writer, fact, when)
    entry = bench.write(writer, event, received, when, marks + extra, roles, tablet)
    bench.last_when[tablet] = when
    found = bench.jaws.get(fact.jaw)
    if found is not None:
        found.seq = entry.seq
    return _ack(entry, "stored")


def _sound(text: str) -> bool:
    return text.isascii() and len(text) <= 64


def _ack(entry: Entry, was: str) -> dict[str, Any]:
    server = events.read_body(entry.body)["server"]
    return {
        "id": entry.event_id, "was": was, "seq": entry.seq, "hash": entry.hash, "when": server["when"],
        "received": server["received"], "marks": server["marks"], "roles": server["roles"],
    }


def _when(bench: Bench, writer: Writer, tablet: str, fact: events.Event, received: int) -> int:
    """The tablet's own time: never later than received, never backwards for one tablet."""
    if tablet not in bench.last_when:
        last = writer.last_tagged("tablet", tablet)
        bench.last_when[tablet] = events.read_body(last.body)["server"]["when"] if last else 0
    return max(min(fact.at.wall + fact.at.offset, received), bench.last_when[tablet])


def _who(
    bench: Bench, writer: Writer, tablet: str, fact: events.Event, when: int
) -> tuple[list[str], list[list[str]]]:
    """Return the roles of the person as of now, and marks that only the server can set."""
    marks: list[list[str]] = []
    person = writer.last_tagged("thing", fact.by.person)
    data = events.read_body(person.body)["event"].get("data", {}) if person else {}
    if fact.kind in events.FOLDED:
        if fact.by.how == "claimed" or not _signed_in(writer, fact):
            marks.append(["claimed", "note"])
        if gone_at(bench, writer, fact.by.person, when):
            marks.append(GONE)  # it happened, so it is stored, and a supervisor reads it
    if fact.from_.tablet not in ("", tablet):
        marks.append(["tablet", "note"])
    return list(data.get("roles", [])), marks


def _signed_in(writer: Writer, fact: events.Event) -> bool:
    entry = writer.find(fact.by.signin) if fact.by.signin and _sound(fact.by.signin) else None
    if entry is None:
        return False
    event = events.read_body(entry.body)["event"]
    return bool(event["kind"] == "signin" and event["by"]["person"] == fact.by.person)


def _unfit(bench: Bench, writer: Writer, fact: events.Event, when: int) -> list[list[str]]:
    """Mark a fact that picked what was not fit for use: it happened, so it is stored, and a supervisor reads it."""
    if fact.kind != "confirm" or not fact.picks:
        return []
    found = bench.jaws.get(fact.jaw)
    return marks_of_picks(writer, fact.picks, when, found.case if found else {}, zone_of(bench))


def _fold(
    bench: Bench, writer: Writer, event: dict[str, Any], received: int, when: int, roles: list[str]
) -> list[list[str]]:
    if event["kind"] not in events.FOLDED:
        return []
    try:
        if read_code(event["jaw"]).code != event["jaw"]:
            return [["jaw", "refused"]]  # its tag would not find it again
        found = line_for_writing(bench, event["jaw"], writer)
    except (Unknown, CodeError):
        return [["jaw", "refused"]]
    server = {"seq": found.seq, "received": received, "when": when, "marks": [], "roles": roles}
    marks = found.add({"event": event, "server": server})
    if event["kind"] == "resume" and not marks and waits(found.case):
        marks = [["waits", "deviation"]]  # only the PC knows what the case waits for
    return marks

