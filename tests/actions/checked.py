"""Seating checks that end at once, with a report that a test holds; and files that can be design files."""

import json
from pathlib import Path
from typing import Any

from benchapp.actions.desk import Seat
from benchapp.actions.lab import people
from benchapp.actions.meshes import attach, coming
from benchapp.actions.seating_keeper import Keeper
from benchapp.background import Checks
from benchapp.seating.report import DEFINITIONS
from tests.actions.worked import UPPER, Worked
from tests.core.test_findings import report


class AtOnce(Checks):
    """Checks that are done when they are begun: what comes of each is handed in."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.begun: list[str] = []
        self.next: dict[str, Any] = {"report": None, "faults": []}

    def begin(self, base: Path, arch: Path, asked: dict[str, Any], key: str = "") -> str:
        """Note that a check was begun, and keep its result."""
        self.begun.append(key)
        self.folder.mkdir(exist_ok=True)
        (self.folder / f"{key}.json").write_text(json.dumps(self.next))
        return key


def stl(mark: str) -> bytes:
    """Return a binary STL of one triangle; `mark` tells it from others."""
    return mark.encode().ljust(80) + (1).to_bytes(4, "little") + bytes(50)


def told(files: dict[str, str], **over: Any) -> dict[str, Any]:
    """Return a report as a check keeps it: two deep teeth where nothing else is said."""
    whole = report(**({"depths": {16: 1.2, 15: 1.1}, "row": tuple(UPPER)} | over))
    for tooth in whole["teeth"]:
        tooth["depth_max_mm"] = tooth["depth_median_mm"]
    meshes = {part: {"sha256": name, "triangles": 1200, "closed": True} for part, name in files.items()}
    return whole | {
        "resin_ml": 0.42, "warnings": ["Coarse."], "definitions_version": DEFINITIONS, "meshes": meshes,
        "axis": [0.0, 0.0, 1.0], "axis_source": "given", "axis_spread_deg": 0.0, "leave_mm2": 2.0, "kerf_mm": 0.3,
        "jaw": "upper",
    }


def seat_of(jaw: Worked, at: int = 0) -> Seat:
    """Return one of the lab's people as they sit at the desk."""
    return Seat(people(jaw.bench)[at])


def put(jaw: Worked, part: str, data: bytes) -> str:
    """Attach bytes to a part of the jaw; return their SHA-256."""
    file = coming(jaw.bench)
    file.write_bytes(data)
    return attach(jaw.bench, seat_of(jaw), jaw.code, part, file)


def checked(jaw: Worked, result: dict[str, Any] | None = None, faults: tuple[str, ...] = (), **over: Any) -> Keeper:
    """Attach both files of the jaw, and store what came of their check; return who looked after it."""
    if not isinstance(jaw.bench.checks, AtOnce):
        jaw.bench.checks = AtOnce(jaw.bench.store.path.parent / "seating")
    files = {part: put(jaw, part, stl(part)) for part in ("base", "arch")}
    jaw.bench.checks.next = {"report": None if faults else result or told(files, **over), "faults": list(faults)}
    keeper = Keeper(jaw.bench)
    keeper.look()
    return keeper
