"""The seating check on the arch map: each tooth, or each connector, in one of five bands, with its figure beside it.

What is drawn comes from the plain JSON of a report (`benchapp seating --schema`); px as in `archline`.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from benchapp.core import outlines
from benchapp.core import teeth as t
from benchapp.core.archline import HIGH, WIDE, base_outline, curved_tooth, depth_of, flip, further, on_arch, slot_ends
from benchapp.core.numbers import Numbers, number
from benchapp.core.outlines import Move, Point, short
from benchapp.core.pictures import Caption, ToothShape
from benchapp.core.scales import Band, Beyond, Limits, Scale, scale
from benchapp.core.stops import Stop
from benchapp.core.teeth import Jaw
from benchapp.core.words import N_, _

Name = Literal["depth", "connector", "resin", "bond", "gap"]
VIEW_BOX: Final = f"-36 -30 {WIDE + 72} {HIGH + 36}"
_OUT: Final = (15, 19)  # px from a tooth's outer edge to the middle of its figure, and more where that lies beside it
_BAR: Final = (9, 15)  # px that a connector reaches over both teeth, and half its depth
_WAIST: Final = 0.7
_IN: Final = 6  # px from a tooth's edge inwards to the middle of a cross
NOT_KNOWN: Final = "?"


@dataclass(frozen=True)
class Kind:
    """One kind of number to draw: which key of a tooth's or connector's report, in which unit, how exactly."""

    name: Name
    title: str
    about: str
    key: str
    unit: str
    decimals: int
    times: float = 1.0  # from the report's unit to the one that is shown


KINDS: Final = (
    Kind("depth", N_("Depth"), N_("How deep each tooth stands below its margin: the median around it."),
         "depth_median_mm", "mm", 2),
    Kind("connector", N_("Connector"), N_("The least section of each connector between two teeth."),
         "area_mm2", "mm²", 1),
    Kind("resin", N_("Resin"), N_("What the gap about each tooth takes, up to its margin. 1 ml is 1000 µl."),
         "gap_volume_ml", "µl", 1, 1000.0),
    Kind("bond", N_("Bond area"), N_("The surface of each tooth below its margin."), "bond_area_mm2", "mm²", 0),
)  # fmt: skip
# Not on the map, where it would be one figure a tooth, but in three dimensions.
GAP: Final = Kind("gap", N_("Gap"), N_("The distance between socket wall and tooth."), "gap_median_mm", "mm", 2)
USUAL_GAPS: Final = (0.0, 0.25)  # mm; parted at every 0.05 where the lab has set no limits (from memory)


@dataclass(frozen=True)
class Spot:
    """One tooth or connector: its place, its words, what is drawn, its number and its figure with their middles.

    `band` is 0 where the number is not known.
    """

    place: str
    words: str
    path: str
    detail: str
    label: str
    x: float
    y: float
    figure: str
    fx: float
    fy: float
    band: int
    beyond: Beyond


@dataclass(frozen=True)
class Cross:
    """Where the arch is stopped: the name of the place, and the middle of its cross."""

    name: str
    x: float
    y: float


@dataclass(frozen=True)
class BandRow:
    """One row of a legend: the band's number (0: not known), its ends in words, and what the lab says of it."""

    number: int
    words: str
    beyond: Beyond
    said: str


@dataclass(frozen=True)
class SeatMap:
    """One kind of number on the whole arch; `shapes` are drawn plainly beneath or between the spots."""

    kind: Kind
    view_box: str
    base: str
    shapes: tuple[ToothShape, ...]
    spots: tuple[Spot, ...]
    crosses: tuple[Cross, ...]
    captions: tuple[Caption, ...]
    rows: tuple[BandRow, ...]
    scale: Scale


