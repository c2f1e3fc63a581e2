"""What a template needs to draw the arch map and to lay its tap targets; all lengths in view box px."""

from dataclasses import dataclass

from benchapp.core.teeth import Jaw, Place, Sextant


@dataclass(frozen=True)
class Rect:
    """A tap target: upper left corner, width and height."""

    x: float
    y: float
    w: float
    h: float


@dataclass(frozen=True)
class Caption:
    """Words on a picture; x and y are the middle of the text."""

    text: str
    x: float
    y: float


@dataclass(frozen=True)
class ToothShape:
    """One tooth to draw: outline, inner lines (`detail`, stroked only) and the middle of its number."""

    tooth: int
    path: str
    detail: str
    x: float
    y: float


@dataclass(frozen=True)
class Region:
    """One sextant of the whole arch: its tap target, the band behind its teeth, the middle of its count.

    `places` counts its connectors and margin sides; a sextant without teeth has 0 and is not worth a target.
    """

    which: Sextant
    words: str
    rect: Rect
    path: str
    x: float
    y: float
    teeth: tuple[int, ...]
    places: int


@dataclass(frozen=True)
class ArchPicture:
    """The whole arch; `base` is the outline of the denture base behind the teeth."""

    jaw: Jaw
    width: int
    height: int
    view_box: str
    base: str
    teeth: tuple[ToothShape, ...]
    regions: tuple[Region, ...]
    captions: tuple[Caption, ...]


@dataclass(frozen=True)
class Target:
    """One place to tap: its place and rectangle, what is drawn for it, its short label with its middle."""

    place: Place
    rect: Rect
    path: str
    detail: str
    label: str
    x: float
    y: float


@dataclass(frozen=True)
class SextantPicture:
    """One sextant, straightened; `neighbour` is the tooth beyond the edge that its outer connector holds."""

    jaw: Jaw
    which: Sextant
    words: str
    width: int
    height: int
    view_box: str
    targets: tuple[Target, ...]
    neighbour: ToothShape | None
    captions: tuple[Caption, ...]
