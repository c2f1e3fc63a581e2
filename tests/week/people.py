"""Hands of the week without a browser: a tablet that delivers what was done on other days, and a seat at the desk."""

import json
import re
import urllib.error
import urllib.parse
import urllib.request
from dataclasses import dataclass
from random import Random
from typing import Any

from benchapp.core.fold import acts_of, start, take
from benchapp.core.walk import MINUTE, main_act, next_places, ready_at
from tests.web.early import USUAL, Visitor
from tests.week.lab import WeekLab, Worker
from tests.week.ledger import Mark

HOUR = 60 * MINUTE
BUSY_RETRIES = 3


@dataclass(frozen=True)
class Answer:
    """What the server sent: status, words, and the address at which redirects ended."""

    status: int
    text: str
    address: str


class Guest(Visitor):
    """Whoever asks the server over HTTP, whatever it answers."""

    def __init__(self, lab: WeekLab) -> None:
        super().__init__(lab.live)
        self.lab = lab

    def ask(self, path: str, data: bytes | None = None, kind: str = "application/x-www-form-urlencoded") -> Answer:
        """Send a request and follow where it leads; a refusal is an answer too."""
        request = urllib.request.Request(f"{self.address}{path}", data, {"Content-Type": kind} if data else {})
        try:
            with self.opener.open(request, timeout=60) as response:
                return Answer(response.status, response.read().decode(), response.url)
        except urllib.error.HTTPError as error:
            with error:
                return Answer(error.code, error.read().decode(), error.url or "")

    def form(self, path: str, **fields: Any) -> Answer:
        """Send a form; a field may have several values."""
        return self.ask(path, urllib.parse.urlencode(fields, doseq=True).encode())

    def say(self, path: str, body: Any) -> Answer:
        """Send JSON."""
        return self.ask(path, json.dumps(body).encode(), "application/json")


class DeskSeat(Guest):
    """A supervisor at the desk."""

    def __init__(self, lab: WeekLab, who: Worker) -> None:
        super().__init__(lab)
        self.who = who
        self.do("/desk/signin", person=who.id, pin=who.pin, next="/desk/today")

    def do(self, path: str, status: int = 200, /, **fields: Any) -> Answer:
        """Send a form of the desk; another status than expected is noted as a fault of the product."""
        return self._told(path, self.form(path, **fields), status)

    def see(self, path: str, expect: int = 200) -> Answer:
        """Look at a page of the desk."""
        return self._told(path, self.ask(path), expect)

    def upload(self, path: str, name: str, data: bytes) -> Answer:
        """Choose a file in a form and send it."""
        edge = "week-file-edge"
        head = f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'
        whole = head.encode() + data + f"\r\n--{edge}--\r\n".encode()
        return self._told(path, self.ask(path, whole, f"multipart/form-data; boundary={edge}"), 200)

    def _told(self, path: str, answer: Answer, expect: int) -> Answer:
        if answer.status != expect:
            said = re.findall(r'class="faults" role="alert">(.*?)</(?:div|p)>', answer.text, re.S)
            words = " ".join(re.sub(r"<[^>]+>", " ", said[0] if said else answer.text[:300]).split())
            self.lab.ledger.fault(f"desk {path}: {answer.status} instead of {expect}: {words[:400]}")
        return answer


class BenchTablet(Guest):
    """A tablet whose own time runs through the past week, and who is signed in at it."""

    def __init__(self, lab: WeekLab, who: Worker, t: int, draw: Random) -> None:
        super().__init__(lab)
        self.t, self.draw, self.sent = t, draw, 0
        self.boot = f"w-{who.id[:12]}"
        self.signins: dict[str, str] = {}
        self.who = who
        self.sign_in(who)

    def sign_in(self, who: Worker) -> None:
        """Sign somebody in by PIN, once; now and then the PIN is wrong first."""
        if who.id not in self.signins:
            if self.draw.random() < 0.3:
                self.wrong_pin(who)
            answer = self.say("/signin", {"person": who.id, "pin": who.pin})
            if answer.status != 200:
                self.lab.ledger.fault(f"{who.name} cannot sign in: {answer.status} {answer.text[:200]}")
            self.signins[who.id] = json.loads(answer.text)["signin"]
        self.who = who

    def wrong_pin(self, who: Worker) -> None:
        """Type a PIN that is not theirs."""
        self.lab.ledger.note("wrong PIN")
        answer = self.say("/signin", {"person": who.id, "pin": "0000"})
        if answer.status != 403:
            self.lab.ledger.fault(f"a wrong PIN was answered {answer.status}")