def seat_map(
    kind: Kind, jaw: Jaw, teeth: Iterable[int], report: Mapping[str, Any], limits: Limits, numbers: Numbers = "fdi",
    stopped: Sequence[Stop] = (),
) -> SeatMap:
    """Return one kind of number of a report on the arch of these teeth (ISO 3950), and where the arch is stopped."""
    row, over = t.in_row(jaw, teeth), flip(jaw, HIGH)
    values, bands = values_of(kind, report), scale_of(kind, report, limits)
    ends = slot_ends(jaw)
    shapes = tuple(curved_tooth(tooth, *ends[tooth], over) for tooth in row)
    if kind.name == "connector":
        spots = tuple(_connector(kind, pair, ends, values, bands, over, numbers) for pair in t.connectors(jaw, row))
    else:
        spots = tuple(_tooth(kind, shape, ends[shape.tooth], values, bands, over, numbers) for shape in shapes)
    places = ((_("right"), 64), (_("left"), WIDE - 64), (kind.unit, WIDE / 2))
    captions = tuple(
        Caption(words, x, over((x, HIGH - 20 if x != WIDE / 2 else HIGH / 2 + 20))[1]) for words, x in places
    )
    unknown = any(spot.band == 0 for spot in spots)
    plain = tuple(ToothShape(number(s.tooth, numbers), s.path, s.detail, s.x, s.y) for s in shapes)
    crosses = tuple(_cross(one, ends[one.tooth], over) for one in stopped if one.tooth in row)
    return SeatMap(
        kind, VIEW_BOX, base_outline(jaw, over), plain, spots, crosses, captions, legend(kind, bands, unknown), bands
    )


def _cross(stop: Stop, ends: tuple[float, float], over: Move) -> Cross:
    """Return a cross on the side of a tooth that its place is on; in its inner half where it is beneath the tooth."""
    assert stop.tooth is not None
    middle, half = sum(ends) / 2, depth_of(stop.tooth) / 2
    on_right = stop.tooth // 10 in (1, 4)  # of the patient, where the row begins
    beside = {"mesial": 1 if on_right else -1, "distal": -1 if on_right else 1}.get(stop.side or "")
    inward = {"buccal": _IN - half, "lingual": half - _IN, None: half / 2}.get(stop.side, 0.0)
    at = middle if beside is None else further(ends[0 if beside < 0 else 1], -beside * _IN)
    x, y = over(on_arch(at, inward))
    return Cross(stop.name, short(x), short(y))


def scale_of(kind: Kind, report: Mapping[str, Any], limits: Limits) -> Scale:
    """Return the bands of a kind of number for a report."""
    return scale(values_of(kind, report).values(), limits, kind.decimals)


def values_of(kind: Kind, report: Mapping[str, Any]) -> dict[str, float]:
    """Return the known numbers of a kind by place (`16`, `17-16`), in the unit that is shown."""
    found: dict[str, float] = {}
    for one in report["connectors" if kind.name == "connector" else "teeth"]:
        place, value = place_of(one), one[kind.key]
        if place and value is not None:
            found[place] = round(value * kind.times, 6)
    return found


def place_of(one: Mapping[str, Any]) -> str:
    """Return the place of a tooth or connector of a report; "" where its number could not be told."""
    if "tooth" in one:
        return str(one["tooth"] or "")
    left, right = one["between"]
    return t.connector_name(left, right) if left and right else ""


def figure(kind: Kind, value: float) -> str:
    """Return a number as it stands on the map."""
    return f"{value:.{kind.decimals}f}"


def legend(kind: Kind, bands: Scale, unknown: bool) -> tuple[BandRow, ...]:
    """Return the rows of a legend, the greatest numbers first; at the end what is not known, where there is any."""
    rows = [BandRow(band.number, _ends(kind, band), band.beyond, _said(bands, band)) for band in reversed(bands.bands)]
    if unknown:
        rows.append(BandRow(0, _("not known"), "", _("the warnings say why")))
    return tuple(rows)


