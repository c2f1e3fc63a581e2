"""Tablets of the lab: enrolled by a code that a supervisor shows, named, struck off; a display only shows.

A tablet is its newest `tablet` event; its row in the store keeps the hash of its token, also when it was struck off.
A row without such an event is a browser on the PC itself, and counts there only.
"""

from dataclasses import dataclass
from typing import Any

from benchapp.actions.bench import Bench, Refused, Unknown
from benchapp.actions.desk import Seat, store
from benchapp.actions.lab import origin, people, why_gone
from benchapp.actions.settings import Amiss
from benchapp.core import events
from benchapp.core.codes import KINDS as CODES
from benchapp.core.codes import CodeError, read_code
from benchapp.core.lines import alike, fault_of, tidy
from benchapp.core.words import N_, _
from benchapp.store.journal import Writer

# A code has 40 bits of chance. Whoever tries one a second for all of its 15 minutes hits it once in a thousand million
# times; an address has far fewer tries than that (see `actions/guesses.py`).
CODE_MS = 15 * 60_000
LONGEST = 40
KINDS = {"tablet": N_("tablet"), "display": N_("display, only shows")}
PC = "pc"  # a browser on the PC itself, once it was named
TOLD = {
    "enrolled": N_("{name} was enrolled"), "named": N_("named: {name}"), "struck": N_("{name} was struck off"),
    "display": N_("{name} was enrolled as a display"), "enrol": N_("pause after wrong enrolment codes from {address}"),
    "codes": N_("pause after codes that lead nowhere, from {name} ({address})"),
}


class BadCode(Refused):
    """A code enrols nothing: mistyped, used, too old, or of somebody who may not enrol any more."""

    status = 403


@dataclass(frozen=True)
class Standing:
    """How a tablet stands: kind (tablet, display, pc), struck off or not, since when (UTC ms), the id of its name."""

    kind: str
    struck: bool
    since: int
    name: str


@dataclass(frozen=True)
class Tablet:
    """A tablet of the list: since when, when last heard (UTC ms), what waits on it as it told last (None: it never
    told), and the version of its pages by its last entry; kind `pc` is a browser on the PC itself."""

    id: str
    name: str
    kind: str
    struck: bool
    since: int
    seen: int
    unsent: int | None
    app: str


@dataclass
class Enrolment:
    """A code that was shown: for which kind, until when (UTC ms), by whom; `thing` is whom it enrols anew, `tablet`
    whom it enrolled."""

    code: str
    kind: str
    name: str
    thing: str
    until: int
    seat: Seat
    tablet: str = ""


def standings(bench: Bench) -> dict[str, Standing]:
    """Return how every tablet stands by its newest entry; each request from the network asks for it, so only what is
    new is read."""
    after, known = bench.lines.get("tablets", (0, {}))
    fresh = bench.store.tagged("kind", "tablet", after)
    if fresh:
        known = dict(known)
        for body in (events.read_body(entry.body) for entry in fresh):
            data = body["event"]["data"]
            first = known[data["thing"]].since if data["thing"] in known else body["server"]["when"]
            known[data["thing"]] = Standing(data["kind"], bool(data["struck"]), first, data["texts"]["name"])
        bench.lines["tablets"] = fresh[-1].seq, known
    found: dict[str, Standing] = known
    return found


def names_of_tablets(bench: Bench) -> dict[str, str]:
    """Return the names of the tablets that have one, by id."""
    known = standings(bench)
    texts = bench.store.texts({one.name for one in known.values()})
    return {id: texts[one.name] for id, one in known.items() if one.name in texts}


def tablets(bench: Bench) -> list[Tablet]:
    """Return all tablets and displays, then the browsers on the PC itself: those that count first, by name."""
    known, names = standings(bench), names_of_tablets(bench)
    found: list[Tablet] = []
    for row in bench.store.tablets():
        one = known.get(row.id, Standing(PC, False, row.since, ""))
        last = bench.store.last_tagged("tablet", row.id)
        body: dict[str, Any] = events.read_body(last.body) if last else {}
        found.append(Tablet(
            row.id, names.get(row.id, ""), one.kind, one.struck, row.since if one.kind == PC else one.since,
            max(row.seen, body["server"]["received"] if body else 0), bench.unsent.get(row.id),
            body["event"]["from"]["app"] if body else "",
        ))  # fmt: skip
    return sorted(found, key=lambda t: (t.kind == PC, t.struck, t.name.casefold(), t.id))


def history(bench: Bench, most: int = 50) -> list[tuple[int, str, str]]:
    """Return what happened to tablets, and pauses after guessing, newest first: (UTC ms, sentence, who did it)."""
    entries = [entry for kind in ("tablet", "locked") for entry in bench.store.tagged("kind", kind)]
    names, who = names_of_tablets(bench), {person.id: person.name for person in people(bench)}
    found: list[tuple[int, str, str]] = []
    for body in (events.read_body(entry.body) for entry in sorted(entries, key=lambda one: -one.seq)):
        event, data = body["event"], body["event"].get("data", {})
        what = data.get("what", event["outcome"])
        if what == "enrolled" and data["kind"] == "display":
            what = "display"
        if what not in TOLD or len(found) == most:
            continue  # somebody's PINs or badge
        tablet = data.get("thing", event["from"]["tablet"])
        name = bench.store.text(data["texts"]["name"]) if "texts" in data else names.get(tablet)
        words = _(TOLD[what], name=name or tablet, address=data.get("address", ""))
        found.append((body["server"]["when"], words, who.get(event["by"]["person"], "")))
    return found


