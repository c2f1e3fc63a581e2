"""Where a seating check says that the arch is stopped: by an undercut, where the parts overlap, or come nearest. Pure.

A report is the plain data of the seating check; one that was made before it told places has none.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from benchapp.core.numbers import Numbers, number
from benchapp.core.words import N_, _

Kind = Literal["undercut", "overlap", "nearest"]
SIDES: Final = {
    "buccal": N_("buccal"), "lingual": N_("lingual"), "palatal": N_("palatal"), "mesial": N_("mesial"),
    "distal": N_("distal"),
}
MANY: Final = 12  # more places are told by the worst of each tooth
FEW: Final = 3  # places that are told with their sides in a finding; of more the teeth alone


@dataclass(frozen=True)
class Stop:
    """A place of a report: the name under which pages know it, its jaw, tooth and side (None where not told), its point
    (files' coordinates, mm), and how wide, how deep or how near in mm."""

    name: str
    kind: Kind
    jaw: str
    tooth: int | None
    side: str | None
    point: tuple[float, float, float]
    mm: float


def stops(report: Mapping[str, Any]) -> tuple[Stop, ...]:
    """Return the places of a report: those of undercuts, of overlaps, and last where the parts come nearest."""
    nearest = report.get("nearest")
    told: dict[Kind, Sequence[Mapping[str, Any]]] = {
        "undercut": report.get("undercuts", ()), "overlap": report.get("overlaps", ()),
        "nearest": (nearest,) if nearest else (),
    }
    every = [(kind, one) for kind, found in told.items() for one in found]
    return tuple(
        Stop(
            f"stop-{at}", kind, report.get("jaw", ""), one["tooth"], one["side"], tuple(one["point_mm"]),
            one["size_mm"],
        )
        for at, (kind, one) in enumerate(every, 1)
    )  # fmt: skip


def of_kind(report: Mapping[str, Any], *kinds: Kind) -> tuple[Stop, ...]:
    """Return the places of these kinds."""
    return tuple(one for one in stops(report) if one.kind in kinds)


def stopping(report: Mapping[str, Any], *also: Kind) -> tuple[Stop, ...]:
    """Return the places that stop the arch, and those of other kinds, as they are shown."""
    return worst(of_kind(report, "undercut", "overlap", *also))


def worst(found: Sequence[Stop]) -> tuple[Stop, ...]:
    """Return places as they are shown: of more than a screen bears, the widest or deepest of each tooth; of those that
    are alike to 0.01 mm the one beneath it."""
    if len(found) <= MANY:
        return tuple(found)
    kept: dict[tuple[Kind, int | None], Stop] = {}
    for one in found:
        key = one.kind, one.tooth
        if key not in kept or _rank(one) > _rank(kept[key]):
            kept[key] = one
    return tuple(one for one in found if one in kept.values())


def _rank(stop: Stop) -> tuple[float, bool]:
    return round(stop.mm, 2), stop.side is None


def placed(stop: Stop, numbers: Numbers) -> str:
    """Return tooth and side of a place in words; its point where its tooth is not told."""
    if stop.tooth is None:
        x, y, z = (f"{one:.1f}".replace("-", "−") for one in stop.point)
        return _("point {x} {y} {z} of the files", x=x, y=y, z=z)
    tooth = str(number(stop.tooth, numbers))
    if stop.side is None:
        return tooth
    side = "palatal" if stop.jaw == "upper" and stop.side == "lingual" else stop.side
    return _("{tooth} {side}", tooth=tooth, side=_(SIDES[side]))


def listed(found: Iterable[Stop], numbers: Numbers) -> str:
    """Return a few places with their sides, of more the teeth alone; "" where there is none or no tooth is told."""
    every = tuple(found)
    if len(every) <= FEW:
        return ", ".join(placed(one, numbers) for one in every)
    return " ".join(str(number(int(tooth), numbers)) for tooth in teeth_of(every))


def teeth_of(found: Iterable[Stop]) -> tuple[str, ...]:
    """Return the stored names of the teeth of places, each once, in their order."""
    return tuple(dict.fromkeys(str(one.tooth) for one in found if one.tooth is not None))
