"""What was not ordinary about a jaw: by place, and everything else in order of time."""

from collections import Counter
from typing import Any

from benchapp.core.orders_words import PART_WORDS
from benchapp.core.record_carried import carried_over
from benchapp.core.record_models import Item, NotOrdinary, PlaceStory, Saying
from benchapp.core.record_seating import SeatingCheck
from benchapp.core.record_steps import about_words, confirmed, fate
from benchapp.core.record_trail import Deed, Hold, Trail
from benchapp.core.record_words import WHY, Names, apart, length, plain, quoted
from benchapp.core.words import N_, _, n_

# How a hold ended: not yet, taken back, or with work going on.
HELD = {
    "still": N_("put on hold, still held"), "back": N_("put on hold, taken back after {time}"),
    "over": N_("put on hold for {time}"),
}  # fmt: skip
HELD_AFTER = {
    "still": N_("held after {entry}, still held"), "back": N_("held after {entry}, taken back after {time}"),
    "over": N_("held after {entry} for {time}"),
}  # fmt: skip


def not_ordinary(names: Names, trail: Trail, seating: SeatingCheck | None = None) -> NotOrdinary:
    """Return all exceptions of a jaw; `seating` is its seating check."""
    items = [
        *(_findings(seating, trail) if seating else []),
        *_parts(names),
        *_holds(names, trail),
        *_claims(names, trail),
        *carried_over(names, trail),
        *(item for deed in trail.deeds for item in _of_deed(names, trail, deed)),
    ]
    return NotOrdinary(places=_places(names, trail), items=sorted(items, key=lambda item: item.at or ""))


def _findings(seating: SeatingCheck, trail: Trail) -> list[Item]:
    """Return the findings of the seating check; those of a scrapped jaw wait for nobody."""
    return [
        Item(
            kind="finding",
            grade="",
            at=one.at or seating.made,
            step="",
            words=_("seating check: {words}", words=one.words),
            reason=one.answer,
            who=one.who,
            lasted_ms=None,
            open=one.open and trail.state["ended"] != "scrap",
        )
        for one in seating.findings
    ]


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
        words = _("sent back from {step} to {earlier}", step=quoted(names.step(deed.stood)),
                  earlier=quoted(names.step(deed.event["step"])))
        found.append(_item(names, deed, "sent back", words, reason=_tile(names, deed)))
    if deed.kind == "dark" and deed.effective:
        found.append(_dark(names, trail, deed))
    if deed.effective:
        found += [
            _item(names, deed, "server", f"{about_words(names, deed)}: {words}", grade)
            for words, grade in names.server_marks(deed)
        ]
    if deed.kind == "scrap" and deed.effective:
        found.append(_item(names, deed, "scrap", _("scrapped as a whole"), reason=_tile(names, deed)))
    found += [
        _item(names, deed, "pick", _("picked {code} as {name}: not known for this jaw", code=code, name=name), "note",
              open=True)
        for name, code in names.own_picks(deed).items()
        if deed.kind == "confirm" and deed.effective and not names.picked(code, name)[1]
    ]
    return found


def _dark(names: Names, trail: Trail, deed: Deed) -> Item:
    later = trail.deeds[trail.deeds.index(deed) + 1 :]
    end = next((d for d in later if d.kind == "bright" and d.effective), None)
    lasted = None if end is None else max(0, end.t - deed.t)
    if lasted is None:
        words = _("light of the load off in mid-cure, still off")
    else:
        words = _("light of the load off in mid-cure for {time}", time=length(lasted))
    return _item(names, deed, "dark", words, "note", lasted_ms=lasted, step=names.step(deed.stood))


