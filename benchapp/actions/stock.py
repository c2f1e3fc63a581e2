"""Devices and lots: what there is, how a sheet becomes one of them, and whether what was picked was fit."""

from collections.abc import Iterable, Mapping
from itertools import combinations
from typing import Any
from zoneinfo import ZoneInfo

from benchapp.actions.bench import Bench
from benchapp.core import events
from benchapp.core.codes import is_whole
from benchapp.core.sheet import DeviceSheet, MaterialSheet
from benchapp.core.stock import Of, Thing, clash, day_of, read_thing, unfit
from benchapp.store.journal import Entry, Store, Writer

__all__ = ["Thing", "add", "clash_of", "last_change", "life", "marks_of_picks", "said", "same", "same_as", "thing_now",
           "things"]

KINDS: tuple[Of, Of] = ("device", "material")
LETTER: dict[Of, str] = {"device": "D", "material": "S"}
UNFIT = ["unfit", "deviation"]  # the mark of a fact that picked what was not fit at its moment


def things(bench: Bench) -> list[Thing]:
    """Return all devices and lots as they are now, devices first, each sort in the order in which it was added."""
    newest = {of: _newest(bench.store.tagged("kind", of)) for of in KINDS}
    words = _words(bench.store, (data for found in newest.values() for data in found.values()))
    return [read_thing(of, data, words) for of in KINDS for data in newest[of].values()]


def _newest(entries: Iterable[Entry]) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for entry in entries:
        data = events.read_body(entry.body)["event"]["data"]
        found[data["thing"]] = data
    return found


def _words(source: Store | Writer, datas: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    return source.texts({id for data in datas for id in data["texts"].values()})


def thing_now(source: Store | Writer, code: str) -> Thing | None:
    """Return a device or a lot as it is now, None where there is none of that code."""
    lives = life(source, code)
    return lives[-1][1] if lives else None


def life(source: Store | Writer, code: str) -> list[tuple[dict[str, Any], Thing]]:
    """Return what every entry made of a device or a lot: (body, thing) in order."""
    bodies = [events.read_body(entry.body) for entry in source.tagged("thing", code)]
    bodies = [body for body in bodies if body["event"]["kind"] in KINDS]
    words = _words(source, (body["event"]["data"] for body in bodies))
    return [(body, read_thing(body["event"]["kind"], body["event"]["data"], words)) for body in bodies]


def last_change(bench: Bench) -> int:
    """Return the number of the last entry about any device or lot; 0 while there is none."""
    found = [bench.store.last_tagged("kind", of) for of in KINDS]
    return max((entry.seq for entry in found if entry), default=0)


def add(bench: Bench, writer: Writer, sheet: DeviceSheet | MaterialSheet) -> tuple[Of, dict[str, Any]]:
    """Return the sort of a new thing and the data of its first event, with a code of its own."""
    of: Of = "material" if isinstance(sheet, MaterialSheet) else "device"
    texts = {"name": bench.text(writer, sheet.name)}
    if sheet.blocked:
        texts["reason"] = bench.text(writer, sheet.blocked)
    return of, {
        "thing": bench.code(LETTER[of]), **said(sheet), "blocked": int(bool(sheet.blocked)), "spent": int(sheet.spent),
        "texts": texts,
    }


def said(sheet: DeviceSheet | MaterialSheet) -> dict[str, Any]:
    """Return what a sheet says in plain data, without name, block and whether anything is left."""
    keys: tuple[str, ...] = ("kind", "band", "checked", "due")
    if isinstance(sheet, MaterialSheet):
        keys = ("kind", "lot", "expiry", "opened", "after_opening", "tint", "shade", "band")
    values = {key: getattr(sheet, key) for key in keys}
    return {key: _plain(key, value) for key, value in values.items()}


def _plain(key: str, value: Any) -> Any:
    if value is None:
        return [] if key == "band" else ""
    return value if isinstance(value, str | int | list) else value.isoformat()


def same(of: Of, name: str, lot: str = "") -> tuple[str, str, str]:
    """Return what tells whether two sheets mean the same thing: its sort, its name, its lot."""
    return of, " ".join(name.casefold().split()), " ".join(lot.casefold().split())


def same_as(sheet: DeviceSheet | MaterialSheet) -> tuple[str, str, str]:
    """Return what tells whether a sheet means a thing that is known already."""
    return same("material", sheet.name, sheet.lot) if isinstance(sheet, MaterialSheet) else same("device", sheet.name)


def marks_of_picks(
    writer: Writer, picks: Mapping[str, str], when: int, case: Mapping[str, Any], zone: ZoneInfo
) -> list[list[str]]:
    """Return the mark of a fact whose picks name what was not fit at its moment (UTC ms), or do not go together.

    A thing counts as it was known on the PC at that moment: a block or a correction of later on changes nothing.
    """
    found = [thing for thing in (_thing_at(writer, code, when) for code in picks.values()) if thing is not None]
    day = day_of(when, zone)
    bad = any(unfit(thing, day, case) for thing in found) or any(clash_of(a, b) for a, b in combinations(found, 2))
    return [UNFIT] if bad else []


def clash_of(one: Thing, other: Thing) -> str:
    """Return why two picked things do not go together, whichever of them is the material; "" when they do."""
    if one.of == other.of:
        return ""
    return clash(one, other) if one.of == "material" else clash(other, one)


def _thing_at(writer: Writer, code: str, when: int) -> Thing | None:
    if not is_whole(code) or code[0] not in LETTER.values():
        return None
    lives = life(writer, code)
    known = [thing for body, thing in lives if body["server"]["when"] <= when]
    return known[-1] if known else (lives[0][1] if lives else None)
