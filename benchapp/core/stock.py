"""Devices and lots: what is known of each, which day is its last, and which two of them do not go together.

Every rule here is common practice, no source; the instructions for use of the material or device win over it.
Days are those of the lab's zone. The last day that is named is still good: the last day of use, the day on
which a check is due, and day n after an opening that lets a lot keep n days (the day of opening is day 0).
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Literal
from zoneinfo import ZoneInfo

BONDING = "bonding-resin"  # the one kind whose tint must be the base's: it fills the gaps between the teeth
SOON = 30  # days before a last day from which lists speak of it; common practice, no source
ERASED = "(erased)"
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

Of = Literal["device", "material"]
Grade = Literal["fit", "soon", "stop", "gone"]


@dataclass(frozen=True)
class Thing:
    """A device or a lot as it is known now: days are ISO dates or "", a band is lowest and highest nm or None."""

    code: str
    of: Of
    kind: str
    name: str
    lot: str = ""
    expiry: str = ""
    opened: str = ""
    after_opening: int = 0
    tint: str = ""
    shade: str = ""
    band: tuple[int, int] | None = None
    checked: str = ""
    due: str = ""
    blocked: int = 0
    reason: str = ""
    spent: int = 0

    @property
    def about(self) -> str:
        """What a record and a tile say beside the name: lot, tint, last day of use; nothing for a device."""
        lot = f"lot {self.lot}" if self.lot else ""
        expiry = f"use by {self.expiry}" if self.expiry else ""
        return " · ".join(part for part in (lot, self.tint, expiry) if part)


def read_thing(of: Of, data: Mapping[str, Any], words: Mapping[str, str]) -> Thing:
    """Return a thing from the data of its newest event; what older entries do not say has its default.

    `words` are the texts that the data names by id; one that is missing reads as erased.
    """
    known = {field.name for field in fields(Thing)} - {"code", "of", "name", "reason", "band"}
    texts = {name: words.get(id, ERASED) for name, id in data["texts"].items()}
    band = data.get("band") or []
    return Thing(
        code=data["thing"], of=of, name=texts["name"], reason=texts.get("reason", ""),
        band=(band[0], band[1]) if band else None, **{name: data[name] for name in known if name in data},
    )


def day_of(ms: int, zone: ZoneInfo) -> date:
    """Return the day of a moment (UTC ms) in a zone; the calendar's last day for a moment beyond it."""
    try:
        return (_EPOCH + timedelta(milliseconds=ms)).astimezone(zone).date()
    except OverflowError:
        return date.max


def begins(day: date, zone: ZoneInfo) -> int:
    """Return the moment (UTC ms) at which a day begins in a zone."""
    return (datetime.combine(day, time.min, zone).astimezone(UTC) - _EPOCH) // timedelta(milliseconds=1)


def _after(day: str, days: int) -> date | None:
    """Return the first day that is no longer good, when `day` and `days` more are; None beyond the calendar."""
    try:
        return date.fromisoformat(day) + timedelta(days=days + 1)
    except (OverflowError, ValueError):
        return None


def ends(thing: Thing) -> list[tuple[date, str]]:
    """Return each day from which a thing is no longer good, with the sentence that says why."""
    found: list[tuple[date | None, str]] = []
    if thing.expiry:
        found.append((_after(thing.expiry, 0), f"Expired on {thing.expiry}, its last day of use."))
    if thing.opened and thing.after_opening:
        bad = _after(thing.opened, thing.after_opening)
        last = (bad - timedelta(days=1)).isoformat() if bad else ""
        why = f"Kept longer than {thing.after_opening} days after opening on {thing.opened}: good until {last}."
        found.append((bad, why))
    if thing.due:
        found.append((_after(thing.due, 0), f"Past its check date: a check was due on {thing.due}."))
    return [(day, why) for day, why in found if day is not None]


