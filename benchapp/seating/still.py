"""A still picture of a checked pair for the record: in its base from the chewing side, and apart from the gum side."""

from dataclasses import dataclass, replace
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any, Final

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from benchapp.core.findings import lie_in
from benchapp.core.words import _
from benchapp.seating.draw import Seen, Window, lines_of, seen, shaded
from benchapp.seating.glb import BONE, ROSE, TINT
from benchapp.seating.mesh import Floats
from benchapp.seating.report import Report
from benchapp.seating.scales import DEPTH
from benchapp.seating.shown import ConnectorSpot, Shown, Skin, ToothSpot

WIDTH: Final = 1600
PANEL: Final = 800  # dots: width of one of the two drawings
HIGH: Final = 790  # and its greatest height
TOP: Final = 64
FOOT: Final = 140
FINER: Final = 2  # dots drawn for a dot of the picture, each way
ROOM: Final = 92  # dots about the parts, for numbers
INK: Final = (25, 28, 33)
SOFT: Final = (90, 96, 104)
CUT: Final = (176, 0, 32)
CROSS: Final = 11  # dots from the middle of a cross to its ends, each way
MOST_BYTES: Final = 300_000
OVER: Final = np.array([1.0, -1.0, -1.0])  # the arch turned over, so that its right stays at the right


@dataclass(frozen=True)
class View:
    """One of the two drawings: its skins in the way that they are seen, and where it lies in the picture."""

    skins: list[Skin]
    window: Window
    left: int

    def at(self, point: Floats) -> Floats:
        """Return the dot of the picture of a point (3,) of the view."""
        return np.asarray(self.window.dots(point[None])[0] + [self.left, TOP])


def still_of(shown: Shown, report: Report, fonts: Path) -> bytes:
    """Return the picture as PNG, 1600 dots wide and at most 1000 high; `fonts` holds the DejaVu faces."""
    turned = _turned(shown)
    whole = _view([shown.base, shown.arch], 0)
    apart = _view([turned.arch], PANEL, whole.window)
    sheet = Image.new("RGB", (WIDTH, TOP + whole.window.height + FOOT), "white")
    draw = ImageDraw.Draw(sheet)
    for view in (whole, apart):
        sheet.paste(_drawing(view, shown), (view.left, TOP))
    faces = _Faces(fonts)
    _titles(draw, faces, report, whole.window.height)
    _numbers(draw, faces, whole, shown, with_depth=True)
    _numbers(draw, faces, apart, turned, with_depth=False)
    _cuts(draw, faces, apart, turned)
    _crosses(draw, whole, shown, report)
    _foot(draw, faces, report, whole.window)
    return _packed(sheet)


class _Faces:
    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __call__(self, size: int, bold: bool = False) -> ImageFont.FreeTypeFont:
        return _face(self.folder, size, bold)


@lru_cache(maxsize=16)
def _face(folder: Path, size: int, bold: bool) -> ImageFont.FreeTypeFont:
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(folder / name, size, layout_engine=ImageFont.Layout.BASIC)


def _turned(shown: Shown) -> Shown:
    """Return everything turned over about the line from right to left."""
    skins = [
        replace(skin, vertices=skin.vertices * OVER, shade=skin.shade * OVER) for skin in (shown.base, shown.arch)
    ]
    teeth = tuple(replace(one, point=one.point * OVER) for one in shown.teeth)
    cuts = tuple(replace(one, point=one.point * OVER, normal=one.normal * OVER) for one in shown.connectors)
    return replace(shown, base=skins[0], arch=skins[1], teeth=teeth, connectors=cuts)


def _view(skins: list[Skin], left: int, like: Window | None = None) -> View:
    points = np.concatenate([skin.vertices[:, :2] for skin in skins])
    low, high = points.min(axis=0), points.max(axis=0)
    wide, deep = (high - low).tolist()
    scale = like.per_mm if like else min((PANEL - 2 * ROOM) / wide, (HIGH - 2 * ROOM) / deep)
    tall = like.height if like else min(HIGH, round(deep * scale) + 2 * ROOM)
    middle = (low + high) / 2
    window = Window(
        float(middle[0]) - PANEL / scale / 2, float(middle[1]) + tall / scale / 2, float(scale), PANEL, tall
    )
    return View(skins, window, left)


