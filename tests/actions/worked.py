"""A bench in a new data folder and a jaw that is worked on it tap by tap, with a clock that stands still."""

import json
import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchapp.actions.bench import Bench, Chance
from benchapp.actions.cases import Opened, add_case
from benchapp.actions.facts import take_facts
from benchapp.actions.jaws import JawLine, line
from benchapp.actions.lab import add_lab, people, sign_in
from benchapp.actions.stock import things
from benchapp.core.sheet import read_lab, read_sheet
from benchapp.core.walk import MINUTE, main_act, next_places, ready_at
from benchapp.paths import PROTOCOLS
from benchapp.store import folder

BEGUN = datetime(2026, 11, 24, 8, 0, 12, 345000, tzinfo=UTC)
START = int(BEGUN.timestamp() * 1000)
TABLET = "tablet-1"
PROTOCOL = (PROTOCOLS / "green-splinted.toml").read_text(encoding="utf-8")

LAB = """
format = 1
name = "Pracownia Żółw, invented"
address = "Wharf 3, Nowhere"
zone = "Europe/Warsaw"
people = [
  { name = "Łukasz Wiśniewski", roles = ["technician"], pin = "2468" },
  { name = "Зоя Ким", roles = ["technician", "supervisor"], pin = "1357" },
]
devices = [{ name = "Lamp Plover", kind = "lamp" }, { name = "Chamber Tern", kind = "chamber" }]
materials = [
  { name = "Bond pink, film ≤ 0.1 mm", kind = "bonding-resin", lot = "L-77", expiry = 2031-06-30 },
]
"""
CASE = """
format = 1
[case]
patient = "Żuraw 17"
prescriber = "Практика на набережной"
order = "T-2026-0017"
kind = "new"
due = 2026-12-01
shade = "light 2"
tint = "rose 2"
allergy = "none stated"
training = {training}
[[jaws]]
jaw = "{jaw}"
teeth = {teeth}
parts = [
  {{ part = "base", revision = "B", print_job = "P-118" }},
  {{ part = "arch", revision = "B", print_job = "P-119" }},
]
"""
UPPER = [17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27]
LOWER = [46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36]


@dataclass
class Worked:
    """A jaw under work: its bench, its code, the clock (UTC ms), and who is signed in."""

    bench: Bench
    opened: Opened
    ids: random.Random
    now: list[int]
    signins: dict[str, str] = field(default_factory=dict)
    person: str = ""
    sent: int = 0

    @property
    def code(self) -> str:
        """Code of the jaw."""
        return str(self.opened.jaws[0]["code"])

    @property
    def line(self) -> JawLine:
        """The jaw as the journal has it."""
        return line(self.bench, self.code)

    def sign_in(self, name: str, pin: str) -> None:
        """Put somebody at the tablet by PIN."""
        self.person = next(p.id for p in people(self.bench) if p.name == name)
        self.signins[self.person] = sign_in(self.bench, self.person, pin, TABLET)[0]

    def fact(self, kind: str, minutes: float = 1.0, **what: Any) -> dict[str, Any]:
        """Send one fact, some minutes after the last one; return its acknowledgement."""
        self.now[0] += round(minutes * MINUTE)
        self.sent += 1
        fact = {
            "v": 1, "kind": kind, "id": f"fact-{self.ids.getrandbits(64):016x}", "case": self.opened.code,
            "jaw": self.code, "round": self.line.state["round"], "step": "", "places": [], "outcome": "",
            "values": [], "picks": {},
            "by": {"person": self.person, "how": "pin", "signin": self.signins.get(self.person, "")},
            "from": {
                "tablet": TABLET, "boot": "b1", "n": self.sent, "app": "test", "table": self.line.table_hash,
            },
            "at": {"wall": self.now[0], "offset": 0, "age": 0, "mono": self.now[0]},
            "saw": {"seq": self.line.seq, "ms": 14_200},
        } | what  # fmt: skip
        (ack,) = take_facts(self.bench, TABLET, json.dumps([fact]).encode()).acks
        assert ack["was"] == "stored"
        return ack

    def say(self, outcome: str, places: list[str], minutes: float = 1.0, **what: Any) -> dict[str, Any]:
        """Confirm an outcome of the step that is on."""
        return self.fact("confirm", minutes, step=self.line.state["now"], outcome=outcome, places=places, **what)

    def main(self, minutes: float = 1.0) -> dict[str, Any]:
        """Do the main action of the step that is on, with its usual values and first fitting picks."""
        found = self.line
        act = main_act(found.table, found.state["now"])
        moment = ready_at(found.state, act, self.now[0] + round(minutes * MINUTE))
        return self.say(
            act["outcome"],
            next_places(found.table, found.state),
            (moment - self.now[0]) / MINUTE,
            **self.extra(act["step"]),
        )

    def extra(self, step: str) -> dict[str, Any]:
        """Return values and picks as a page fills them in beforehand."""
        parts = {p["part"]: p["code"] for p in self.opened.jaws[0]["parts"]}
        kinds = {thing.kind: thing.code for thing in things(self.bench)}
        return {
            "part-check": {"picks": parts},
            "lay-out": {"picks": {"resin": kinds["bonding-resin"], "lamp": kinds["lamp"]}, "values": [
                {"name": "resin-drops", "value": "0", "unit": ""},
            ]},
            "tack-light": {"values": [
                {"name": "positions", "value": "8", "unit": ""},
                {"name": "seconds", "value": "20", "unit": "s"},
            ]},
            "cure-first-side": {"picks": {"chamber": kinds["chamber"]}},
        }.get(step, {})  # fmt: skip

    def run_to(self, step: str = "", minutes: float = 1.0) -> None:
        """Do main actions until a step is on, or to the end."""
        while not self.line.state["ended"] and self.line.state["now"] != step:
            self.main(minutes)


