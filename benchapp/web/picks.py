"""What the bench page knows of lots, devices, parts and labels: every sentence is made here, no rule in a script."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from benchapp.actions.bench import Bench
from benchapp.actions.jaws import JawLine
from benchapp.actions.lab import today, zone_of
from benchapp.actions.stock import clash_of, last_change, things
from benchapp.actions.what import by_letter, of_case, of_thing
from benchapp.core.protocol import Pick, Step
from benchapp.core.stock import Thing, band_words, later, unfit
from benchapp.core.words import N_, _
from benchapp.web.people import people_plain

PARTS = {"base": N_("base {make}"), "arch": N_("arch {make}")}
SPENT_KNOWN = 60  # spent lots whose label the page still knows while the PC is away


@dataclass
class Shelf:
    """The tiles of each step and pick, what is known of each thing by its code, and what each label means."""

    picks: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    known: dict[str, dict[str, Any]] = field(default_factory=dict)
    labels: dict[str, dict[str, Any]] = field(default_factory=dict)

    def data(self, bench: Bench, found: JawLine) -> dict[str, Any]:
        """Return the part of the page's data that `static/js/picks.js` reads."""
        return {
            "things": self.known, "labels": self.labels, "strange": by_letter(),
            "shelf": shelf_now(bench, found.case["code"]),
            "parts": {part["code"]: part["part"] for part in found.jaw["parts"]},
        }


def shelf_now(bench: Bench, case: str) -> str:
    """Return a word that changes when a lot, a device, or a case does: pages of its jaws then fetch tiles anew."""
    order = bench.store.last_tagged("order", case)
    return f"{last_change(bench)}.{order.seq if order else 0}"


def shelf_of(bench: Bench, found: JawLine, steps: list[Step]) -> Shelf:
    """Return tiles, things and labels for the page of a jaw, as of now in the lab's zone."""
    zone, day = zone_of(bench), today(bench)
    every = things(bench)
    shelf = Shelf(labels={code: meaning.plain() for code, meaning in of_case(found).items()})
    spent = [thing for thing in every if thing.spent][-SPENT_KNOWN:]
    for thing in [thing for thing in every if not thing.spent] + spent:
        shelf.known[thing.code] = _known(thing, day, zone, found.case)
        shelf.labels[thing.code] = of_thing(thing).plain()
    usable = [thing for thing in every if not thing.spent]
    for step in steps:
        shelf.picks[step.id] = [_pick(shelf, found, pick, step, usable) for pick in step.picks]
        _clashes(shelf, shelf.picks[step.id])
        _filled_in(shelf, shelf.picks[step.id])
    return shelf


def _known(thing: Thing, day: date, zone: ZoneInfo, case: Mapping[str, Any]) -> dict[str, Any]:
    name = _("{name}, lot {lot}", name=thing.name, lot=thing.lot) if thing.lot else thing.name
    return {"name": name, "unfit": unfit(thing, day, case), "later": later(thing, day, zone), "clash": {}}


def _pick(shelf: Shelf, found: JawLine, pick: Pick, step: Step, usable: list[Thing]) -> dict[str, Any]:
    """Return a pick with its tiles: what is fit stands first, and of that what has the base's tint."""
    if pick.of == "part":
        tiles = [_part(shelf, part) for part in found.jaw["parts"] if pick.kind in (None, part["part"])]
    elif pick.of == "person":
        tiles = [{"code": p["id"], "name": p["name"], "about": "", "unfit": []} for p in people_plain()]
    else:
        light = {"material", "device"} <= {other.of for other in step.picks}
        here = [thing for thing in usable if thing.of == pick.of and pick.kind in (None, thing.kind)]
        here.sort(key=lambda t: (bool(shelf.known[t.code]["unfit"]), bool(t.tint) and t.tint != found.case["tint"]))
        tiles = [_tile(shelf, thing, light) for thing in here]
    return {"name": pick.name, "title": pick.title, "of": pick.of, "tiles": tiles}


def _tile(shelf: Shelf, thing: Thing, light: bool) -> dict[str, Any]:
    why = shelf.known[thing.code]["unfit"]
    band = (f"{thing.band[0]}–{thing.band[1]} nm" if thing.band else band_words(thing)) if light or thing.band else ""
    about = " · ".join(part for part in (thing.about, thing.shade, band) if part)
    if why:  # its reason says the rest, and it must not push what can be picked off the screen
        about = _("lot {lot}", lot=thing.lot) if thing.lot else ""
    return {"code": thing.code, "name": thing.name, "about": about, "unfit": why, "thing": thing}


def _part(shelf: Shelf, part: Mapping[str, Any]) -> dict[str, Any]:
    name = _(PARTS[part["part"]], make=part["make"])
    shelf.known.setdefault(part["code"], {"name": name, "unfit": [], "later": [], "clash": {}})
    about = f"{_('rev {revision}', revision=part['revision'])} · {part['print_job']}"
    return {"code": part["code"], "name": name, "about": about, "unfit": [], "revision": part["revision"]}


def _clashes(shelf: Shelf, picks: list[dict[str, Any]]) -> None:
    """Note for each tile which tiles of the other picks of the same step do not go with it."""
    for pick in picks:
        for other in picks:
            for one in pick["tiles"] if other is not pick else []:
                for two in other["tiles"]:
                    why = _together(one, two)
                    if why:
                        shelf.known[one["code"]]["clash"][two["code"]] = why


def _together(one: dict[str, Any], two: dict[str, Any]) -> str:
    if "thing" in one and "thing" in two:
        return clash_of(one["thing"], two["thing"])
    if one.get("revision", "") != two.get("revision", "") and "revision" in one and "revision" in two:
        return _(
            "{one} is of design revision {first}, {two} of design revision {second}: "
            "they were not made for each other.",
            one=one["name"], first=one["revision"], two=two["name"], second=two["revision"],
        )
    return ""


def _filled_in(shelf: Shelf, picks: list[dict[str, Any]]) -> None:
    """Fill in for each pick the first tile that is fit and goes with those filled in before it."""
    chosen: list[str] = []
    for pick in picks:
        first = next((tile for tile in pick["tiles"] if _goes(shelf, tile, chosen)), None)
        for tile in pick["tiles"]:
            tile["pressed"] = tile is first
        chosen += [first["code"]] if first else []


def _goes(shelf: Shelf, tile: dict[str, Any], chosen: list[str]) -> bool:
    clash = shelf.known[tile["code"]]["clash"] if tile["code"] in shelf.known else {}
    return not tile["unfit"] and not any(code in clash for code in chosen)
