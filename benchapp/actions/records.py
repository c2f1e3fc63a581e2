"""The assembly record of a jaw, taken from the journal as it stands."""

from collections.abc import Iterable
from contextlib import suppress
from typing import Any

from benchapp.actions.bench import Bench, Unknown
from benchapp.actions.jaws import entries_of, line, protocol_of, texts_of
from benchapp.actions.lab import lab_of, people
from benchapp.actions.seating import picture_of, reports_for
from benchapp.actions.settings import setting
from benchapp.core import events
from benchapp.core.caseline import case_now
from benchapp.core.codes import CodeError, read_code
from benchapp.core.numbers import Numbers, numbers_of
from benchapp.core.record import Given, Record, make_record
from benchapp.core.record_after import standing_release
from benchapp.core.record_trail import Entry, follow
from benchapp.core.stock import Thing, read_thing
from benchapp.core.words import _
from benchapp.store.journal import Tip

THINGS = ("device", "material")


def record_of(bench: Bench, code: str, numbers: Numbers | None = None) -> Record:
    """Return the record of the jaw with this code, as typed; Unknown where no case has such a jaw.

    Teeth are named as the lab's setting says, or by `numbers`: a record for programs is always in ISO 3950.
    """
    return make_record(given_of(bench, code, numbers))


def still_picture(bench: Bench, record: Record) -> bytes | None:
    """Return the still picture (PNG) of the seating check on a record, None where there is none."""
    if record.seating is None or not record.seating.picture:
        return None
    with suppress(FileNotFoundError):
        return picture_of(bench, record.seating.picture).read_bytes()
    return None


def given_of(bench: Bench, code: str, numbers: Numbers | None = None) -> Given:
    """Return what the record of a jaw is made from; Unknown where no case has a jaw with this code, as typed."""
    try:
        read = read_code(code).code
    except CodeError as error:
        raise Unknown(_("That is not the code of a jaw: {why}.", why=error)) from None
    tip = bench.store.tip()
    found = line(bench, read)
    # What came after the tip was read stays out: the checkpoint vouches for no more than it covers.
    entries = [(e.seq, e.hash, body) for e, body in entries_of(bench, read) if e.seq <= tip.seq]
    accepted, changes = _case(bench, found.case["code"], tip)
    released = standing_release(follow(found.table, entries), (body for _seq, _hash, body in entries))
    until = released["server"]["seq"] if released else tip.seq
    case = case_now(accepted, [body for body in changes if body["server"]["seq"] <= until])
    jaw = next((jaw for jaw in case["jaws"] if jaw["code"] == read), found.jaw)
    lab = lab_of(bench)
    texts = {*case["texts"].values(), *_texts([accepted]), *_texts(b["event"].get("data", {}) for b in changes)}
    texts |= _texts(body["event"].get("data", {}) for _seq, _hash, body in entries)
    return Given(
        case=case,
        jaw=jaw,
        accepted=accepted,
        changes=changes,
        table=found.table,
        protocol=protocol_of(bench, found),
        entries=entries,
        texts=texts_of(bench, texts),
        people={p.id: p.name for p in people(bench)},
        things=_things(bench, entries),
        lab=(lab.name, lab.address, lab.zone),
        checkpoint=(tip.seq, tip.hash),
        version=bench.version,
        made=bench.clock(),
        numbers=numbers or numbers_of(setting(bench, "numbers")),
        **reports_for(bench, found),
    )


def _case(bench: Bench, code: str, tip: Tip) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return what a case was accepted with, and the bodies that changed it since."""
    first = bench.store.first_tagged("case", code)
    if first is None:
        raise Unknown(_("No case has the code {code} here. Read the label again, or add its case sheet first.",
                        code=code))
    changes = [events.read_body(e.body) for e in bench.store.tagged("order", code) if e.seq <= tip.seq]
    return events.read_body(first.body)["event"]["data"], changes


def _texts(data: Iterable[dict[str, Any]]) -> set[str]:
    return {id for one in data for id in one.get("texts", {}).values() if isinstance(id, str) and id}


def _things(bench: Bench, entries: Iterable[Entry]) -> dict[str, Thing]:
    """Return the devices and lots that were picked for a jaw, as they are known now, by their codes."""
    found: dict[str, Thing] = {}
    for code in {code for _seq, _hash, body in entries for code in body["event"]["picks"].values()}:
        last = bench.store.last_tagged("thing", code)
        event = events.read_body(last.body)["event"] if last else None
        if event and event["kind"] in THINGS:
            data = event["data"]
            found[code] = read_thing(event["kind"], data, texts_of(bench, data["texts"].values()))
    return found
