"""What went into a jaw: materials, devices and loads as they were picked, parts that were made again, repairs."""

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import Field

from benchapp.core.codes import spaced
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.protocol import Step
from benchapp.core.record_entries import Moment, Said, graded
from benchapp.core.record_trail import Deed, Trail
from benchapp.core.record_words import Names
from benchapp.core.stock import Thing
from benchapp.core.words import N_, _

Body = Mapping[str, Any]
LOAD = "load"
BEARERS = {
    "lab": N_("the laboratory"), "printing": N_("whoever printed it"), "clinic": N_("the clinic"),
    "maker": N_("a maker of material"), "open": N_("not decided yet"),
}  # fmt: skip


class Used(Said):
    """A material, device, part, load or person as it was picked for a step."""

    seq: int = Field(description="number of the entry in the journal")
    step: str = Field(description="title of the step")
    title: str = Field(description="what was asked for")
    sort: str = Field(description="material, device, part, load, person, or unknown")
    name: str = Field(description="name of what was picked; for a part its make and revision")
    lot: str = Field(description="the maker's lot; empty for what has none")
    expiry: str = Field(description="last day of use, YYYY-MM-DD; empty for what has none")
    tint: str = Field(description="tint; empty for what has none")
    code: str = Field(description="the code that is stored, in groups where it is one of the laboratory's")
    at: Moment = Field(description="when; the stated time if a person named one")
    who: str = Field(description="by whom")
    marks: list[str] = Field(description="what the laboratory's PC found out of the ordinary in it")

    def lot_words(self) -> str:
        """Return lot and last day of use as they are printed."""
        lot = _("lot {number}", number=self.lot) if self.lot else ""
        expiry = _("use by {day}", day=self.expiry) if self.expiry else ""
        return " · ".join(w for w in (lot, expiry) if w)

    def text(self) -> str:
        """Return what was picked as it is printed."""
        more = [f"! {mark}" for mark in self.marks]
        return " · ".join(w for w in (self.name, self.tint, *more) if w)


class OldPart(Said):
    """A printed part that was scrapped and made again; it stays on the record."""

    part: str = Field(description="base or arch")
    make: int = Field(description="1 for the first print, one more with each remake")
    revision: str = Field(description="revision of the design that it was printed from")
    print_job: str = Field(description="the print job that made it")
    code: str = Field(description="code on its tag, in groups")
    next_make: int = Field(description="the make that took its place; 0 when that is not known")
    reason: str = Field(description="why it was made again")
    bears: str = Field(description="who bears it; empty when that was not said")
    at: Moment | None = Field(description="when it was replaced")
    who: str = Field(description="who decided it")

    def text(self) -> str:
        """Return the old part as it is printed."""
        return _(
            "make {make}, design revision {revision}, print job {print_job}, tag {code}", make=self.make,
            revision=self.revision, print_job=self.print_job, code=self.code,
        )

    def part_words(self) -> str:
        """Return which part it is, as it is printed."""
        return _(PART_WORDS[self.part])

    def next_words(self) -> str:
        """Return which make took its place, as it is printed."""
        return _("make {number}", number=self.next_make) if self.next_make else _("not known")

    def why(self) -> str:
        """Return why it was made again, and who bears it, as it is printed."""
        return "; ".join([self.reason, *([_("borne by {bearer}", bearer=self.bears)] if self.bears else [])])


class Mending(Said):
    """One thing that was said of an opened place until it was closed."""

    at: Moment = Field(description="when")
    step: str = Field(description="title of the step")
    said: str = Field(description="what was said")
    who: str = Field(description="by whom")


class Repair(Said):
    """A place that was opened again and mended in steps that are done only when something is found."""

    place: str = Field(description="stored name of the place")
    words: str = Field(description="the place in words")
    open: bool = Field(description="whether it is not mended yet")
    story: list[Mending] = Field(description="finding and mending, in order")


def used(names: Names, trail: Trail, things: Mapping[str, Thing]) -> list[Used]:
    """Return what was picked in entries that count; `things` are devices and lots by code."""
    return [
        _used(names, deed, name, code, things)
        for deed in trail.deeds
        if deed.kind == "confirm" and deed.effective
        for name, code in names.own_picks(deed).items()
    ]


