"""Everything that can happen, as one envelope; its JSON shape is frozen at version 1 and read for ever.

A *fact* was done at the bench and is always stored; a *request* may be refused. Names of things only: no names
of people or patients and no free text stand in an event; those lie in `texts`, named by their hash.
"""

import json
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from benchapp.core.words import N_

VERSION = 1

FACTS: dict[str, str] = {
    "confirm": N_("an outcome was said of places of a step"),
    "undo": N_("the last effective event of the jaw was taken back"),
    "hold": N_("the jaw was put on hold, with a reason tile"),
    "resume": N_("a held jaw goes on"),
    "sendback": N_("the jaw was sent back to an earlier step, before first light"),
    "dark": N_("the light of a load went off in mid-cure: the chamber's door was opened"),
    "bright": N_("the light of a load came on again, after so long a time without it"),
    "reason": N_("a breach was explained by a reason tile"),
    "hand": N_("a jaw and its alarm were handed to a named colleague"),
    "opened": N_("a tablet opened the page of a jaw"),
    "claimed": N_("somebody took the tablet over without a PIN while it was offline"),
}
REQUESTS: dict[str, str] = {
    "lab": N_("name, address and time zone of the laboratory"),
    "person": N_("a person and their roles"),
    "device": N_("a lamp, a chamber or another device"),
    "material": N_("a lot of a material"),
    "case": N_("a case with its jaws and parts was accepted"),
    "signin": N_("a person signed in by PIN"),
    "locked": N_("a person, a tablet or an address has a pause after wrong PINs, badges or codes"),
    "resolve": N_("a supervisor took a refused event in, or set it aside"),
    "scrap": N_("a jaw was scrapped as a whole"),
    "restored": N_("the journal was restored from a backup"),
    "tablet": N_("a tablet or a display was enrolled, named or struck off"),
    "badge": N_("a person was given a badge, or it was struck off"),
    "protocol": N_("an edition of a protocol came into force for new cases"),
    "setting": N_("a setting that a rule depends on was changed"),
    "correct": N_("what a case was ordered as was corrected or completed"),
    "allergy": N_("a licensed professional's decision on a stated allergy was entered"),
    "cancel": N_("a case was cancelled"),
    "reopen": N_("a cancelled case goes on"),
    "remake": N_("a part was scrapped and is made again"),
    "successor": N_("a scrapped jaw is made again as a whole, under a code of its own"),
    "pair": N_("both jaws of a case were checked together"),
    "mesh": N_("the design file of a part was attached, by its hash"),
    "seating": N_("base and arch were checked against each other, with the hashes of both files"),
    "release": N_("a jaw was released"),
    "amend": N_("something was added to the record of a released jaw"),
    "sent": N_("a jaw was sent out"),
    "back": N_("a jaw came back, with the reason"),
    "close": N_("a supervisor read a breach and closed it, or settled what came back"),
}
# What changes a case after it was accepted; found again by the tag `order`.
OF_CASE = frozenset({"correct", "allergy", "cancel", "reopen", "remake", "successor", "pair"})

