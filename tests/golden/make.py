"""Writes the golden journal of the newest version, once: `python -m tests.golden.make FOLDER`.

A journal that is kept already is never written again; a new version of the envelope gets a folder of its own.
"""

import json
import sys
import tempfile
from pathlib import Path

from tests.actions.worked import eventful, worked


def main(folder: Path) -> None:
    """Work one eventful jaw and keep its journal, table and state."""
    if (folder / "journal.jsonl").exists():
        raise SystemExit(f"{folder} is kept for ever: choose another folder")
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place, worked(Path(place) / "data") as jaw:
        eventful(jaw)
        entries = list(jaw.bench.store.entries())
        (folder / "journal.jsonl").write_bytes(b"".join(entry.body + b"\n" for entry in entries))
        (folder / "tip.txt").write_text(f"{entries[-1].seq}:{entries[-1].hash}\n", "utf-8")
        (folder / "table.json").write_text(json.dumps(jaw.line.table, indent=1, sort_keys=True) + "\n", "utf-8")
        state = {key: value for key, value in jaw.line.state.items() if key not in ("log", "refused")}
        (folder / "state.json").write_text(json.dumps(state, indent=1, sort_keys=True) + "\n", "utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
