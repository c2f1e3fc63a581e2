"""A case as it stands now: what was accepted, and what corrections, remakes and decisions made of it since.

A body is a journal entry's plain data, {"event", "server"}; see `benchapp.core.events`.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from benchapp.core.words import N_

Body = Mapping[str, Any]

CORRECTABLE = (
    "kind", "due", "shade", "tint", "allergy", "surgery", "opposing", "bite", "mounting", "tryin", "marking",
)
"""Plain fields of a case that may be corrected; beside them its texts (patient, prescriber, order, pan,
marking_words) and what is known of a part (PART_FIELDS)."""
PART_FIELDS = ("revision", "print_job")


def case_now(accepted: Mapping[str, Any], changes: Iterable[Body]) -> dict[str, Any]:
    """Return a case's data with every change in its order applied; `accepted` stays as it is.

    Adds `cancelled` (0 or 1), `decided` (the allergy decision's data, or None), `paired` (the last pair check
    as {outcome, t, person, id}, or None), and the jaws of successors.
    """
    case: dict[str, Any] = {
        **dict.fromkeys(CORRECTABLE, ""), **accepted, "texts": dict(accepted["texts"]),
        "jaws": [dict(jaw) for jaw in accepted["jaws"]], "cancelled": 0, "decided": None, "paired": None,
    }
    for body in changes:
        _change(case, body["event"], body["server"])
    return case


def _change(case: dict[str, Any], event: Mapping[str, Any], server: Mapping[str, Any]) -> None:
    data, kind = event.get("data", {}), event["kind"]
    if kind == "correct":
        case.update({name: value for name, value in data.get("set", {}).items() if name in CORRECTABLE})
        case["texts"].update(data.get("texts", {}))
        _parts(case, data.get("parts", {}))
    elif kind == "allergy":
        case["decided"] = data
    elif kind in ("cancel", "reopen"):
        case["cancelled"] = int(kind == "cancel")
    elif kind == "remake":
        _remade(case, event["jaw"], data["made"])
    elif kind == "successor":
        case["jaws"] += [dict(jaw) for jaw in data["jaws"]]
    elif kind == "pair":
        case["paired"] = {
            "outcome": event["outcome"], "t": server["when"], "person": event["by"]["person"], "id": event["id"],
        }


def _parts(case: dict[str, Any], said: Mapping[str, Mapping[str, str]]) -> None:
    """Put in what was said of parts by their code: {code: {revision, print_job}}."""
    for jaw in case["jaws"] if said else []:
        jaw["parts"] = [
            part | {name: value for name, value in said.get(part["code"], {}).items() if name in PART_FIELDS}
            for part in jaw["parts"]
        ]


def _remade(case: dict[str, Any], code: str, made: dict[str, Any]) -> None:
    """Put the new part in the place of the old one, which is kept under `old_parts`."""
    for jaw in case["jaws"]:
        if jaw["code"] == code:
            gone = [part for part in jaw["parts"] if part["part"] == made["part"]]
            jaw["old_parts"] = [*jaw.get("old_parts", []), *gone]
            jaw["parts"] = [made if part["part"] == made["part"] else part for part in jaw["parts"]]


WAITS = {
    "allergy": N_(
        "Allergy: yes. It waits until a licensed professional has decided, and the desk has entered that."
    ),
    "against": N_("Allergy: a licensed professional decided against it."),
    "cancel": N_("The case is cancelled."),
}


def waits(case: Mapping[str, Any]) -> str:
    """Return the key of WAITS that says why a case as it is now must not go on, or ""."""
    if case["cancelled"]:
        return "cancel"
    if case["allergy"] != "yes":
        return ""
    if case["decided"] is None:
        return "allergy"
    return "" if case["decided"].get("goes_on") else "against"


MOVES = frozenset({"confirm", "undo", "sendback", "hold", "resume", "dark", "bright"})
"""What moves a jaw at the bench; to scrap it moves it too, but leaves its release as it was."""
SETTLED = "settled"
"""Outcome of a `close` by which a supervisor settles what came back; it is stored and never changes."""


def released(bodies: Iterable[Body]) -> Body | None:
    """Return the last release of a jaw if it stands, by all entries of the jaw in their order.

    Nothing at the desk takes a release back: amendments, sent out and came back only add to it. But a fact is never
    refused, and the last tap may be taken back while its time is not over: what moves the jaw after its release
    ends that release. An entry that was not taken moves nothing.
    """
    found: Body | None = None
    for body in bodies:
        if body["event"]["kind"] == "release":
            found = body
        elif moves(body["event"]["kind"], body["server"]["marks"]):
            found = None
    return found


def moves(kind: str, marks: Iterable[Sequence[str]]) -> bool:
    """Tell whether an entry of this kind and with these marks, each [why, grade], moved its jaw at the bench."""
    return kind in MOVES and not any(grade == "refused" for _, grade in marks)


def unsettled(after: Iterable[Body]) -> Body | None:
    """Return the last return of a jaw unless it was sent out again or a supervisor settled it since; None elsewise.

    `after` is what came after the jaw was packed, in its order.
    """
    found: Body | None = None
    for body in after:
        event = body["event"]
        ended = event["kind"] == "close" and found and event.get("allow") == found["event"]["id"]
        if event["kind"] == "back":
            found = body
        elif event["kind"] == "sent" or ended:
            found = None
    return found
