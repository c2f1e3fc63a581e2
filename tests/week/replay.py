"""A second reading of the journal: small, slow, and without the fold or the record of the product.

Each jaw is worked out from the rows of the database and from its table alone. Instead of a state that is carried
along, the standing of a jaw is made anew from the list of its deeds whenever something is asked; an undo shortens
that list. What a record of that jaw should say comes out as a plain dict.
"""

import json
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from tests.week.rows import Body, Journal

FOLDED = ("confirm", "undo", "hold", "resume", "sendback", "dark", "bright", "reason", "resolve", "scrap")
NUMBER = re.compile(r"-?[0-9]{1,9}(\.[0-9]{1,6})?")
STATES = {"scrap": "scrapped", "through": "all steps confirmed"}


@dataclass
class Deed:
    """One entry of a jaw in this reading: what it says, its act, and what became of it."""

    body: Body
    act: dict[str, Any] | None
    places: list[str]
    stops: bool = False
    fate: str = "counts"
    marks: list[tuple[str, str]] = field(default_factory=list)
    decided: bool = False

    @property
    def event(self) -> dict[str, Any]:
        """What the tablet or the desk sent."""
        event: dict[str, Any] = self.body["event"]
        return event

    @property
    def when(self) -> int:
        """The recorded time, UTC ms."""
        return int(self.body["server"]["when"])

    @property
    def t(self) -> int:
        """The time that counts: the stated one, where a person named one (UTC ms)."""
        return int(self.event["at"].get("stated") or self.when)


@dataclass
class Standing:
    """How a jaw stands after a list of deeds."""

    cells: dict[str, dict[str, str]]
    stamps: dict[str, int] = field(default_factory=dict)
    now: str = ""
    held: bool = False
    lit: bool = False
    dark: int = 0
    ended: str = ""

    def asks(self, step: str) -> bool:
        """Whether a step asks for something."""
        return "open" in self.cells[step].values()

    def settle(self, table: dict[str, Any]) -> "Standing":
        """Stay on the card while it asks, else take the first card that asks; none is left: through."""
        if not (self.now and self.asks(self.now)):
            self.now = next((card["step"] for card in table["cards"] if self.asks(card["step"])), "")
        if not self.now and not self.ended:
            self.ended = "through"
        return self


def fresh(table: dict[str, Any]) -> Standing:
    """Return the standing of a jaw to which nothing happened."""
    return Standing({
        card["step"]: {place: "off" if place in card["asleep"] else "open" for place in card["places"]}
        for card in table["cards"]
    }).settle(table)


def standing(table: dict[str, Any], deeds: Iterable[Deed]) -> Standing:
    """Return how a jaw stands after these deeds, worked out from the start."""
    here = fresh(table)
    past: list[Deed] = []
    for deed in deeds:
        assert deed.act is not None
        here.held = here.held or deed.stops
        _do(table, here, deed, deed.act)
        past.append(deed)
        if deed.act["reset"] and table["format"] >= 2:
            _say_again(here, past)
        here.settle(table)
    return here


def _say_again(here: Standing, past: list[Deed]) -> None:
    """After a way back: what deeds of steps before it had said of the steps that begin anew."""
    begun = past[-1].act["reset"] if past[-1].act else []
    for at, deed in enumerate(past[:-1]):
        gone = any(deed.event["step"] in later.act["reset"] for later in past[at:] if later.act)
        if not gone and deed.act and deed.act["kind"] == "confirm":
            _say(here, deed, [entry for entry in deed.act["also"] if entry[0] in begun])


def _say(here: Standing, deed: Deed, also: list[list[Any]]) -> None:
    for place in deed.places:
        for other, froms, to in also:
            if other in here.cells and here.cells[other].get(place) in froms:
                here.cells[other][place] = to


def _do(table: dict[str, Any], here: Standing, deed: Deed, act: dict[str, Any]) -> None:
    step = deed.event["step"]
    if act["kind"] == "confirm":
        if act["to"]:
            here.cells[step] |= dict.fromkeys(deed.places, act["to"])
        _say(here, deed, act["also"])
    if act["reset"]:
        asleep = fresh(table).cells
        for other in act["reset"]:
            here.cells[other] = asleep[other]
            here.stamps.pop(other, None)
        here.now, here.dark = "", 0
    if act["stamp"]:
        here.stamps[act["stamp"]] = deed.t
    if act["kind"] == "dark":
        here.dark = deed.t
    if act["kind"] == "bright":
        here.stamps[_lamp(here, act)] += max(0, deed.t - here.dark)
        here.dark = 0
    if act["held"]:
        here.held = act["held"] > 0
    here.lit = here.lit or bool(act["light"])
    here.ended = "scrap" if act["kind"] == "scrap" else here.ended


def _lamp(here: Standing, act: dict[str, Any]) -> str:
    """Return the step that put the light on last; of two at one moment the later one of the list."""
    lit = [(here.stamps[step], at, step) for at, step in enumerate(act["shift"]) if step in here.stamps]
    return max(lit)[2] if lit else ""


