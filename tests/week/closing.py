"""What a supervisor does once a jaw is through: decide, close, release, send out, take back."""

import re
from random import Random

from tests.week.people import DeskSeat
from tests.week.replay import Jaw

SERVER_DEVIATIONS = (["unfit", "deviation"], ["waits", "deviation"], ["gone", "deviation"])


def settle(desk: DeskSeat, code: str, draw: Random) -> None:
    """Decide on every entry that was not taken, and close every deviation of a jaw."""
    jaw = Jaw(desk.lab.journal(), code)
    closed = {b["event"].get("allow") for b in jaw.own if b["event"]["kind"] == "close"}
    listed = desk.see("/desk/marks").text + desk.see("/desk/deviations").text
    for deed in jaw.deeds:
        if any(grade == "refused" for _, grade in deed.marks) and not deed.decided:
            outcome = draw.choice(("aside", "aside", "in"))
            _listed(desk, listed, code, deed.event["id"])
            if draw.random() < 0.05:
                desk.lab.ledger.note("wrong PIN")
                desk.do(f"/desk/marks/{code}", 403, event=deed.event["id"], outcome=outcome, pin="0000")
            desk.do(f"/desk/marks/{code}", event=deed.event["id"], outcome=outcome, pin=desk.who.pin)
    for deed in jaw.counting:
        breached = any(grade in ("deviation", "stop") for _, grade in deed.marks)
        found = breached or any(mark in SERVER_DEVIATIONS for mark in deed.body["server"]["marks"])
        if found and deed.event["id"] not in closed:
            outcome = draw.choice(("accepted", "followed-up"))
            _listed(desk, listed, code, deed.event["id"])
            desk.do(f"/desk/deviations/{code}", event=deed.event["id"], outcome=outcome, words="Looked at in the week")


def _listed(desk: DeskSeat, listed: str, code: str, event_id: str) -> None:
    if event_id not in listed:
        desk.lab.ledger.fault(f"entry {event_id} of jaw {code} waits for a supervisor, but stands on no list")


def release(desk: DeskSeat, path: str, draw: Random) -> None:
    """Read a release page: tick what is asked, say why where a reason is asked, and sign."""
    shown = desk.see(path).text
    fields = dict(re.findall(r'name="(\w+-seen)" value="(\d+)"', shown))
    fields |= dict.fromkeys(re.findall(r'name="([\w-]+-read-[^"]+)"', shown), "1")
    fields |= dict.fromkeys(re.findall(r'<textarea[^>]*name="([\w-]+-reason-[^"]+)"', shown), "Asked; it was so.")
    if draw.random() < 0.1:
        desk.lab.ledger.note("wrong PIN")
        desk.do(path, 403, **fields, pin="0000")
    desk.do(path, **fields, pin=desk.who.pin)


def after(desk: DeskSeat, code: str, draw: Random) -> None:
    """Send a released jaw out; some come back, and something is added to their record."""
    path = f"/desk/jaw/{code}/after"
    if "means" not in desk.see(path).text:
        desk.lab.ledger.fault(f"jaw {code} is not released")
        return
    desk.do(f"{path}/sent", on=desk_day(desk, path), means="By the lab's own driver")
    if draw.random() < 0.4:
        desk.do(f"{path}/back", on=desk_day(desk, path), place="", reason="bite", words="The bite is high on one side")
        desk.do(f"{path}/amend", words="The clinic's note lies in the file.")


def desk_day(desk: DeskSeat, path: str) -> str:
    """Return today as a page of the desk has it."""
    found = re.search(r'max="(\d{4}-\d\d-\d\d)"', desk.see(path).text)
    assert found
    return found[1]
