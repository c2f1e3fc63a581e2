"""Whether the PC may fall asleep: asked of every jaw in work."""

from benchapp.actions.bench import Bench
from benchapp.actions.overview import lines_in_work
from benchapp.core import events
from benchapp.core.awake import awake_until


def lab_awake_until(bench: Bench) -> int:
    """Return the moment (UTC ms) until which the PC must stay awake for any jaw in work, 0 for none."""
    latest = 0
    for known in lines_in_work(bench):
        entry = bench.store.entry(known.seq)
        last = events.read_body(entry.body)["server"]["when"] if entry else 0
        latest = max(latest, awake_until(known.table, known.state, last))
    return latest