def _drawing(view: View, shown: Shown) -> Image.Image:
    window = view.window
    fine = Window(window.left, window.top, window.per_mm * FINER, window.width * FINER, window.height * FINER)
    found = seen(view.skins, fine)
    lone = len(view.skins) == 1
    inside = (found.depth > 0) & (found.part >= 0)
    lines = lines_of(found.depth, DEPTH.line, inside)
    picture = shaded(found, _colours(found, shown, lone), lines, fine.per_mm)
    small = Image.fromarray(np.round(picture * 255).astype(np.uint8))
    return small.resize((window.width, window.height), Image.Resampling.BOX)


def _colours(found: Seen, shown: Shown, lone: bool) -> Floats:
    """Return each dot's own colour: the part's, a crown's tint, the depth below the margin."""
    own = np.array([BONE] if lone else [ROSE, BONE])
    picture = own[np.maximum(found.part, 0)]
    if not lone:
        for number, spot in enumerate(shown.teeth):
            here = (found.part == 1) & (found.piece == number)
            if spot.depth is not None:
                picture[here] = (1 - TINT) * picture[here] + TINT * DEPTH.colour(np.array([spot.depth]))
    inside = found.depth > 0
    picture[inside] = DEPTH.colour(found.depth[inside])
    return np.asarray(picture)


def _titles(draw: ImageDraw.ImageDraw, faces: _Faces, report: Report, high: int) -> None:
    upper = report.jaw == "upper"
    left = (
        _("Upper arch in its base, from the chewing side")
        if upper
        else _("Lower arch in its base, from the chewing side")
    )
    right = _("Arch alone, turned over, from the gum side")
    for words, x, opens_down in ((left, 0, upper), (right, PANEL, not upper)):
        draw.text((x + PANEL / 2, 34), words, INK, faces(24, bold=True), anchor="mm")
        y = TOP + (high - 24 if opens_down else 24)
        draw.text((x + ROOM, y), _("patient's right"), SOFT, faces(20), anchor="lm")
        draw.text((x + PANEL - ROOM, y), _("patient's left"), SOFT, faces(20), anchor="rm")


def _outwards(spots: tuple[ToothSpot, ...]) -> list[Floats]:
    """Return for each tooth the unit way out of the arch, in the plane."""
    points = np.array([one.point[:2] for one in spots])
    along = np.gradient(points, axis=0) if len(points) > 1 else np.array([[1.0, 0.0]])
    out = np.column_stack([along[:, 1], -along[:, 0]])
    if np.einsum("ij,ij->", out, points - points.mean(axis=0)) < 0:
        out = -out
    return list(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-9))


def _rim(view: View, point: Floats, way: Floats) -> Floats:
    """Return the dot beyond the last of the parts that is met from a point (2,) along a way in the plane."""
    points = np.concatenate([skin.vertices[:, :2] for skin in view.skins]) - point
    along = points @ way
    beside = np.abs(points @ np.array([-way[1], way[0]])) < 2.0
    near = beside & (along > 0) & (along < 16.0)
    reach = float(along[near].max()) if near.any() else 5.0
    return view.at(np.append(point + way * reach, 0.0))


def _numbers(draw: ImageDraw.ImageDraw, faces: _Faces, view: View, shown: Shown, with_depth: bool) -> None:
    for spot, way in zip(shown.teeth, _outwards(shown.teeth), strict=True):
        at = _rim(view, spot.point[:2], way) + np.array([way[0], -way[1]]) * (46 if with_depth else 30)
        lift = 13 if with_depth else 0
        draw.text((at[0], at[1] - lift), str(spot.tooth or "?"), INK, faces(25, bold=True), anchor="mm")
        if with_depth:
            depth = "–" if spot.depth is None else f"{spot.depth:.2f}"
            draw.text((at[0], at[1] + 13), depth, SOFT, faces(20), anchor="mm")


def _cuts(draw: ImageDraw.ImageDraw, faces: _Faces, view: View, shown: Shown) -> None:
    """Mark each connector that is thicker than what a cut leaves: a line across it, and how deep the cut is."""
    marked = [(spot, *_across(spot, shown)) for spot in shown.connectors if spot.cut_depth > 0]
    lines = [[tuple(view.at(np.append(end, 0.0))) for end in ends] for _spot, *ends in marked]
    for colour, width in (("white", 9), (CUT, 4)):
        for line in lines:
            draw.line(line, colour, width)
    placed: list[Floats] = []
    for (spot, _start, end), line in zip(marked, lines, strict=True):
        way = np.array(line[1]) - np.array(line[0])
        way /= max(float(np.linalg.norm(way)), 1e-9)
        at = view.at(np.append(end, 0.0)) + way * 24
        if any(np.linalg.norm(at - other) < 38 for other in placed):
            at = at + way * 30
        placed.append(at)
        draw.text(
            tuple(at), f"{spot.cut_depth:.1f}", CUT, faces(20, bold=True), anchor="mm", stroke_width=4,
            stroke_fill="white",
        )  # fmt: skip