def unfit(thing: Thing, day: date, case: Mapping[str, Any]) -> list[str]:
    """Return in plain sentences why a thing may not be used for a case on a day; empty when it may.

    Of the case only its `tint` is asked; where the lot or the case names none, nothing is claimed.
    """
    found = []
    if thing.blocked:
        found.append(f"Blocked: {thing.reason.rstrip('.')}." if thing.reason else "Blocked.")
    if thing.spent:
        found.append("Spent: nothing of this lot is left." if thing.of == "material" else "Taken out of use.")
    found += [why for bad, why in ends(thing) if day >= bad]
    tint = str(case.get("tint", ""))
    if thing.kind == BONDING and thing.tint and tint and _plain(thing.tint) != _plain(tint):
        found.append(f"Its tint is {thing.tint}; the base's tint is {tint}.")
    return found


def _plain(words: str) -> str:
    return " ".join(words.casefold().split())


def later(thing: Thing, day: date, zone: ZoneInfo) -> list[tuple[int, str]]:
    """Return what will make a thing unfit that is not yet on `day`: from when (UTC ms), and the sentence then."""
    return sorted((begins(bad, zone), why) for bad, why in ends(thing) if bad > day and bad < date.max)


def clash(material: Thing, device: Thing) -> str:
    """Return in a sentence that a lamp's band does not reach a material's; "" when it does, or is not known.

    Both ends of a band belong to it, so two bands that touch in one nanometre overlap.
    """
    if material.band is None or device.band is None:
        return ""
    if max(material.band[0], device.band[0]) <= min(material.band[1], device.band[1]):
        return ""
    return (
        f"{device.name} gives {band_words(device)}; {material.name} cures at {band_words(material)}. "
        "The light would not cure it."
    )


def band_words(thing: Thing) -> str:
    """Return a band as it is read: 385 to 405 nm, or that it is not known."""
    return f"{thing.band[0]} to {thing.band[1]} nm" if thing.band else "band not known"


def standing(thing: Thing, day: date) -> list[tuple[Grade, str]]:
    """Return how a thing stands on a day, in words for lists, the worst first; one word when it is simply fit."""
    if thing.spent:
        return [("gone", "spent" if thing.of == "material" else "out of use")]
    found: list[tuple[Grade, str]] = [("stop", "blocked")] if thing.blocked else []
    for last, over, soon in (
        (thing.expiry, "expired", ("last day is today", "expires in {}")),
        (_last_open(thing), "open too long", ("opened, good for today", "opened, good for {} more")),
        (thing.due, "check overdue", ("check due today", "check due in {}")),
    ):
        bad = _after(last, 0) if last else None
        left = (bad - day).days - 1 if bad else SOON + 1
        if left < 0:
            found.append(("stop", over))
        elif left <= SOON:
            found.append(("soon", soon[min(left, 1)].format("1 day" if left == 1 else f"{left} days")))
    return sorted(found, key=lambda one: one[0] != "stop") or [("fit", "fit")]


def _last_open(thing: Thing) -> str:
    bad = _after(thing.opened, thing.after_opening) if thing.opened and thing.after_opening else None
    return (bad - timedelta(days=1)).isoformat() if bad else ""


_NAMES = {
    "name": "name", "kind": "kind", "lot": "lot", "expiry": "last day of use", "tint": "tint", "shade": "shade",
    "after_opening": "days it keeps once opened",
}


def changes(before: Thing | None, after: Thing) -> list[str]:
    """Return in words what one entry changed of a thing; nothing before it means that it was added."""
    if before is None:
        return ["added"] + ([f"blocked: {after.reason}"] if after.blocked else [])
    found = [
        f"{words}: {getattr(before, name) or 'not said'} → {getattr(after, name) or 'not said'}"
        for name, words in _NAMES.items() if getattr(before, name) != getattr(after, name)
    ]
    if before.band != after.band:
        found.append(f"band: {band_words(before)} → {band_words(after)}")
    if before.opened != after.opened:
        found.append(f"opened on {after.opened}" if after.opened else "not opened after all")
    if before.checked != after.checked and after.checked:
        found.append(f"checked on {after.checked}")
    if before.due != after.due:
        found.append(f"next check due on {after.due}" if after.due else "no next check set")
    if (before.blocked, before.reason) != (after.blocked, after.reason):
        found.append(f"blocked: {after.reason}" if after.blocked else "unblocked")
    if before.spent != after.spent:
        gone, here = ("spent", "not spent after all") if after.of == "material" else ("out of use", "in use again")
        found.append(gone if after.spent else here)
    return found