class Jaw:
    """One jaw read from the journal: its deeds, those that count, and how it stands."""

    def __init__(self, journal: Journal, code: str) -> None:
        self.journal, self.code = journal, code
        self.jaw, self.case = journal.jaws()[code]
        self.table: dict[str, Any] = json.loads(journal.course[self.jaw["table"]])
        self.protocol: dict[str, Any] = tomllib.loads(journal.course[self.jaw["protocol"]].decode())
        self.own = [b for b in journal.bodies if b["event"]["jaw"] == code]
        self.deeds: list[Deed] = []
        self.counting: list[Deed] = []
        self.turn = 0
        self.here = fresh(self.table)
        for body in self.own:
            if body["event"]["kind"] in FOLDED and body["event"]["id"] not in {d.event["id"] for d in self.deeds}:
                self._read(body)

    def _act(self, event: dict[str, Any]) -> dict[str, Any] | None:
        key = [event["kind"], event["step"], event["outcome"]]
        return next((a for a in self.table["acts"] if [a["kind"], a["step"], a["outcome"]] == key), None)

    def _read(self, body: Body) -> None:
        event = body["event"]
        deed = Deed(body, self._act(event), list(event["places"]))
        self.deeds.append(deed)
        if event["kind"] == "undo":
            self._take_back(deed)
        elif event["kind"] == "resolve":
            self._decide(deed)
        elif event["kind"] != "reason":
            why = self._against(deed)
            if why:
                deed.fate, deed.marks = "not taken", [(why, "refused")]
            else:
                deed.marks = self._breaches(deed)
                deed.stops = any(grade == "stop" for _, grade in deed.marks)
                self._count(deed)
        self.here = standing(self.table, self.counting)

    def _count(self, deed: Deed) -> None:
        assert deed.act is not None
        self.counting.append(deed)
        self.turn += deed.act["round"]

    def _take_back(self, deed: Deed) -> None:
        last = self.counting[-1] if self.counting else None
        old = last is None or last.act is None or deed.when - last.when > last.act["undo"] or not last.act["undo"]
        if last is None or last.act is None or old or last.event["id"] != deed.event.get("undo"):
            deed.fate, deed.marks = "not taken", [("undo", "refused")]
            return
        self.counting.pop()
        last.fate = "taken back"
        self.turn += last.act["round"]

    def _decide(self, deed: Deed) -> None:
        about = next((d for d in self.deeds if d.event["id"] == deed.event.get("allow")), None)
        if about is None or about.decided or not any(grade == "refused" for _, grade in about.marks):
            return
        about.decided = True
        act = about.act
        possible = act is not None and act["kind"] == "confirm" and not self.here.ended
        if deed.event["outcome"] == "in" and possible and act is not None and not (self.here.lit and act["reset"]):
            known = self.here.cells.get(about.event["step"], {})
            about.places = [p for p in about.event["places"] if p in known and self._may_be_named(act, p)]
            about.fate = "taken in"
            self._count(about)

    def _may_be_named(self, act: dict[str, Any], place: str) -> bool:
        return act["of"] != "place" or place in [name for name, _ in self.table["groups"]]

    def _against(self, deed: Deed) -> str:
        """Say why a deed cannot count, "" where it can; the first reason in the order of the guide."""
        act, event, here = deed.act, deed.event, self.here
        if act is None:
            return "unknown"
        kind = act["kind"]
        wet = any(card["wet"] for card in self.table["cards"] if card["step"] == here.now)
        last = self.counting[-1].t if self.counting else deed.t
        stated = event["at"].get("stated")
        order = [card["step"] for card in self.table["cards"]]
        turned = kind in ("dark", "bright") and not (
            bool(here.dark) if kind == "bright"
            else not here.dark and here.now in act["shift"] and _lamp(here, act) != "")
        reasons = {
            "ended": bool(here.ended) and not (here.ended == "through" and kind == "scrap"),
            "round": event["round"] != self.turn,
            "who": bool(act["who"]) and not set(act["who"]) & set(deed.body["server"]["roles"]),
            "held": here.held and kind not in ("resume", "scrap") and not wet,
            "stated": stated is not None and (stated > deed.when or stated < last),
            "step": turned,
        }
        found = next((why for why, so in reasons.items() if so), "")
        if not found and kind == "confirm":
            found = self._against_words(deed, act)
        if not found and kind in ("hold", "resume") and here.held == (kind == "hold"):
            found = "held" if kind == "hold" else "step"
        if not found and kind == "sendback":
            ahead = here.now in order and order.index(act["step"]) > order.index(here.now)
            found = "light" if here.lit else "step" if ahead else ""
        return found

    def _against_words(self, deed: Deed, act: dict[str, Any]) -> str:
        places, here = deed.event["places"], self.here
        cells = here.cells.get(deed.event["step"], {})
        if here.dark:
            return "dark"
        if deed.event["step"] != here.now:
            return "step"
        if here.lit and act["reset"]:
            return "light"
        sound = all(cells.get(p) in act["from"] and self._may_be_named(act, p) for p in places)
        if not places or len(places) != len(set(places)) or not sound:
            return "place"
        early = [f for f in act["floors"] if f[3] == "stop" and self._too_soon(f, deed)]
        return "early" if early else ""

    def _too_soon(self, limit: list[Any], deed: Deed) -> bool:
        since, ms, grace, _ = limit
        return since in self.here.stamps and deed.t - self.here.stamps[since] < ms - grace

    def _breaches(self, deed: Deed) -> list[tuple[str, str]]:
        act = deed.act
        assert act is not None
        found = [("stated", "note")] if deed.event["at"].get("stated") is not None else []
        found += [("early", limit[3]) for limit in act["floors"] if self._too_soon(limit, deed)]
        for since, ms, grace, grade in act["ceilings"]:
            if since in self.here.stamps and deed.t - self.here.stamps[since] > ms + grace:
                found.append(("late", grade))
        for name, least, most, grade in act["limits"]:
            said = [v["value"] for v in deed.event["values"] if v["name"] == name]
            found += [("limit", grade) for v in said
                      if not (NUMBER.fullmatch(v) and float(least) <= float(v) <= float(most))]
        return found
