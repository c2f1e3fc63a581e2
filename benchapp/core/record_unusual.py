"""What was not ordinary about a jaw: by place, and everything else in order of time."""

from collections import Counter
from typing import Any

from benchapp.core.record_models import Item, NotOrdinary, PlaceStory, Saying
from benchapp.core.record_steps import about_words, confirmed, fate
from benchapp.core.record_trail import Deed, Hold, Trail
from benchapp.core.record_words import WHY, Names, length, plain, quoted


def not_ordinary(names: Names, trail: Trail) -> NotOrdinary:
    """Return all exceptions of a jaw."""
    items = [
        *_parts(names),
        *_holds(names, trail),
        *_claims(names, trail),
        *(item for deed in trail.deeds for item in _of_deed(names, trail, deed)),
    ]
    return NotOrdinary(places=_places(names, trail), items=sorted(items, key=lambda item: item.at or ""))


def _item(names: Names, deed: Deed, kind: str, words: str, grade: str = "", **more: Any) -> Item:
    plain = {
        "kind": kind,
        "grade": grade,
        "at": names.at(deed.server["when"]),
        "step": names.step(deed.event["step"]),
        "words": words,
        "reason": "",
        "who": names.who(deed),
        "lasted_ms": None,
        "open": False,
    }
    return Item.model_validate(plain | more)


def _places(names: Names, trail: Trail) -> list[PlaceStory]:
    stories: dict[str, list[tuple[Deed, str]]] = {}
    for deed in trail.deeds:
        if deed.kind == "confirm" and deed.effective and deed.act is not None:
            for place in deed.event["places"]:
                if deed.act["of"] == "place" or place in stories:
                    stories.setdefault(place, []).append((deed, deed.act["of"]))
    order = [place for place in names.place_words if place in stories]
    return [_story(names, trail, number, place, stories[place]) for number, place in enumerate(order, 1)]


def _story(names: Names, trail: Trail, number: int, place: str, said: list[tuple[Deed, str]]) -> PlaceStory:
    named = [deed for deed, of in said if of == "place"]
    sent_back = any(deed.act and deed.act["to"] == "wait" for deed in named)
    asked = any(cells.get(place) in ("open", "wait") for cells in trail.state["cells"].values())
    return PlaceStory(
        number=number,
        place=place,
        words=names.place(place),
        loop=sent_back or len(named) > 1,
        open=asked and not trail.state["ended"],
        story=[
            Saying(
                at=names.at(deed.t),
                step=names.step(deed.event["step"]),
                who=names.who(deed),
                said=names.said(deed.event["step"], deed.event["outcome"]),
            )
            for deed, _ in said
        ],
    )


def _of_deed(names: Names, trail: Trail, deed: Deed) -> list[Item]:
    found = [_marked(names, trail, deed, mark) for mark in deed.marks if mark["grade"] != "refused" and deed.effective]
    if deed.fate == "taken back":
        found.append(_item(names, deed, "taken back", f"{about_words(names, deed)}: {fate(names, deed)}"))
    if deed.fate in ("not taken", "taken in"):
        found.append(_refused(names, deed))
    if deed.kind == "confirm" and deed.effective and deed.act is not None:
        found += _answers(names, deed, deed.act)
    if deed.kind == "sendback" and deed.effective:
        words = f"sent back from {quoted(names.step(deed.stood))} to {quoted(names.step(deed.event['step']))}"
        found.append(_item(names, deed, "sent back", words, reason=_tile(names, deed)))
    if deed.kind == "dark" and deed.effective:
        found.append(_dark(names, trail, deed))
    if deed.effective:
        found += [
            _item(names, deed, "server", f"{about_words(names, deed)}: {words}", grade)
            for words, grade in names.server_marks(deed)
        ]
    if deed.kind == "scrap" and deed.effective:
        found.append(_item(names, deed, "scrap", "scrapped as a whole", reason=_tile(names, deed)))
    found += [
        _item(names, deed, "pick", f"picked {code} as {name}: not known for this jaw", "note", open=True)
        for name, code in names.own_picks(deed).items()
        if deed.kind == "confirm" and deed.effective and not names.picked(code, name)[1]
    ]
    return found


def _dark(names: Names, trail: Trail, deed: Deed) -> Item:
    later = trail.deeds[trail.deeds.index(deed) + 1 :]
    end = next((d for d in later if d.kind == "bright" and d.effective), None)
    lasted = None if end is None else max(0, end.t - deed.t)
    words = "light of the load off in mid-cure" + (", still off" if lasted is None else f" for {length(lasted)}")
    return _item(names, deed, "dark", words, "note", lasted_ms=lasted, step=names.step(deed.stood))


