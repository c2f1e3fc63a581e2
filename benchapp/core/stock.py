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

from benchapp.core.words import N_, NN_, Plural, _, n_

BONDING = "bonding-resin"  # the one kind whose tint must be the base's: it fills the gaps between the teeth
SOON = 30  # days before a last day from which lists speak of it; common practice, no source
ERASED = N_("(erased)")
KIND_WORDS = {  # the kinds that the desk offers; others are the lab's own and stand as they were written
    "bonding-resin": N_("bonding resin"), "base-resin": N_("base resin"), "tooth-resin": N_("tooth resin"),
    "solvent": N_("solvent"), "barrier": N_("barrier"), "stain": N_("stain"), "glaze": N_("glaze"),
    "lamp": N_("lamp"), "chamber": N_("chamber"), "meter": N_("meter"), "handpiece": N_("handpiece"),
}
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
        lot = _("lot {number}", number=self.lot) if self.lot else ""
        expiry = _("use by {day}", day=self.expiry) if self.expiry else ""
        return " · ".join(part for part in (lot, self.tint, expiry) if part)


def kind_words(kind: str) -> str:
    """Return what a kind of device or material is called."""
    return _(KIND_WORDS[kind]) if kind in KIND_WORDS else kind.replace("-", " ")


def read_thing(of: Of, data: Mapping[str, Any], words: Mapping[str, str]) -> Thing:
    """Return a thing from the data of its newest event; what older entries do not say has its default.

    `words` are the texts that the data names by id; one that is missing reads as erased.
    """
    known = {field.name for field in fields(Thing)} - {"code", "of", "name", "reason", "band"}
    texts = {name: words.get(id, _(ERASED)) for name, id in data["texts"].items()}
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
        found.append((_after(thing.expiry, 0), _("Expired on {day}, its last day of use.", day=thing.expiry)))
    if thing.opened and thing.after_opening:
        bad = _after(thing.opened, thing.after_opening)
        last = (bad - timedelta(days=1)).isoformat() if bad else ""
        why = n_(
            "Kept longer than {n} day after opening on {opened}: good until {last}.",
            "Kept longer than {n} days after opening on {opened}: good until {last}.",
            thing.after_opening, opened=thing.opened, last=last,
        )
        found.append((bad, why))
    if thing.due:
        found.append((_after(thing.due, 0), _("Past its check date: a check was due on {day}.", day=thing.due)))
    return [(day, why) for day, why in found if day is not None]


def unfit(thing: Thing, day: date, case: Mapping[str, Any]) -> list[str]:
    """Return in plain sentences why a thing may not be used for a case on a day; empty when it may.

    Of the case only its `tint` is asked; where the lot or the case names none, nothing is claimed.
    """
    found = []
    if thing.blocked:
        found.append(_("Blocked: {reason}.", reason=thing.reason.rstrip(".")) if thing.reason else _("Blocked."))
    if thing.spent:
        lot = thing.of == "material"
        found.append(_("Spent: nothing of this lot is left.") if lot else _("Taken out of use."))
    found += [why for bad, why in ends(thing) if day >= bad]
    tint = str(case.get("tint", ""))
    if thing.kind == BONDING and thing.tint and tint and _plain(thing.tint) != _plain(tint):
        found.append(_("Its tint is {tint}; the base's tint is {base}.", tint=thing.tint, base=tint))
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
    return _(
        "{device} gives {light}; {material} cures at {band}. The light would not cure it.",
        device=device.name, light=band_words(device), material=material.name, band=band_words(material),
    )


def band_words(thing: Thing) -> str:
    """Return a band as it is read: 385 to 405 nm, or that it is not known."""
    if thing.band is None:
        return _("band not known")
    return _("{low} to {high} nm", low=thing.band[0], high=thing.band[1])


# Of a last day: what it says when it is over, on the day itself, and in n days.
_LAST_DAYS: dict[str, tuple[str, str, Plural]] = {
    "expiry": (N_("expired"), N_("last day is today"), NN_("expires in {n} day", "expires in {n} days")),
    "opened": (N_("open too long"), N_("opened, good for today"),
               NN_("opened, good for {n} day more", "opened, good for {n} days more")),
    "due": (N_("check overdue"), N_("check due today"), NN_("check due in {n} day", "check due in {n} days")),
}


def standing(thing: Thing, day: date) -> list[tuple[Grade, str]]:
    """Return how a thing stands on a day, in words for lists, the worst first; one word when it is simply fit."""
    if thing.spent:
        return [("gone", _("spent") if thing.of == "material" else _("out of use"))]
    found: list[tuple[Grade, str]] = [("stop", _("blocked"))] if thing.blocked else []
    for which, last in (("expiry", thing.expiry), ("opened", _last_open(thing)), ("due", thing.due)):
        over, today, soon = _LAST_DAYS[which]
        bad = _after(last, 0) if last else None
        left = (bad - day).days - 1 if bad else SOON + 1
        if left < 0:
            found.append(("stop", _(over)))
        elif left <= SOON:
            found.append(("soon", n_(*soon, left) if left else _(today)))
    return sorted(found, key=lambda one: one[0] != "stop") or [("fit", _("fit"))]


def _last_open(thing: Thing) -> str:
    bad = _after(thing.opened, thing.after_opening) if thing.opened and thing.after_opening else None
    return (bad - timedelta(days=1)).isoformat() if bad else ""


_NAMES = {
    "name": N_("name"), "kind": N_("kind"), "lot": N_("lot"), "expiry": N_("last day of use"), "tint": N_("tint"),
    "shade": N_("shade"), "after_opening": N_("days it keeps once opened"),
}


def changes(before: Thing | None, after: Thing) -> list[str]:
    """Return in words what one entry changed of a thing; nothing before it means that it was added."""
    if before is None:
        return [_("added")] + ([_("blocked: {reason}", reason=after.reason)] if after.blocked else [])
    none = _("not said")
    found = [
        f"{_(words)}: {getattr(before, name) or none} → {getattr(after, name) or none}"
        for name, words in _NAMES.items() if getattr(before, name) != getattr(after, name)
    ]
    if before.band != after.band:
        found.append(_("band: {before} → {after}", before=band_words(before), after=band_words(after)))
    if before.opened != after.opened:
        found.append(_("opened on {day}", day=after.opened) if after.opened else _("not opened after all"))
    if before.checked != after.checked and after.checked:
        found.append(_("checked on {day}", day=after.checked))
    if before.due != after.due:
        found.append(_("next check due on {day}", day=after.due) if after.due else _("no next check set"))
    if (before.blocked, before.reason) != (after.blocked, after.reason):
        found.append(_("blocked: {reason}", reason=after.reason) if after.blocked else _("unblocked"))
    if before.spent != after.spent:
        found.append(_spent_words(after))
    return found


def _spent_words(thing: Thing) -> str:
    if thing.of == "material":
        return _("spent") if thing.spent else _("not spent after all")
    return _("out of use") if thing.spent else _("in use again")
