"""A restored journal says so itself."""

from benchapp.actions.bench import Bench
from benchapp.store.verify import Checkpoint


def note_restored(bench: Bench, checkpoint: Checkpoint) -> None:
    """Add the event `restored` with the checkpoint that the backup stood at."""
    with bench.store.writing() as writer:
        bench.request(writer, "restored", data={"seq": checkpoint.seq, "hash": checkpoint.hash})
