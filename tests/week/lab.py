"""The lab of the week: its people, lots and devices; a server over it; jaws for the browsers, at speed 600."""

import shutil
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from benchapp.actions.cases import DEFAULT_PROTOCOL, add_case
from benchapp.actions.lab import add_lab
from benchapp.cli.shared import read_file
from benchapp.core.sheet import read_lab, read_sheet
from benchapp.serve import open_bench
from benchapp.store.folder import create
from tests.live import LiveLab
from tests.week.ledger import Ledger
from tests.week.rows import Journal

NAMES = (
    "Ada Ferrow", "Бора Лин", "Cato Wexel", "Dóra Vint", "Eero Salk", "Fee Ombre", "Gil Tarn", "Hana Ruys", "Ivo Brack",
    "Juno Marl", "Kea Dorn", "Løvi Strand", "Mats Elder", "Nia Quill", "Oda Fenn", "Pim Soler",
)
SPEED = 600
FRONT = [13, 12, 11, 21, 22, 23]

LAB = """
format = 1
name = "Estuary Week Laboratory (invented)"
address = "7 Tide Row, Nowhere"
zone = "Europe/Lisbon"
people = [
{people}
]
devices = [
  {{ name = "Lamp Stilt", kind = "lamp", band = [385, 405] }},
  {{ name = "Chamber Rail", kind = "chamber", band = [385, 405] }},
]
materials = [
  {{ name = "Week resin", kind = "bonding-resin", lot = "W-1", expiry = 2099-06-30, tint = "rose 2" }},
  {{ name = "Week resin", kind = "bonding-resin", lot = "W-OLD", expiry = 2001-01-31, tint = "rose 2" }},
  {{ name = "Week resin", kind = "bonding-resin", lot = "W-BLOCKED", expiry = 2099-06-30, blocked = "recalled" }},
  {{ name = "Week resin", kind = "bonding-resin", lot = "W-GREY", expiry = 2099-06-30, tint = "rose 3" }},
]
"""
CASE = """
format = 1
[case]
patient = "{patient}"
prescriber = "Practice at the ford"
order = "{order}"
kind = "new"
due = 2099-12-01
shade = "light 2"
tint = "rose 2"
allergy = "no"
[[jaws]]
jaw = "upper"
teeth = {teeth}
parts = [
  {{ part = "base", revision = "B", print_job = "W-1" }},
  {{ part = "arch", revision = "B", print_job = "W-2" }},
]
"""


@dataclass(frozen=True)
class Worker:
    """Somebody who works in the lab: id, printed name, PIN, whether a supervisor."""

    id: str
    name: str
    pin: str
    boss: bool


@dataclass
class WeekLab:
    """A served lab of `people` people with `browsers` jaws of each page in it already."""

    live: LiveLab
    ledger: Ledger = field(default_factory=Ledger)
    workers: list[Worker] = field(default_factory=list)
    things: dict[str, str] = field(default_factory=dict)  # code by lot, or by kind of device
    page_jaws: list[str] = field(default_factory=list)

    @property
    def hands(self) -> list[Worker]:
        """Who works at the bench."""
        return [worker for worker in self.workers if not worker.boss]

    @property
    def bosses(self) -> list[Worker]:
        """Who sits at the desk."""
        return [worker for worker in self.workers if worker.boss]

    def journal(self) -> Journal:
        """Return the rows as they are now."""
        return Journal.read(self.live.data)

    def order(self, order: str) -> dict[str, Any]:
        """Return the case of an order as it was accepted; KeyError where there is none."""
        journal = self.journal()
        accepted: list[dict[str, Any]] = [body["event"]["data"] for body in journal.of_kind("case")]
        return {journal.texts[case["texts"]["order"]]: case for case in accepted}[order]


def make_lab(folder: Path, people: int, page_jaws: int, seed: int) -> WeekLab:
    """Make the lab in `folder`, and start its server; a quarter of the people, and two at least, are supervisors."""
    draw = Random(f"people {seed}")
    bosses = max(2, people // 4)
    pins = draw.sample(range(1000, 9999), people)
    roles = ['["supervisor", "technician"]'] * bosses + ['["technician"]'] * (people - bosses)
    lines = [
        f'  {{ name = "{_name(at)}", roles = {roles[at]}, pin = "{pins[at]}" }},' for at in range(people)
    ]
    folder.mkdir(parents=True, exist_ok=True)
    lab = WeekLab(LiveLab(folder / "data", SPEED))
    create(lab.live.data, "lab-of-the-week")
    with (bench := open_bench(lab.live.data)).store:
        add_lab(bench, read_lab("lab.toml", LAB.format(people="\n".join(lines))))
        for number in range(page_jaws):  # no form asks for a speed: only a training lab has one
            text = CASE.format(patient=f"Page {number}", order=f"PAGE-{number}", teeth=FRONT)
            opened = add_case(bench, read_sheet("page.toml", text), read_file(DEFAULT_PROTOCOL), speed=SPEED)
            lab.page_jaws.append(opened.jaws[0]["code"])
    # As if today's backup were made: one more process at the start would only cost time here.
    shutil.copy(lab.live.data / "bench.sqlite3", lab.live.data / "backups" / "daily-0.sqlite3")
    _look(lab, dict(zip(map(_name, range(people)), pins, strict=True)))
    lab.live.start()
    return lab


def _name(at: int) -> str:
    return NAMES[at] if at < len(NAMES) else f"{NAMES[at % len(NAMES)]} {at}"


def _look(lab: WeekLab, pins: dict[str, int]) -> None:
    journal = lab.journal()
    for body in journal.of_kind("person"):
        data = body["event"]["data"]
        name = journal.texts[data["texts"]["name"]]
        lab.workers.append(Worker(data["thing"], name, str(pins[name]), "supervisor" in data["roles"]))
    for body in journal.of_kind("device", "material"):
        data = body["event"]["data"]
        lab.things[data.get("lot") or data["kind"]] = data["thing"]
