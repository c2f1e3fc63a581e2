"""What the record of a jaw should say by the second reading, and what the server's record says, in the same words."""

from collections import Counter
from typing import Any

from tests.week.replay import STATES, Deed, Jaw

MOVES = ("confirm", "undo", "sendback", "hold", "resume", "dark", "bright")
CHECKS = 3
Account = dict[str, Any]


def of_journal(jaw: Jaw) -> Account:
    """Return what the record should say."""
    titles = {step["id"]: step["title"] for step in jaw.protocol["steps"]}
    here = jaw.here
    fates = Counter(deed.fate for deed in jaw.deeds if deed.event["kind"] == "confirm")
    standing, earlier = _releases(jaw)
    state = STATES.get(here.ended) or ("on hold" if here.held else "not finished")
    left = [step for step, cells in here.cells.items() if {"open", "wait"} & set(cells.values())]
    parts, old = _parts(jaw)
    return {
        "confirmations": [fates.total(), fates["counts"] + fates["taken in"], fates["taken back"], fates["not taken"]],
        "state": "released" if standing and here.ended != "scrap" else state,
        "step": titles.get(here.now, ""), "round": jaw.turn, "lit": here.lit,
        "left": [] if here.ended else [titles[step] for step in left],
        "parts": parts, "old parts": old, "who": _who(jaw),
        "checks": [[titles[step], _answered(jaw, step)] for step in _check_steps(jaw)],
        "fates": [[d.body["server"]["seq"], d.event["kind"], d.fate] for d in jaw.deeds],
        "released": standing, "earlier": earlier,
        "sent": [b["event"]["data"]["on"] for b in _own(jaw, "sent")],
        "back": [[b["event"]["data"]["on"], *b["event"]["places"]] for b in _own(jaw, "back")],
        "amended": len(_own(jaw, "amend")),
    }


def of_record(record: dict[str, Any]) -> Account:
    """Return the same of the record that the server sends as JSON."""
    counts, standing, after = record["confirmations"], record["standing"], record["after"]
    return {
        "confirmations": [counts[key] for key in ("stored", "count", "taken_back", "not_taken")],
        "state": standing["state"], "step": standing["step"], "round": standing["round"], "lit": standing["lit"],
        "left": standing["left"],
        "parts": sorted([p["part"], p["make"], _plain(p["code"])] for p in record["identity"]["parts"]),
        "old parts": sorted([p["part"], p["make"], _plain(p["code"])] for p in record["old_parts"]),
        "who": [[who["name"], who["confirmations"]] for who in record["who"]],
        "checks": [[check["step"], check["answered"]] for check in record["checks"]],
        "fates": [[done["seq"], done["kind"], done["fate"]] for done in record["steps"]],
        "released": after["release"]["seq"] if after["release"] else 0,
        "earlier": len(after["earlier"]),
        "sent": [sent["on"] for sent in after["sent"]],
        "back": [[back["on"], *([back["place"]] if back["place"] else [])] for back in after["back"]],
        "amended": len(after["amendments"]),
    }


def differences(jaw: Jaw, record: dict[str, Any]) -> list[str]:
    """Return where the record and the second reading differ, in words."""
    ours, theirs = of_journal(jaw), of_record(record)
    return [
        f"jaw {jaw.code}: {name}: the record says {theirs[name]!r}, the journal {ours[name]!r}"
        for name in ours if ours[name] != theirs[name]
    ]


def _plain(code: str) -> str:
    return code.replace(" ", "")


def _own(jaw: Jaw, kind: str) -> list[dict[str, Any]]:
    return [body for body in jaw.own if body["event"]["kind"] == kind]


def _releases(jaw: Jaw) -> tuple[int, int]:
    """Return the number of the release that stands (0: none), and how many there are that no longer stand."""
    found: list[int] = [body["server"]["seq"] for body in _own(jaw, "release")]
    if not found:
        return 0, 0
    moved = [d for d in jaw.deeds if d.event["kind"] in MOVES and d.fate != "not taken"]
    stands = not any(d.body["server"]["seq"] > found[-1] for d in moved)
    return (found[-1], len(found) - 1) if stands else (0, len(found))


def _parts(jaw: Jaw) -> tuple[list[list[Any]], list[list[Any]]]:
    """Return the parts in the jaw now and those replaced, each as [part, make, code]."""
    now = {part["part"]: [part["part"], part["make"], part["code"]] for part in jaw.jaw["parts"]}
    old = []
    for body in _own(jaw, "remake"):
        made = body["event"]["data"]["made"]
        old.append(now[made["part"]])
        now[made["part"]] = [made["part"], made["make"], made["code"]]
    return sorted(now.values()), sorted(old)


def _who(jaw: Jaw) -> list[list[Any]]:
    names, found = jaw.journal.names(), dict[str, int]()
    for deed in jaw.deeds:
        person = deed.event["by"]["person"]
        found[person] = found.get(person, 0) + (deed.event["kind"] == "confirm")
    return [[names.get(person, "(not named)"), count] for person, count in found.items()]


def _check_steps(jaw: Jaw) -> list[str]:
    """Return the steps that are questions about the jaw as a whole, of which a stage has three or more."""
    cards = {card["step"] for card in jaw.table["cards"]}
    unlike = ("values", "picks", "floors", "ceilings", "called", "wet", "irreversible")
    asked = [
        step for step in jaw.protocol["steps"]
        if step["id"] in cards and step.get("by", "jaw") == "jaw" and step.get("attended", True)
        and not any(step.get(key) for key in unlike)
    ]
    stages = Counter(step["stage"] for step in asked)
    return [step["id"] for step in asked if stages[step["stage"]] >= CHECKS]


def _answered(jaw: Jaw, step: str) -> bool:
    cells = jaw.here.cells[step]
    return cells["-"] == "done" and not {"open", "wait"} & set(cells.values())


def marks_of(deeds: list[Deed]) -> list[tuple[str, str, str]]:
    """Return the marks that the second reading gives, as (id of the entry, why, grade)."""
    return [(deed.event["id"], why, grade) for deed in deeds for why, grade in deed.marks]