def _answers(names: Names, deed: Deed, act: dict[str, Any]) -> list[Item]:
    if act["round"]:
        words = _("{confirmed}: sent back to {step}", confirmed=confirmed(names, deed),
                  step=quoted(_back_to(names, deed)))
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
        words = _("{entry}: time stated as {stated}, recorded {recorded}", entry=about_words(names, deed),
                  stated=plain(names.at(deed.t)), recorded=recorded)
        return _item(names, deed, "stated", words, "note", reason=_tile(names, deed) or names.reason(mark["reason"]))
    words = f"{about_words(names, deed)}: {_(WHY.get(mark['why'], mark['why']))}{_times(names, trail, deed, mark)}"
    asks = mark["grade"] in ("deviation", "stop") and not mark["reason"]
    return _item(names, deed, "mark", words, mark["grade"], reason=names.reason(mark["reason"]), open=asks)


def _times(names: Names, trail: Trail, deed: Deed, mark: dict[str, Any]) -> str:
    """Return what a clock asked and what it got, for a mark about a clock."""
    kind = {"early": "floor", "late": "ceiling"}.get(mark["why"])
    ran = next((r for r in trail.clocks if r.deed is deed and r.kind == kind and r.grade == mark["grade"]), None)
    if ran is None or ran.ended is None:
        return ""
    return f": {apart(kind == 'floor', ran.ended - ran.started, names.step(ran.since), ran.asked)}"


def _refused(names: Names, deed: Deed) -> Item:
    why = next((m["why"] for m in deed.marks if m["grade"] == "refused"), "")
    settled = deed.fate == "taken in" or any(m["resolved"] for m in deed.marks)
    words = f"{about_words(names, deed)}: {fate(names, deed)}"
    if deed.fate == "taken in":
        words = _("{entry} (came as: {why})", entry=words, why=_(WHY.get(why, why)))
    return _item(names, deed, "refused", words, "refused", open=not settled)


def _holds(names: Names, trail: Trail) -> list[Item]:
    return [_hold(names, hold) for hold in trail.holds]


def _hold(names: Names, hold: Hold) -> Item:
    start, end = hold.start, hold.end
    lasted = None if end is None else max(0, end.server["when"] - start.server["when"])
    how = "still" if lasted is None else "back" if end is not None and end.kind == "undo" else "over"
    about = "" if start.kind == "hold" else about_words(names, start)
    words = _((HELD_AFTER if about else HELD)[how], entry=about, time=length(lasted or 0))
    step = names.step(start.stood)
    grade = "" if start.kind == "hold" or (start.act and start.act["held"]) else "stop"
    return _item(names, start, "hold", words, grade, reason=_tile(names, start), lasted_ms=lasted, step=step)


def _claims(names: Names, trail: Trail) -> list[Item]:
    """Return one item per person and mark of the server: a whole day offline is one matter, not sixty."""
    many: dict[tuple[str, str], list[Deed]] = {}
    for deed in trail.deeds:
        for why, _grade in deed.server["marks"]:
            if why in ("claimed", "tablet"):
                many.setdefault((why, deed.event["by"]["person"]), []).append(deed)
    return [_claim(names, why, deeds) for (why, _person), deeds in many.items()]


def _claim(names: Names, why: str, deeds: list[Deed]) -> Item:
    kinds = Counter(deed.kind == "confirm" for deed in deeds)
    counts = ", ".join(
        n_("{n} confirmed", "{n} confirmed", count) if confirm else
        n_("{n} of another kind", "{n} of another kind", count) for confirm, count in kinds.items()
    )
    last = plain(names.at(deeds[-1].server["when"]))
    words = _("{why}: {counts}, the last at {moment}", why=_(WHY[why]), counts=counts, moment=last)
    return _item(names, deeds[0], why, words, "note", step="")


def _parts(names: Names) -> list[Item]:
    revisions = [f"{_(PART_WORDS[part['part']])} {part['revision']}" for part in names.jaw["parts"]]
    if len({part["revision"] for part in names.jaw["parts"]}) < 2:
        return []
    return [
        Item(
            kind="parts",
            grade="note",
            at=None,
            step="",
            words=_("parts of different design revisions: {revisions}", revisions=", ".join(revisions)),
            reason="",
            who="",
            lasted_ms=None,
            open=True,
        )
    ]