def _crosses(draw: ImageDraw.ImageDraw, view: View, shown: Shown, report: Report) -> None:
    """Put a cross where the arch is stopped."""
    for colour, width in (("white", 11), (CUT, 5)):
        for one in (*report.undercuts, *report.overlaps):
            _cross(draw, view.at(shown.here(one.point_mm)), colour, width)


def _cross(draw: ImageDraw.ImageDraw, at: Floats, colour: Any, width: int) -> None:
    x, y = at.tolist()
    for way in (1, -1):
        draw.line([(x - CROSS, y - way * CROSS), (x + CROSS, y + way * CROSS)], colour, width)


def _across(spot: ConnectorSpot, shown: Shown) -> tuple[Floats, Floats]:
    """Return the ends (2,) of a line across a connector, from outside the arch to within it."""
    across = np.array([-spot.normal[1], spot.normal[0]])
    across /= max(float(np.linalg.norm(across)), 1e-9)
    middle = np.array([one.point[:2] for one in shown.teeth]).mean(axis=0)
    if across @ (middle - spot.point[:2]) < 0:
        across = -across
    return spot.point[:2] - 3.2 * across, spot.point[:2] + 5.5 * across


def _foot(draw: ImageDraw.ImageDraw, faces: _Faces, report: Report, window: Window) -> None:
    per_mm = window.per_mm
    y = TOP + window.height + 8
    _legend(draw, faces, 40, y)
    x = 590
    draw.line([(x, y + 14), (x + 10 * per_mm, y + 14)], INK, 3)
    for end in (x, x + 10 * per_mm):
        draw.line([(end, y + 6), (end, y + 22)], INK, 3)
    draw.text((x + 5 * per_mm, y + 42), "10 mm", INK, faces(20), anchor="mm")
    right = PANEL + 60
    cuts = any(one.cut_depth_mm > 0 for one in report.connectors)
    if cuts:
        draw.line([(right, y + 4), (right, y + 32)], CUT, 4)
        cut = _("cut here so deep, in mm, to leave {area} mm²", area=f"{report.leave_mm2:g}")
    else:
        cut = _("no connector has more than {area} mm²", area=f"{report.leave_mm2:g}")
    draw.text((right + (18 if cuts else 0), y + 18), cut, INK, faces(20), anchor="lm")
    seat = {
        True: _("goes in along the axis"),
        False: _("does not go in along the axis"),
        None: _("whether it goes in is not told"),
    }[report.goes_in]
    inside = lie_in(report.overlap_mm3)
    if inside:
        seat = _("base and arch lie in each other")
    colour = CUT if report.goes_in is False or inside else INK
    beside = 0
    if report.undercuts or report.overlaps:
        beside = 34
        _cross(draw, np.array([right + CROSS, y + 52]), CUT, 5)
    draw.text((right + beside, y + 52), seat, colour, faces(20, bold=True), anchor="lm")
    said = [
        _("The number under a tooth is its median depth below the margin in mm."),
        _("From the two meshes alone; the resin's instructions for use come first."),
    ]
    draw.text((40, y + 112), " ".join(said), SOFT, faces(18), anchor="lm")


def _legend(draw: ImageDraw.ImageDraw, faces: _Faces, x: int, y: int) -> None:
    width, high = 480, 28
    last = DEPTH.values[-1]
    values = np.linspace(0, last, width)
    for step, colour in enumerate(np.round(DEPTH.colour(values) * 255).astype(int).tolist()):
        draw.line([(x + step, y), (x + step, y + high)], tuple(colour))
    for number in range(round(last / DEPTH.line) + 1):
        at = x + number * DEPTH.line / last * (width - 1)
        draw.line([(at, y), (at, y + high + 6)], INK, 2)
        draw.text((at, y + high + 20), f"{number * DEPTH.line:.1f}", INK, faces(18), anchor="mm")
    draw.text((x, y + high + 46), _("Depth below the margin in mm; a line every {step} mm", step=f"{DEPTH.line:g}"),
              INK, faces(20), anchor="lm")  # fmt: skip


def _packed(sheet: Image.Image) -> bytes:
    """Return the picture with as many colours as 300 kB hold."""
    for colours in (None, 256, 128, 64):
        data = BytesIO()
        fewer = sheet.quantize(colours, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE) if colours else sheet
        fewer.save(data, "PNG", optimize=True)
        if data.tell() <= MOST_BYTES:
            break
    return data.getvalue()
