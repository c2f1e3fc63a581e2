"""Work done earlier: cases taken in beside the running server, and a tablet that delivers what it did offline."""

import json
import re
import urllib.request
from http.cookiejar import CookieJar
from typing import Any

from benchapp.cli.shared import DEFAULT_PROTOCOL, ask_server, read_file
from benchapp.core.fold import acts_of, start, take
from benchapp.core.walk import MINUTE, event, main_act, next_places, ready_at
from tests.live import DEMO, PINS, LiveLab

USUAL = {"tack-light": [("positions", "8", ""), ("seconds", "20", "s")]}


def take_in(lab: LiveLab, order: str, protocol: str = "", **changed: str) -> str:
    """Take one more upper jaw in through the running server; `changed` are keys of the sheet. Its code comes back.

    `protocol` is the text of a protocol file; without one it is the default.
    """
    sheet = (DEMO / "first-upper.toml").read_text("utf-8")
    for key, value in {"order": json.dumps(order), **changed}.items():
        line = f"{key} = {value}".replace("\\", r"\\")
        sheet, found = re.subn(rf"(?m)^{key} = .*$", line, sheet)
        assert found == 1, key
    protocol = protocol or read_file(DEFAULT_PROTOCOL)
    answer = ask_server(lab.data, "add", {"name": order, "text": sheet, "protocol": protocol})
    assert answer
    return str(answer["jaws"][0]["code"])


class Visitor:
    """Whoever asks the server over HTTP: a tablet of its own, with the cookie that the server gave it."""

    def __init__(self, lab: LiveLab) -> None:
        self.address = lab.address
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        self.get("/")

    def get(self, path: str) -> str:
        """Return what the server sends for a path."""
        with self.opener.open(f"{self.address}{path}", timeout=20) as response:
            return str(response.read().decode())

    def post(self, path: str, body: Any) -> dict[str, Any]:
        """Send JSON; return the answer as plain data."""
        request = urllib.request.Request(
            f"{self.address}{path}", json.dumps(body).encode(), {"Content-Type": "application/json"}
        )
        with self.opener.open(request, timeout=20) as response:
            found: dict[str, Any] = json.load(response)
        return found


def signed_in(lab: LiveLab, name: str) -> dict[str, Any]:
    """Sign somebody in by PIN at a tablet that does nothing else; return what a tablet keeps of a person."""
    visitor = Visitor(lab)
    people = {p["name"]: p["id"] for p in json.loads(visitor.get("/people.json"))["people"]}
    found = visitor.post("/signin", {"person": people[name], "pin": PINS[name]})
    return {"id": found["person"], "name": name, "roles": found["roles"], "signin": found["signin"], "how": "pin"}


class EarlyTablet(Visitor):
    """A tablet that worked one jaw while the PC was away, and now delivers; its own times are believed."""

    def __init__(self, lab: LiveLab, person: dict[str, Any]) -> None:
        super().__init__(lab)
        self.person, self.sent = person, 0

    def page_data(self, code: str) -> dict[str, Any]:
        """Return the data that the bench page of a jaw carries, with `first`: the first tile of each pick."""
        html = self.get(f"/bench/{code}")
        found = re.search(r'<script type="application/json" id="data">(.*?)</script>', html, re.S)
        assert found
        data: dict[str, Any] = json.loads(found[1])
        data["first"] = dict(re.findall(r'data-pick="([\w-]+)".*?data-value="([\w-]+)"', html, re.S))
        return data

    def fact(self, data: dict[str, Any], folded: dict[str, Any], t: int) -> dict[str, Any]:
        """Return the envelope of one fact, done at `t` (UTC ms)."""
        self.sent += 1
        picks = {name: data["first"][name] for name, *_ in data["steps"].get(folded["step"], {}).get("picks", [])}
        values = [{"name": n, "value": v, "unit": u} for n, v, u in USUAL.get(folded["step"], [])]
        return {
            "v": 1, "kind": folded["kind"], "id": f"early-{data['code']}-{self.sent}", "case": data["case"],
            "jaw": data["code"], "round": folded["round"], "step": folded["step"], "places": folded["places"],
            "outcome": folded["outcome"], "values": values, "picks": picks,
            "by": {"person": self.person["id"], "how": "pin", "signin": self.person["signin"]},
            "from": {"tablet": "", "boot": "early", "n": self.sent, "app": "test", "table": data["tableHash"]},
            "at": {"wall": t, "offset": 0, "age": 0, "mono": self.sent}, "saw": {"seq": 0, "ms": 900},
        }

    def bring_to(self, code: str, step: str, ago: int = 2 * MINUTE) -> None:
        """Confirm main actions until `step` is on; the last one lies `ago` ms back."""
        data = self.page_data(code)
        table, moment = data["table"], json.loads(self.get(f"/bench/{code}/base?after=0"))["now"] - ago
        state, acts, t = start(table), acts_of(table), 0
        done: list[dict[str, Any]] = []
        while state["now"] and state["now"] != step:
            act = main_act(table, state["now"])
            t = ready_at(state, act, t + MINUTE // table["speed"])
            done.append(event(state, len(done), t, "confirm", act["step"], act["outcome"], next_places(table, state)))
            state = take(table, acts, state, done[-1])
        assert state["now"] == step, f"the work never comes to {step}"
        facts = [self.fact(data, e, moment - t + e["t"]) for e in done]
        if facts:
            acks = [(a["was"], a["marks"]) for a in self.post("/outbox/1", facts)["acks"]]
            assert acks == [("stored", [])] * len(facts), acks
