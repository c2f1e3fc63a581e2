"""The assembly record of a jaw, taken from the journal as it stands."""

from benchapp.actions.bench import Bench, Unknown
from benchapp.actions.jaws import entries_of, line, protocol_of, texts_of
from benchapp.actions.lab import lab_of, people, things
from benchapp.core.codes import CodeError, read_code
from benchapp.core.record import Given, Record, make_record


def record_of(bench: Bench, code: str) -> Record:
    """Return the record of the jaw with this code, as typed; Unknown where no case has such a jaw."""
    try:
        read = read_code(code).code
    except CodeError as error:
        raise Unknown(f"That is not the code of a jaw: {error}.") from None
    tip = bench.store.tip()
    found = line(bench, read)
    lab = lab_of(bench)
    return make_record(
        Given(
            case=found.case,
            jaw=found.jaw,
            table=found.table,
            protocol=protocol_of(bench, found),
            # What came after the tip was read stays out: the checkpoint vouches for no more than it covers.
            entries=[(e.seq, e.hash, body) for e, body in entries_of(bench, read) if e.seq <= tip.seq],
            texts=texts_of(bench, found.case["texts"].values()),
            people={p.id: p.name for p in people(bench)},
            things={t.code: " · ".join(w for w in (t.name, t.about) if w) for t in things(bench)},
            lab=(lab.name, lab.address, lab.zone),
            checkpoint=(tip.seq, tip.hash),
            version=bench.version,
            made=bench.clock(),
        )
    )
