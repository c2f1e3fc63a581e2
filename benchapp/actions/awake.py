"""Whether the PC may fall asleep: asked of every jaw in work."""

from benchapp.actions.bench import Bench
from benchapp.actions.cases import all_cases
from benchapp.actions.jaws import line
from benchapp.actions.overview import LOOKED_AT
from benchapp.core import events
from benchapp.core.awake import awake_until


def lab_awake_until(bench: Bench) -> int:
    """Return the moment (UTC ms) until which the PC must stay awake for any jaw in work, 0 for none."""
    latest = 0
    for accepted in all_cases(bench)[-LOOKED_AT:]:
        for jaw in line(bench, accepted["jaws"][0]["code"]).case["jaws"]:
            known = line(bench, jaw["code"])
            if known.state["ended"] or known.case["cancelled"]:
                continue
            entry = bench.store.entry(known.seq)
            last = events.read_body(entry.body)["server"]["when"] if entry else 0
            latest = max(latest, awake_until(known.table, known.state, last))
    return latest