def _ends(kind: Kind, band: Band) -> str:
    low, high = (None if one is None else _short(kind, one) for one in (band.low, band.high))
    if low is None:
        return _("under {high} {unit}", high=high, unit=kind.unit)
    if high is None:
        return _("{low} {unit} and more", low=low, unit=kind.unit)
    return _("{low} to {high} {unit}", low=low, high=high, unit=kind.unit)


def _short(kind: Kind, value: float) -> str:
    """Return a bound as exactly as its figures, and more exactly only where it needs that."""
    exact = f"{value:.{kind.decimals}f}"
    return exact if abs(float(exact) - value) < 1e-9 else f"{value:.{kind.decimals + 1}f}"


def _said(bands: Scale, band: Band) -> str:
    if band.beyond == "under":
        return _("nothing to cut") if bands.limits.cut else _("under what the lab accepts")
    return _("over what the lab accepts") if band.beyond == "over" else ""


def _read(kind: Kind, name: str, values: Mapping[str, float], bands: Scale) -> tuple[str, int, Beyond]:
    if name not in values:
        return NOT_KNOWN, 0, ""
    band = bands.band(values[name])
    return figure(kind, values[name]), band.number, band.beyond


def _words(kind: Kind, name: str, shown: str, beyond: Beyond, limits: Limits) -> str:
    title = _(kind.title)
    if shown == NOT_KNOWN:
        return _("{place}: {title} not known", place=name, title=title)
    if beyond and not limits.cut:
        far = _("over what the lab accepts") if beyond == "over" else _("under what the lab accepts")
        return _(
            "{place}: {title} {figure} {unit}, {far}", place=name, title=title, figure=shown, unit=kind.unit, far=far
        )
    return _("{place}: {title} {figure} {unit}", place=name, title=title, figure=shown, unit=kind.unit)


def _tooth(
    kind: Kind, shape: ToothShape, ends: tuple[float, float], values: Mapping[str, float], bands: Scale, over: Move,
    numbers: Numbers,
) -> Spot:
    shown, band, beyond = _read(kind, str(shape.tooth), values, bands)
    label = str(number(shape.tooth, numbers))
    x, y = over(on_arch(sum(ends) / 2))
    fx, fy = over(_outside(sum(ends) / 2, depth_of(shape.tooth) / 2))
    words = _words(kind, _("tooth {tooth}", tooth=label), shown, beyond, bands.limits)
    return Spot(
        str(shape.tooth), words, shape.path, shape.detail, label, short(x), short(y), shown, short(fx), short(fy),
        band, beyond,
    )


def _outside(angle: float, px: float) -> Point:
    """Return the middle of a figure beside an edge so many px outwards: upright figures are wider than high."""
    (x, _y), (outer, _z) = on_arch(angle), on_arch(angle, -1)
    return on_arch(angle, -(px + _OUT[0] + _OUT[1] * abs(outer - x)))


def _connector(
    kind: Kind, pair: tuple[int, int], ends: Mapping[int, tuple[float, float]], values: Mapping[str, float],
    bands: Scale, over: Move, numbers: Numbers,
) -> Spot:
    name = t.connector_name(*pair)
    shown, band, beyond = _read(kind, name, values, bands)
    label = "-".join(str(number(tooth, numbers)) for tooth in pair)
    start, end = ends[pair[0]][1], ends[pair[1]][0]
    middle = (start + end) / 2
    left, right = further(start, -_BAR[0]), further(end, _BAR[0])
    outline = [(left, -1.0), (middle, -_WAIST), (right, -1.0), (right, 1.0), (middle, _WAIST), (left, 1.0)]
    path = outlines.drawn(
        over(on_arch(left, _BAR[1])), (("l", (over(on_arch(a, part * _BAR[1])),)) for a, part in outline), closed=True
    )
    x, y = over(on_arch(middle))
    fx, fy = over(_outside(middle, max(depth_of(tooth) for tooth in pair) / 2 - 6))
    words = _words(kind, _("connector {name}", name=label), shown, beyond, bands.limits)
    return Spot(name, words, path, "", label, short(x), short(y), shown, short(fx), short(fy), band, beyond)
