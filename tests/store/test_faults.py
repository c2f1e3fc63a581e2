"""A full disk and a killed process: what was acknowledged is there, what was refused is not, work goes on."""

import subprocess
import sys
from pathlib import Path

import pytest

from benchapp.store import folder
from benchapp.store.errors import DiskFull
from benchapp.store.journal import Store, Tip
from benchapp.store.verify import verify

from .conftest import append, body_of, fill, tags_of

CHILD = """
import sys
from pathlib import Path
from benchapp.store import folder
from tests.store.conftest import append
with folder.open_for_writing(Path(sys.argv[1])) as store:
    while True:
        entry = append(store, f"r{sys.argv[2]}-{store.tip().seq + 1}")
        print(entry.seq, entry.event_id, entry.hash, flush=True)
"""

FULL = """
import resource, signal, sys
from pathlib import Path
from benchapp.store import folder
from benchapp.store.errors import DiskFull
from benchapp.store.verify import verify
from tests.store.conftest import append, tags_of
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
with folder.open_for_writing(Path(sys.argv[1])) as store:
    append(store, "before")
    hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, hard))
    stored = ["before"]
    refused = 0
    while refused < 3:
        try:
            name = f"e{len(stored)}"
            append(store, name)
            stored.append(name)
        except DiskFull as error:
            assert "free some space" in str(error), error
            refused += 1
    assert len(stored) > 5
    assert [entry.event_id for entry in store.entries()] == stored
    resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
    append(store, "after")
    assert [entry.event_id for entry in store.entries()] == [*stored, "after"]
    assert verify(store, tags_of) == store.tip()
    print("well", len(stored))
"""

ROOT = Path(__file__).resolve().parents[2]


def limit(store: Store, pages: int) -> int:
    """Let the database grow no further than to this many pages, 0 for what it has now; return what it was."""
    with store.writing() as writer:
        connection = writer.connection
        before: int = connection.execute("PRAGMA max_page_count").fetchone()[0]
        now = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages or now}")
    return before


def test_a_full_disk_is_said_and_nothing_is_lost(store: Store) -> None:
    """With no room to grow, appends are refused as DiskFull until there is; entries before and after hold."""
    fill(store, 50)
    room = limit(store, 0)
    stored = 50
    for _ in range(3):
        with pytest.raises(DiskFull, match="free some space"):
            while True:
                append(store, f"n{stored + 1}")
                stored += 1
        assert store.tip().seq == stored
    assert store.find(f"n{stored + 1}") is None
    limit(store, room)
    assert append(store, f"n{stored + 1}").seq == stored + 1
    assert verify(store, tags_of) == Tip(stored + 1, store.tip().hash)


def test_a_full_disk_in_the_middle_of_a_list_takes_the_whole_list_back(store: Store) -> None:
    """When the room ends inside a transaction of many events, none of them is stored."""
    fill(store, 50)
    before = store.tip()
    limit(store, 0)
    with pytest.raises(DiskFull), store.writing() as writer:
        for seq in range(51, 1000):
            writer.add(f"n{seq}", body_of(f"n{seq}", seq), [])
    assert store.tip() == before
    assert verify(store, tags_of) == before


@pytest.mark.skipif(sys.platform == "win32", reason="the limit on a file's size exists on POSIX only")
def test_a_refused_write_of_the_system_is_said_and_nothing_is_lost(place: Path) -> None:
    """When the operating system itself refuses to write, the store says DiskFull, and works once it can."""
    done = subprocess.run([sys.executable, "-c", FULL, str(place)], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("well")


@pytest.mark.parametrize("number", range(10))
def test_what_a_killed_process_said_is_stored(place: Path, number: int) -> None:
    """A process killed in the middle of appending has stored all that it had said was stored."""
    with folder.open_for_writing(place) as store:
        fill(store, 20)
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(place), str(number)], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    said = [child.stdout.readline() for _ in range(5 + 37 * number)]
    child.kill()
    said += child.stdout.read().splitlines(keepends=True)
    child.stdout.close()
    child.wait()
    whole = [line.split() for line in said if line.endswith("\n")]
    assert len(whole) >= 5 + 37 * number
    with folder.open_for_writing(place) as store:
        for seq, event_id, hash in whole:
            entry = store.entry(int(seq))
            assert entry is not None and (entry.event_id, entry.hash) == (event_id, hash)
        last = Tip(int(whole[-1][0]), whole[-1][2])
        assert verify(store, tags_of, last) == store.tip()
        # At most the one that was committed and not yet said is there besides.
        assert store.tip().seq - last.seq in (0, 1)
        assert append(store, "afterwards").seq == store.tip().seq