Name = Annotated[str, StringConstraints(max_length=80)]
Ms = Annotated[int, Field(ge=0, le=2**53)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class By(_Part):
    """Who did it, and how sure that is."""

    person: Name
    how: Literal["pin", "badge", "claimed", "pc"]
    signin: Name = ""


class Origin(_Part):
    """Which tablet sent it: its id, its start, a counter within that start, its page version and table."""

    tablet: Name
    boot: Name
    n: Annotated[int, Field(ge=0, le=2**53)]
    app: Name
    table: Name = ""


class At(_Part):
    """When: the tablet's clock, what must be added to it, how old that is; `stated` if a person named the time."""

    wall: Ms
    offset: Annotated[int, Field(ge=-(2**53), le=2**53)]
    age: Ms
    mono: Ms
    stated: Ms | None = None


class Saw(_Part):
    """What the person had before them: the last journal entry of the jaw, and for how many ms the card was shown."""

    seq: Annotated[int, Field(ge=0, le=2**53)]
    ms: Ms


class Value(_Part):
    """A number as it was confirmed."""

    name: Name
    value: Annotated[str, StringConstraints(max_length=24)]
    unit: Annotated[str, StringConstraints(max_length=12)]


class Event(_Part):
    """One thing that happened, version 1."""

    v: Annotated[int, Field(ge=VERSION, le=VERSION)]  # as Literal[1] it would take true and 1.0 too
    kind: Name
    id: Annotated[str, StringConstraints(min_length=8, max_length=64, pattern=r"^[0-9A-Za-z-]+$")]
    case: Name = ""
    jaw: Name = ""
    round: Annotated[int, Field(ge=0, le=10_000)] = 0
    step: Name = ""
    places: Annotated[list[Name], Field(max_length=200)] = []
    outcome: Name = ""
    values: Annotated[list[Value], Field(max_length=20)] = []
    picks: Annotated[dict[Name, Name], Field(max_length=20)] = {}
    undo: Name = ""
    allow: Name = ""
    by: By
    from_: Origin = Field(alias="from")
    at: At
    saw: Saw
    data: dict[str, Any] = {}


class EventError(ValueError):
    """An event cannot be read; the message says which key is wrong."""


def read_event(raw: object) -> Event:
    """Read one event from plain data; EventError says which key is wrong."""
    try:
        event = Event.model_validate(raw)
        json.dumps(event.model_dump()).encode()
    except ValidationError as error:
        first = error.errors()[0]
        raise EventError(f"{'.'.join(map(str, first['loc'])) or 'event'}: {first['msg']}") from None
    except (ValueError, RecursionError) as error:  # lone surrogates, nesting without end
        raise EventError(f"event: {error}") from None
    return event


def read_fact(raw: object) -> Event:
    """Read one fact from plain data; EventError also for a kind that is not a fact."""
    event = read_event(raw)
    if event.kind not in FACTS:
        raise EventError(f"kind: {event.kind!r} is not a fact")
    if event.data:
        raise EventError(N_("data: a fact has none"))
    return event


def event_dict(event: Event) -> dict[str, Any]:
    """Return an event as the plain data that is stored: keys that say nothing are left out."""
    plain = event.model_dump(by_alias=True, exclude_none=True)
    for key in ("undo", "allow", "data"):
        if not plain[key]:
            del plain[key]
    return plain


def body_bytes(event: dict[str, Any], server: dict[str, Any]) -> bytes:
    """Return the bytes of a journal entry: what was sent, and apart from it what the server adds."""
    return json.dumps({"event": event, "server": server}, ensure_ascii=False, separators=(",", ":")).encode()


def read_body(body: bytes) -> dict[str, Any]:
    """Return a journal entry's body as plain data, lifted to the newest version."""
    entry: dict[str, Any] = json.loads(body)
    return entry  # version 1 is the newest: nothing to lift yet


def newer(body: bytes) -> bool:
    """Tell whether an entry was written by a newer version, or is of a kind unknown here."""
    event = read_body(body)["event"]
    return bool(event["v"] > VERSION or event["kind"] not in FACTS | REQUESTS)


def tags_of(body: bytes) -> list[tuple[str, str]]:
    """Return the tags of a journal entry, by which it is found again: (name, value) pairs, none twice."""
    entry = read_body(body)
    event = entry["event"]
    pairs = [
        ("kind", event["kind"]), ("case", event["case"]), ("jaw", event["jaw"]),
        ("person", event["by"]["person"]), ("tablet", entry["server"]["tablet"]),
    ]
    pairs += [("picked", picked) for picked in event["picks"].values()]
    data = event.get("data", {})
    pairs += [("jaw", jaw["code"]) for jaw in data.get("jaws", [])]
    pairs += [("part", part["code"]) for jaw in data.get("jaws", []) for part in jaw["parts"]]
    pairs += [("thing", data["thing"])] if "thing" in data else []
    pairs += [("order", event["case"])] if event["kind"] in OF_CASE else []
    pairs += [("part", data["made"]["code"])] if "made" in data else []
    return sorted({(name, value) for name, value in pairs if value})


def fold_event(body: dict[str, Any]) -> dict[str, Any]:
    """Return what the fold needs of a stored entry (see `benchapp.core.fold`)."""
    event, server = body["event"], body["server"]
    stated = event["at"].get("stated")
    return {
        "id": event["id"], "kind": event["kind"], "step": event["step"], "outcome": event["outcome"],
        "places": event["places"], "round": event["round"], "values": event["values"],
        "t": server["when"] if stated is None else stated, "when": server["when"], "stated": int(stated is not None),
        "undo": event.get("undo", ""), "allow": event.get("allow", ""), "roles": server["roles"],
    }


FOLDED = frozenset({"confirm", "undo", "hold", "resume", "sendback", "dark", "bright", "reason", "resolve", "scrap"})
