"""The demo: an invented lab and three jaws with their design files in a data folder of its own."""

import re
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from benchapp import chance, paths
from benchapp.actions.bench import Bench, Refused
from benchapp.actions.cases import DEFAULT_PROTOCOL, add_case, all_cases
from benchapp.actions.desk import Seat
from benchapp.actions.editions import put_in_force
from benchapp.actions.lab import add_lab, people, today
from benchapp.actions.meshes import attach_copy
from benchapp.actions.settings import change
from benchapp.core.sheet import Sheet, read_lab, read_sheet
from benchapp.serve import open_bench
from benchapp.store.folder import DataFolder, create

FIRST, MORE = "first-upper", ("second-lower", "third-upper")
OF_FIRST = {"base": "meshes/good-base.stl", "arch": "meshes/good-arch.stl"}
SOON = timedelta(days=3)  # from the day on which the demo is filled until its first case is due
DROPS = "20"  # in a ml, the round figure of pharmacy (from memory)


@dataclass(frozen=True)
class Shown:
    """What the demo prints: people with roles and PINs, jaws with words, label files, speed."""

    people: list[tuple[str, tuple[str, ...], str]]
    jaws: list[tuple[str, str]]
    labels: list[Path]
    speed: int


def fill(data: Path, speed: int = 1, one_jaw: bool = False) -> Shown:
    """Fill an absent or empty folder with the demo; a folder that holds it already is used as it is.

    With `one_jaw` it is the first jaw alone, without design files. Refused when the folder holds the demo at another
    speed: a running case keeps its table.
    """
    from benchapp.paper.jaw_labels import labels_of, write_labels  # here: `serve` need not wait for what draws

    sheet = read_lab("lab.toml", _text("lab"))
    if not DataFolder(data).database.exists():
        create(data, chance.new_id())
    with (bench := open_bench(data)).store:
        if not all_cases(bench):
            add_lab(bench, sheet)
            if one_jaw:
                add_case(bench, _sheet(FIRST, today(bench)), DEFAULT_PROTOCOL.read_text("utf-8"), speed=speed)
            else:
                _three(bench, speed)
        cases = all_cases(bench)
        before = cases[0]["speed"]
        if before != speed:
            raise Refused(
                f"{data} holds the demo with --speed {before}. Use that speed, or another folder: --data OTHER."
            )
        labels = [label for c in cases for jaw in c["jaws"] for label in labels_of(bench, jaw["code"])]
    workers: list[tuple[str, tuple[str, ...], str]] = [
        (p.name, tuple(p.roles), p.pin or "as printed the first time") for p in sheet.people
    ]
    jaws = [(jaw["code"], f"{jaw['jaw']} jaw, code") for c in cases for jaw in c["jaws"]]
    return Shown(workers, jaws, write_labels(labels, data / "labels"), speed)


def _three(bench: Bench, speed: int) -> None:
    """Take three cases in by the lab's own edition; their seating checks begin once the folder is served."""
    boss = Seat(next(person for person in people(bench) if "supervisor" in person.roles))
    protocol = own_protocol()
    put_in_force(bench, boss, "seating.toml", protocol)
    change(bench, boss, "drops_per_ml", DROPS)
    for name in (FIRST, *MORE):
        sheet = _sheet(name, today(bench))
        (jaw,) = add_case(bench, sheet, protocol, speed=speed).jaws
        for part in sheet.jaws[0].parts:
            attach_copy(bench, jaw["code"], part.part, paths.DEMO_CASES / (part.mesh or OF_FIRST[part.part]))


def own_protocol() -> str:
    """Return the demo lab's edition: the protocol that ships, with the limits of `demo_cases/seating.toml`."""
    said = re.search(r'^(edition = "[^"]+")\n\n(\[seating\]\n.+)', _text("seating"), re.DOTALL | re.MULTILINE)
    assert said is not None
    text = re.sub(r'^edition = "[^"]+"', said[1], DEFAULT_PROTOCOL.read_text("utf-8"), count=1, flags=re.MULTILINE)
    return re.sub(r"^\[seating\]\n.+?\n(?=\n)", said[2], text, count=1, flags=re.DOTALL | re.MULTILINE)


def _sheet(name: str, day: date) -> Sheet:
    """Return a sheet as if it had come in on that day: due soon, the cases as many days apart as they are written."""
    sheet, first = (read_sheet(f"{one}.toml", _text(one)) for one in (name, FIRST))
    due = day + SOON + (sheet.case.due - first.case.due)
    return sheet.model_copy(update={"case": sheet.case.model_copy(update={"due": due})})


def _text(name: str) -> str:
    return (paths.DEMO_CASES / f"{name}.toml").read_text("utf-8")
