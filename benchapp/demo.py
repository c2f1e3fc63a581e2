"""The demo: an invented lab and one upper jaw in a data folder of its own."""

from dataclasses import dataclass
from pathlib import Path

from benchapp import chance, paths
from benchapp.actions.bench import Refused
from benchapp.actions.cases import add_case, all_cases
from benchapp.actions.lab import add_lab
from benchapp.core.sheet import read_lab, read_sheet
from benchapp.serve import open_bench
from benchapp.store.folder import DataFolder, create


@dataclass(frozen=True)
class Shown:
    """What the demo prints: people with roles and PINs, jaws with words, label files, speed."""

    people: list[tuple[str, tuple[str, ...], str]]
    jaws: list[tuple[str, str]]
    labels: list[Path]
    speed: int


def fill(data: Path, speed: int = 1) -> Shown:
    """Fill an absent or empty folder with the demo; a folder that holds it already is used as it is.

    Refused when the folder holds the demo at another speed: a running case keeps its table.
    """
    from benchapp.paper.jaw_labels import labels_of, write_labels  # here: `serve` need not wait for what draws

    sheet = read_lab("lab.toml", (paths.DEMO_CASES / "lab.toml").read_text("utf-8"))
    case = read_sheet("first-upper.toml", (paths.DEMO_CASES / "first-upper.toml").read_text("utf-8"))
    protocol = (paths.PROTOCOLS / "green-splinted.toml").read_text("utf-8")
    if not DataFolder(data).database.exists():
        create(data, chance.new_id())
    with (bench := open_bench(data)).store:
        if not all_cases(bench):
            add_lab(bench, sheet)
            add_case(bench, case, protocol, speed=speed)
        cases = all_cases(bench)
        before = cases[0]["speed"]
        if before != speed:
            raise Refused(
                f"{data} holds the demo with --speed {before}. Use that speed, or another folder: --data OTHER."
            )
        labels = [label for c in cases for jaw in c["jaws"] for label in labels_of(bench, jaw["code"])]
    people: list[tuple[str, tuple[str, ...], str]] = [
        (p.name, tuple(p.roles), p.pin or "as printed the first time") for p in sheet.people
    ]
    jaws = [(jaw["code"], f"{jaw['jaw']} jaw, code") for c in cases for jaw in c["jaws"]]
    return Shown(people, jaws, write_labels(labels, data / "labels"), speed)