def show_code(bench: Bench, seat: Seat, kind: str = "tablet", name: str = "", thing: str = "") -> Enrolment:
    """Draw a code that enrols one tablet within 15 minutes; with `thing` that one anew, with its kind and its name."""
    seat.must("supervisor")
    name = tidy(name)
    known = standings(bench).get(thing)
    if thing and (known is None or known.kind == PC):
        raise Unknown(_("There is no such tablet here. Load the page again."))
    kind = known.kind if known else kind
    if kind not in KINDS:
        raise Amiss([_("Choose whether it is a tablet or a display.")])
    if name and (faults := _name_faults(bench, name, thing)):
        raise Amiss(faults)
    made = Enrolment(bench.code("E"), kind, name, thing, bench.clock() + CODE_MS, seat)
    for code, one in list(bench.enrolments.items()):
        if one.until <= bench.clock():
            bench.enrolments.pop(code, None)
    bench.enrolments[made.code] = made
    return made


def shown_codes(bench: Bench) -> list[Enrolment]:
    """Return the codes of the last 15 minutes, newest first; those that were used name their tablet."""
    found = [one for one in list(bench.enrolments.values()) if one.until > bench.clock()]
    return sorted(found, key=lambda one: -one.until)


def enrol(bench: Bench, text: str, name: str, token_hash: str, was: str = "") -> str:
    """Enrol the tablet at which a code was typed, whose token has this hash; return its id.

    `was` is whom an older token of it named: it stays that one, so that what waits on it comes from whom it was done.
    Raises CodeError for what is no code, BadCode for one that enrols nothing, Amiss for a name that cannot be taken;
    the code then stays good.
    """
    read = read_code(text, layouts=False)
    if read.kind != CODES["E"]:
        raise CodeError(_("that is the code of a {kind}, not one that enrols a tablet", kind=_(read.kind)))
    found: Enrolment | None = None
    try:
        with bench.writing() as writer:
            found = _open_code(bench, read.code)
            thing, name = _whom(bench, writer, found, tidy(name), was)
            _store(bench, writer, found.seat, "enrolled", thing, found.kind, name, **origin(bench, thing))
            writer.add_tablet(thing, token_hash, bench.clock())
            found.tablet = thing  # before anybody else may write, who could use the code again
    except BaseException:
        if found is not None:
            found.tablet = ""  # nothing was stored, so the code stays good
        raise
    return thing


def _whom(bench: Bench, writer: Writer, found: Enrolment, typed: str, was: str) -> tuple[str, str]:
    """Return whom a code enrols, and by which name; Amiss where the name cannot be taken."""
    known = standings(bench)
    if was not in known or known[was].kind == PC:
        was = ""
    thing = found.thing or was
    texts = writer.texts([known[thing].name]) if thing in known else {}
    name = typed or found.name or next(iter(texts.values()), "")
    if faults := _name_faults(bench, name, thing):
        raise Amiss(faults)
    return thing or bench.code("T"), name


def _open_code(bench: Bench, code: str) -> Enrolment:
    found: Enrolment | None = bench.enrolments.get(code)
    if found is None or found.tablet or found.until <= bench.clock():
        raise BadCode(_("This code enrols nothing: it was used, is older than 15 minutes, or was mistyped. Ask for a "
                        "new one at the PC."))
    person = next((p for p in people(bench) if p.id == found.seat.person.id), None)
    if person is None or "supervisor" not in person.roles or why_gone(bench, person):
        raise BadCode(_("Who showed this code is no supervisor any more. Ask another one for a new code."))
    return found


def rename(bench: Bench, seat: Seat, thing: str, name: str) -> bool:
    """Name a tablet, or a browser on the PC, and return whether that changed anything; Amiss with what is wrong."""
    seat.must("supervisor")
    name = tidy(name)
    if faults := _name_faults(bench, name, thing):
        raise Amiss(faults)
    with bench.writing() as writer:
        one = _known(bench, thing)
        if one.name == name:
            return False
        _store(bench, writer, seat, "named", thing, one.kind, name, one.struck)
    return True


def strike(bench: Bench, seat: Seat, thing: str) -> str:
    """Strike a tablet off: from now on its token opens nothing. Return its name."""
    seat.must("supervisor")
    with bench.writing() as writer:
        one = _known(bench, thing)
        if one.kind == PC:
            raise Refused(_("That is a browser on the PC itself, which cannot be struck off."))
        if one.struck:
            raise Refused(_("{name} was struck off already.", name=one.name))
        _store(bench, writer, seat, "struck", thing, one.kind, one.name, True)
    return one.name


def _known(bench: Bench, thing: str) -> Tablet:
    found = next((one for one in tablets(bench) if one.id == thing), None)
    if found is None:
        raise Unknown(_("There is no such tablet here. Load the page again."))
    return found


def _name_faults(bench: Bench, name: str, thing: str) -> list[str]:
    """Return what is wrong with the name of a tablet, in sentences."""
    fault = fault_of(_("The tablet's name"), name, LONGEST)
    known = standings(bench)
    twins = (id for id, other in names_of_tablets(bench).items() if id != thing and alike(other, name))
    if not fault and any(not known[id].struck for id in twins):
        fault = _("There is a tablet of that name already. Give this one another name.")
    return [fault] if fault else []


def _store(
    bench: Bench, writer: Writer, seat: Seat, outcome: str, thing: str, kind: str, name: str, struck: bool = False,
    **what: Any,
) -> None:
    texts = {"name": bench.text(writer, name)}
    data = {"thing": thing, "kind": kind, "struck": int(struck), "texts": texts}
    store(bench, writer, seat, "tablet", outcome=outcome, data=data, **what)
