"""A part is scrapped and made again; after first light, a whole jaw."""

from dataclasses import dataclass
from typing import Any

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.cases import LETTERS
from benchapp.actions.desk import Seat, on_jaw, store
from benchapp.actions.jaws import JawLine, line, protocol_of, scrap
from benchapp.core.caseline import WAITS, waits
from benchapp.core.lines import fault_of, tidy
from benchapp.core.protocol import Protocol
from benchapp.core.record_used import BEARERS
from benchapp.core.words import N_, _
from benchapp.store.journal import Writer

PARTS = ("base", "arch")


class CannotRemake(Refused):
    """The jaw stands where this cannot be made again."""


@dataclass(frozen=True)
class NewPart:
    """What the new part is printed from, and by which print job."""

    revision: str
    print_job: str


def why_not(found: JawLine) -> tuple[str, str]:
    """Return why a single part, and why the whole jaw, cannot be made again now; "" where it can."""
    if found.release is not None:
        gone = _("It was released: a remake is a new order, of the kind `remake`.")
        return gone, gone
    if found.case["cancelled"]:
        return (_("The case is cancelled. Let it go on first."),) * 2
    if waits(found.case):
        return (_(WAITS[waits(found.case)]),) * 2
    follower = next((j["code"] for j in found.case["jaws"] if j.get("follows") == found.code), "")
    if follower:
        return (_("It was made again already, as {code}.", code=follower),) * 2
    state = found.state
    part = ""
    if state["ended"] == "scrap":
        part = _("The jaw is scrapped: only the whole jaw can be made again.")
    elif state["lit"]:
        part = _("First light has been: base and arch are one body. Only the whole jaw can be made again.")
    whole = "" if state["lit"] or state["ended"] == "scrap" else _(
        "First light has not been: make the part again that is not right.")
    return part, whole


def remake_part(bench: Bench, seat: Seat, code: str, part: str, new: NewPart, reason: str, bearer: str) -> str:
    """Scrap one part of a jaw before first light and name the one that takes its place; return its code.

    The jaw goes back to the step at which its parts are read, if it is past that. Raises CannotRemake, NotYours,
    or Refused for a reason or bearer that is no tile.
    """
    seat.must("supervisor", "technician")
    found = line(bench, code)
    protocol = protocol_of(bench, found)
    _sound(protocol, reason, bearer, new)
    if part not in PARTS:
        raise Refused(_("A part is the base or the arch. Choose one."))
    if why_not(found)[0]:
        raise CannotRemake(why_not(found)[0])
    old = next(p for p in found.jaw["parts"] if p["part"] == part)
    with bench.writing() as writer:
        made = _part(bench, part, old["make"] + 1, new)
        data = {"made": made, "old": old["code"], "reason": reason, "bearer": bearer}
        store(bench, writer, seat, "remake", case=found.case["code"], jaw=code, data=data)
        _send_back(bench, writer, seat, found, protocol)
    return str(made["code"])


def _send_back(bench: Bench, writer: Writer, seat: Seat, found: JawLine, protocol: Protocol) -> None:
    """Let the jaw be read in again: to the first step that picks a part, unless it has not come that far."""
    steps = [card["step"] for card in found.table["cards"]]
    reads = {step.id for step in protocol.steps if any(pick.of == "part" for pick in step.picks)}
    target = next((step for step in steps if step in reads), steps[0])
    now = found.state["now"]
    if now in steps and steps.index(now) >= steps.index(target):
        if found.state["held"]:  # what it was held for is mended by the new part
            on_jaw(bench, writer, seat, found.case["code"], found.code, "resume")
        on_jaw(bench, writer, seat, found.case["code"], found.code, "sendback", step=target)


def remake_jaw(
    bench: Bench, seat: Seat, pin: str, code: str, parts: dict[str, NewPart], reason: str, bearer: str
) -> str:
    """Make a jaw again as a whole, after first light or when it was scrapped; return the new jaw's code.

    The old jaw is scrapped for good, so the supervisor's PIN is asked again. Raises CannotRemake, NotYours,
    WrongPin or Refused.
    """
    seat.must("supervisor")
    found = line(bench, code)
    protocol = protocol_of(bench, found)
    for part in PARTS:
        _sound(protocol, reason, bearer, parts[part])
    if why_not(found)[1]:
        raise CannotRemake(why_not(found)[1])
    if found.state["ended"] != "scrap":
        scrap(bench, code, seat.person.id, pin, reason)
    makes = {p["part"]: p["make"] for p in found.jaw["parts"]}
    with bench.writing() as writer:
        jaw: dict[str, Any] = {
            "jaw": found.jaw["jaw"], "code": bench.code(LETTERS[found.jaw["jaw"]]), "teeth": found.jaw["teeth"],
            "table": found.jaw["table"], "protocol": found.jaw["protocol"], "follows": code,
            "parts": [_part(bench, part, makes[part] + 1, parts[part]) for part in PARTS],
        }
        data = {"jaws": [jaw], "old": code, "reason": reason, "bearer": bearer}
        store(bench, writer, seat, "successor", case=found.case["code"], data=data)
    return str(jaw["code"])


def _part(bench: Bench, part: str, make: int, new: NewPart) -> dict[str, Any]:
    return {
        "part": part, "code": bench.code(LETTERS[part]), "make": make, "revision": tidy(new.revision),
        "print_job": tidy(new.print_job),
    }


def _sound(protocol: Protocol, reason: str, bearer: str, new: NewPart) -> None:
    if reason not in {r.id for r in protocol.reasons if "scrap" in r.asked}:
        raise Refused(_("Say why it is made again: choose one of the reasons."))
    if bearer not in BEARERS:
        raise Refused(_("Say who bears it: choose one of the answers."))
    for what, typed in (
        (N_("The revision of the new part"), new.revision), (N_("The print job of the new part"), new.print_job),
    ):
        if fault := fault_of(_(what), tidy(typed)):
            raise Refused(fault)