@contextmanager
def worked(
    place: Path,
    jaw: str = "upper",
    speed: int = 1,
    training: bool = False,
    case: str = CASE,
    lab: str = LAB,
    start: datetime = BEGUN,
) -> Iterator[Worked]:
    """Open a jaw in a new data folder, with one person signed in."""
    ids, now = random.Random(20), [round(start.timestamp() * 1000)]
    chance = Chance(lambda: f"id-{ids.getrandbits(64):016x}", ids.randbytes, ids.choice)
    folder.create(place, "lab-of-the-tests")
    with folder.open_for_writing(place) as store:
        bench = Bench(store, lambda: now[0], chance, "0.1.0")
        add_lab(bench, read_lab("lab.toml", lab))
        teeth = UPPER if jaw == "upper" else LOWER
        sheet = read_sheet("case.toml", case.format(training=str(training).lower(), jaw=jaw, teeth=teeth))
        jaw_at_work = Worked(bench, add_case(bench, sheet, PROTOCOL, speed=speed), ids, now)
        jaw_at_work.sign_in(people(bench)[0].name, "2468")
        yield jaw_at_work


def eventful(jaw: Worked) -> dict[str, str]:
    """Work a whole jaw through with one of each exception; return the ids of the facts that made them."""
    ids: dict[str, str] = {}
    jaw.main()
    jaw.main()
    jaw.say("tight-spot-eased", ["-"])
    jaw.run_to("cut-back")
    jaw.say("chipped", ["13-12"])
    jaw.run_to("lay-out")
    ids["hold"] = jaw.fact("hold", picks={"reason": "ask-the-clinic"})["id"]
    ids["refused"] = jaw.main()["id"]  # held: not taken
    ids["resume"] = jaw.fact("resume", 95)["id"]
    jaw.main()
    ids["undone"] = jaw.main()["id"]
    ids["undo"] = jaw.fact("undo", undo=ids["undone"])["id"]
    jaw.main()
    ids["early"] = jaw.say("seats-again", ["-"], 2)["id"]  # the solvent's floor refuses it
    jaw.run_to("bubble-check")
    jaw.say("bubble-mended", ["16-15"], 0.2)
    jaw.say("bubble-left", ["m15b"], 0.2)
    jaw.main(0.5)
    jaw.run_to("shape-papillae", 0.5)
    stated = jaw.now[0] + 30_000
    jaw.now[0] += 4 * MINUTE
    at = {"wall": jaw.now[0], "offset": 0, "age": 0, "mono": jaw.now[0], "stated": stated}
    ids["stated"] = jaw.say("gum-shaped", ["-"], 0, at=at, picks={"reason": "forgot-to-tap"})["id"]
    jaw.run_to("tack-light")
    ids["late"] = jaw.say("tacked", ["-"], 15, **jaw.extra("tack-light"))["id"]
    jaw.fact("reason", 0.5, allow=ids["late"], outcome="more-to-fill")
    jaw.run_to("finish-off")
    jaw.say("void-bare", ["m24l"], 25)
    jaw.run_to("check-voids")
    jaw.sign_in("Зоя Ким", "1357")
    jaw.run_to("check-bite")
    jaw.say("not-mounted", ["-"])
    jaw.signins.clear()  # the tablet was offline: whoever is there now is only claimed
    jaw.run_to()
    return ids