def _used(names: Names, deed: Deed, name: str, code: str, things: Mapping[str, Thing]) -> Used:
    step = names.of_step(deed.event["step"])
    title = next((pick.title for pick in step.picks if pick.name == name), name) if step else name
    sort, said = _sort(names, name, code, things)
    thing = things.get(code)
    return Used(
        seq=deed.seq,
        step=names.step(deed.event["step"]),
        title=title,
        sort=sort,
        name=said,
        lot=thing.lot if thing else "",
        expiry=thing.expiry if thing else "",
        tint=thing.tint if thing else "",
        code=code if sort in ("load", "unknown", "person") else spaced(code),
        at=names.at(deed.t),
        who=names.who(deed),
        marks=[graded(words, grade) for words, grade in names.server_marks(deed)],
    )


def _sort(names: Names, name: str, code: str, things: Mapping[str, Thing]) -> tuple[str, str]:
    part = next((p for p in names.jaw["parts"] + names.jaw.get("old_parts", []) if p["code"] == code), None)
    if part is not None:
        return "part", _(
            "{part} make {make}, revision {revision}", part=_(PART_WORDS[part["part"]]), make=part["make"],
            revision=part["revision"],
        )
    if code in things:
        return things[code].of, things[code].name
    if name == LOAD:
        return LOAD, names.picked(code, name)[0]
    if code in names.people:
        return "person", names.people[code]
    return "unknown", _("(not known for this jaw)")


def old_parts(names: Names, changes: Iterable[Body]) -> list[OldPart]:
    """Return the parts of the jaw that were made again, in their order."""
    code = names.jaw["code"]
    made = [b for b in changes if b["event"]["kind"] == "remake" and b["event"]["jaw"] == code]
    found: list[OldPart] = []
    for part in names.jaw.get("old_parts", []):
        body = next((b for b in made if _replaces(b["event"]["data"]["made"], part)), None)
        found.append(_old(names, part, body))
    return found


def _replaces(made: Mapping[str, Any], part: Mapping[str, Any]) -> bool:
    return bool(made["part"] == part["part"] and made["make"] == part["make"] + 1)


def _old(names: Names, part: Mapping[str, Any], body: Body | None) -> OldPart:
    event = body["event"] if body else {}
    data = event.get("data", {})
    return OldPart(
        part=part["part"],
        make=part["make"],
        revision=part["revision"],
        print_job=part["print_job"],
        code=spaced(part["code"]),
        next_make=data["made"]["make"] if body else 0,
        reason=names.reason(data.get("reason", "")),
        bears=_(BEARERS.get(data.get("bearer", ""), data.get("bearer", ""))),
        at=names.at(body["server"]["when"]) if body else None,
        who=names.person(event["by"]["person"]) if body else "",
    )


def repairs(names: Names, trail: Trail) -> list[Repair]:
    """Return the places that were opened for a step that is only called for, each from its first opening on."""
    found: dict[str, list[Deed]] = {}
    for deed in trail.deeds:
        if deed.kind == "confirm" and deed.effective and deed.act is not None:
            for place in deed.event["places"]:
                if place in found or _calls(names, deed):
                    found.setdefault(place, []).append(deed)
    return [_repair(names, trail, place, found[place]) for place in names.place_words if place in found]


def _calls(names: Names, deed: Deed) -> bool:
    """Whether an outcome opens a place in a step that asks for nothing until it is called."""
    step = names.of_step(deed.event["step"])
    said = next((o for o in step.outcomes if o.id == deed.event["outcome"]), None) if step else None
    target = names.of_step(said.to or "") if said else None
    return bool(deed.act and deed.act["of"] == "place" and said and said.leads == "opens" and _called(target))


def _called(step: Step | None) -> bool:
    return step is not None and step.called


def _repair(names: Names, trail: Trail, place: str, deeds: list[Deed]) -> Repair:
    asked = any(cells.get(place) in ("open", "wait") for cells in trail.state["cells"].values())
    return Repair(
        place=place,
        words=names.place(place),
        open=asked and not trail.state["ended"],
        story=[
            Mending(
                at=names.at(deed.t),
                step=names.step(deed.event["step"]),
                said=names.said(deed.event["step"], deed.event["outcome"]),
                who=names.who(deed),
            )
            for deed in deeds
        ],
    )