def _answers(names: Names, deed: Deed, act: dict[str, Any]) -> list[Item]:
    if act["round"]:
        words = f"{confirmed(names, deed)}: sent back to {quoted(_back_to(names, deed))}"
        return [_item(names, deed, "sent back", words)]
    if act["of"] != "place" and not act["to"] and not act["held"]:
        return [_item(names, deed, "again", confirmed(names, deed))]
    return []


def _back_to(names: Names, deed: Deed) -> str:
    step = names.of_step(deed.event["step"])
    target = next((o.to for o in step.outcomes if o.id == deed.event["outcome"]), None) if step else None
    return names.step(target or "")


def _tile(names: Names, deed: Deed) -> str:
    return names.why(deed.event)


def _marked(names: Names, trail: Trail, deed: Deed, mark: dict[str, Any]) -> Item:
    if mark["why"] == "stated":
        recorded = plain(names.at(deed.server["when"]))
        words = f"{about_words(names, deed)}: time stated as {plain(names.at(deed.t))}, recorded {recorded}"
        return _item(names, deed, "stated", words, "note", reason=_tile(names, deed) or names.reason(mark["reason"]))
    words = f"{about_words(names, deed)}: {WHY.get(mark['why'], mark['why'])}{_times(names, trail, deed, mark)}"
    asks = mark["grade"] in ("deviation", "stop") and not mark["reason"]
    return _item(names, deed, "mark", words, mark["grade"], reason=names.reason(mark["reason"]), open=asks)


def _times(names: Names, trail: Trail, deed: Deed, mark: dict[str, Any]) -> str:
    """Return what a clock asked and what it got, for a mark about a clock."""
    kind = {"early": "floor", "late": "ceiling"}.get(mark["why"])
    ran = next((r for r in trail.clocks if r.deed is deed and r.kind == kind and r.grade == mark["grade"]), None)
    if ran is None or ran.ended is None:
        return ""
    word = "at least" if kind == "floor" else "at most"
    took = length(ran.ended - ran.started)
    return f": {took} after {quoted(names.step(ran.since))}, asked {word} {length(ran.asked)}"


def _refused(names: Names, deed: Deed) -> Item:
    why = next((m["why"] for m in deed.marks if m["grade"] == "refused"), "")
    settled = deed.fate == "taken in" or any(m["resolved"] for m in deed.marks)
    came = f" (came as: {WHY.get(why, why)})" if deed.fate == "taken in" else ""
    return _item(
        names,
        deed,
        "refused",
        f"{about_words(names, deed)}: {fate(names, deed)}{came}",
        "refused",
        open=not settled,
    )


def _holds(names: Names, trail: Trail) -> list[Item]:
    return [_hold(names, hold) for hold in trail.holds]


def _hold(names: Names, hold: Hold) -> Item:
    start, end = hold.start, hold.end
    lasted = None if end is None else max(0, end.server["when"] - start.server["when"])
    what = "put on hold" if start.kind == "hold" else f"held after {about_words(names, start)}"
    if lasted is None:
        words = f"{what}, still held"
    elif end is not None and end.kind == "undo":
        words = f"{what}, taken back after {length(lasted)}"
    else:
        words = f"{what} for {length(lasted)}"
    step = names.step(start.stood)
    grade = "" if start.kind == "hold" or (start.act and start.act["held"]) else "stop"
    return _item(names, start, "hold", words, grade, reason=_tile(names, start), lasted_ms=lasted, step=step)


def _claims(names: Names, trail: Trail) -> list[Item]:
    """Return one item per person and mark of the server: a whole day offline is one matter, not sixty."""
    many: dict[tuple[str, str], list[Deed]] = {}
    for deed in trail.deeds:
        for why, _ in deed.server["marks"]:
            if why in ("claimed", "tablet"):
                many.setdefault((why, deed.event["by"]["person"]), []).append(deed)
    return [_claim(names, why, deeds) for (why, _), deeds in many.items()]


def _claim(names: Names, why: str, deeds: list[Deed]) -> Item:
    kinds = Counter("confirmed" if deed.kind == "confirm" else "of another kind" for deed in deeds)
    count = ", ".join(f"{count} {kind}" for kind, count in kinds.items())
    last = plain(names.at(deeds[-1].server["when"]))
    return _item(names, deeds[0], why, f"{WHY[why]}: {count}, the last at {last}", "note", step="")


def _parts(names: Names) -> list[Item]:
    revisions = [f"{part['part']} {part['revision']}" for part in names.jaw["parts"]]
    if len({part["revision"] for part in names.jaw["parts"]}) < 2:
        return []
    return [
        Item(
            kind="parts",
            grade="note",
            at=None,
            step="",
            words=f"parts of different design revisions: {', '.join(revisions)}",
            reason="",
            who="",
            lasted_ms=None,
            open=True,
        )
    ]