class JawInHand:
    """A jaw as a tablet works it: the page's data, the state that the tablet folds, facts that wait to be sent."""

    def __init__(self, tablet: BenchTablet, code: str) -> None:
        self.tablet, self.code, self.lab = tablet, code, tablet.lab
        self.waiting: list[dict[str, Any]] = []
        self.last = ""
        self.how = "pin"
        self.refresh()
        self.fact("opened")

    def refresh(self) -> None:
        """Send what waits, and read the jaw anew, as a page does when it is opened."""
        self.flush()
        html = self.tablet.get(f"/bench/{self.code}")
        found = re.search(r'<script type="application/json" id="data">(.*?)</script>', html, re.S)
        assert found
        self.data: dict[str, Any] = json.loads(found[1])
        self.parts = dict(re.findall(r'data-pick="(base|arch)".*?data-value="(\w+)"', html, re.S))
        self.table = self.data["table"]
        self.acts = acts_of(self.table)
        self.state = start(self.table)
        for event in json.loads(self.tablet.get(f"/bench/{self.code}/base?after=0"))["events"]:
            self.state = take(self.table, self.acts, self.state, event)

    @property
    def at(self) -> str:
        """The step that is on, "" at the end."""
        return str(self.state["now"])

    @property
    def wet(self) -> bool:
        """Whether resin is wet now."""
        return any(card["wet"] for card in self.table["cards"] if card["step"] == self.at)

    def wait(self, minutes: float) -> None:
        """Let time pass on the tablet."""
        self.tablet.t += round(minutes * MINUTE)

    def fact(self, kind: str, *marks: tuple[str, str], slip: str = "", **keys: Any) -> str:
        """Make one fact, a minute after the last one; `marks` is what the mistake `slip` must leave. Return its id."""
        tablet = self.tablet
        tablet.t += round(tablet.draw.uniform(0.3, 1.2) * MINUTE)
        tablet.sent += 1
        who, claimed = tablet.who, self.how == "claimed"
        fact = {
            "v": 1, "kind": kind, "id": f"{tablet.boot}-{tablet.sent}", "case": self.data["case"], "jaw": self.code,
            "round": self.state["round"], "step": "", "places": [], "outcome": "", "values": [], "picks": {},
            "by": {"person": who.id, "how": self.how, "signin": "" if claimed else tablet.signins[who.id]},
            "from": {"tablet": "", "boot": tablet.boot, "n": tablet.sent, "app": "week",
                     "table": self.data["tableHash"]},
            "at": {"wall": tablet.t, "offset": 0, "age": 0, "mono": tablet.sent}, "saw": {"seq": 0, "ms": 4_000},
        }
        fact["at"] |= {"stated": keys.pop("stated")} if "stated" in keys else {}
        fact |= keys
        if kind not in ("opened", "hand"):
            marks = (*marks, ("claimed", "note")) if claimed else marks
            self._fold(fact)
        told: list[Mark] = [(fact["id"], why, grade) for why, grade in marks]
        if slip or marks:
            self.lab.ledger.note(slip or "claimed without a PIN", *told)
        self.waiting.append(fact)
        self.last = fact["id"]
        if len(self.waiting) >= tablet.draw.choice((1, 1, 4, 20)):
            self.flush()
        return self.last

    def _fold(self, fact: dict[str, Any]) -> None:
        stated = fact["at"].get("stated")
        keys = ("id", "kind", "step", "outcome", "places", "round", "values")
        event = {key: fact[key] for key in keys} | {
            "t": self.tablet.t if stated is None else stated, "when": self.tablet.t, "stated": int(stated is not None),
            "undo": fact.get("undo", ""), "allow": fact.get("allow", ""), "roles": ["technician"],
        }
        if fact["jaw"] == self.code:
            self.state = take(self.table, self.acts, self.state, event)

    def flush(self) -> None:
        """Send what waits, now and then twice, as a tablet does whose answer was lost."""
        if not self.waiting:
            return
        facts, self.waiting = self.waiting, []
        self._post(facts, "stored")
        if self.tablet.draw.random() < 0.08:
            self.lab.ledger.note("facts sent twice")
            self._post(facts, "again")

    def _post(self, facts: list[dict[str, Any]], was: str) -> None:
        ids = [fact["id"] for fact in facts]
        acks = self.tablet.post("/outbox/1", facts)["acks"]
        if [(ack["id"], ack["was"]) for ack in acks] != [(name, was) for name in ids]:
            self.lab.ledger.fault(f"facts {ids} were answered {[ack['was'] for ack in acks]}, not {was}")
        self.lab.ledger.delivered(ids, was == "again")

    def main(self, *marks: tuple[str, str], slip: str = "", **keys: Any) -> str:
        """Do the main action as soon as no floor stands in its way, with usual values and picks."""
        act = main_act(self.table, self.at)
        self.tablet.t = max(self.tablet.t, ready_at(self.state, act, self.tablet.t))
        return self.say(act["outcome"], next_places(self.table, self.state), *marks, slip=slip, **keys)

    def say(self, outcome: str, places: list[str], *marks: tuple[str, str], slip: str = "", **keys: Any) -> str:
        """Say an outcome of places of the step that is on."""
        usual = {"values": [{"name": n, "value": v, "unit": u} for n, v, u in USUAL.get(self.at, [])],
                 "picks": self.usual_picks()}
        whole = {"step": self.at, "outcome": outcome, "places": places, **usual, **keys}
        return self.fact("confirm", *marks, slip=slip, **whole)

    def usual_picks(self) -> dict[str, str]:
        """Return the picks that are right for the step that is on."""
        things = {"resin": "W-1", "lamp": "lamp", "chamber": "chamber"}
        asked = [name for name, *_ in self.data["steps"].get(self.at, {}).get("picks", [])]
        return {name: self.parts[name] if name in self.parts else self.lab.things[things[name]] for name in asked}

    def single(self, *cells: str) -> list[str]:
        """Return the single places of the step that is on whose cell is one of these."""
        known = {place for place, _ in self.table["groups"]}
        return [p for p, cell in self.state["cells"][self.at].items() if p in known and cell in (cells or ("off",))]

    def resume(self, *marks: tuple[str, str], slip: str = "") -> str:
        """Let the work go on."""
        return self.fact("resume", *marks, slip=slip)
