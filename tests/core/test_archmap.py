"""The arch map: sizes and gaps of tap targets, one target per place, shapes inside their picture."""

from itertools import combinations
from math import hypot

import pytest
from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib.path import parse_path
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.core import archmap, outlines
from benchapp.core.archmap import Rect, SextantPicture, Target
from benchapp.core.teeth import JAWS, ROW, SEXTANTS, Jaw, Sextant, places

LEAST, APART = 80, 16  # CSS px of a bench control and between two of them: common practice, no source
SCREENS = [
    (752, 620),
    (720, 560),
]  # what is left for one sextant on an 800 px and on half a 1280 x 800 px screen
UPPER_14 = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
LOWER_14 = (47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37)


def some_teeth() -> st.SearchStrategy[tuple[Jaw, list[int]]]:
    """Any jaw with any 2 to 16 of its teeth, in any order."""
    return st.sampled_from(JAWS).flatmap(
        lambda jaw: st.tuples(
            st.just(jaw), st.lists(st.sampled_from(ROW[jaw]), min_size=2, max_size=16, unique=True)
        )
    )


def apart(one: Rect, other: Rect) -> float:
    """Clear distance of two rectangles; 0 or less when they touch or overlap."""
    across = max(one.x - other.x - other.w, other.x - one.x - one.w)
    down = max(one.y - other.y - other.h, other.y - one.y - one.h)
    if across > 0 and down > 0:
        return hypot(across, down)
    return max(across, down)


def inside(rect: Rect, width: float, height: float) -> bool:
    """Whether a rectangle lies wholly in a picture."""
    return rect.x >= 0 and rect.y >= 0 and rect.x + rect.w <= width and rect.y + rect.h <= height


def points(path: str) -> list[tuple[float, float]]:
    """Every point, control points too, of path data, as fontTools reads it: a reader that is not ours."""
    pen = RecordingPen()
    parse_path(path, pen)
    return [(round(x, 6), round(y, 6)) for _, drawn in pen.value for x, y in drawn]


def holds(rect: Rect, x: float, y: float) -> bool:
    """Whether a point lies in a rectangle."""
    return rect.x <= x <= rect.x + rect.w and rect.y <= y <= rect.y + rect.h


def target(picture: SextantPicture, name: str) -> Target:
    """The one target of that place."""
    (found,) = [one for one in picture.targets if one.place.name == name]
    return found


def check_sizes(rects: list[Rect], scale: float) -> None:
    """Every rectangle is large enough and far enough from every other at that scale."""
    for rect in rects:
        assert rect.w * scale >= LEAST and rect.h * scale >= LEAST, rect
    for one, other in combinations(rects, 2):
        assert apart(one, other) * scale >= APART, (one, other)


def test_distance_of_rectangles_is_measured_right() -> None:
    """The measure itself: side by side 16, corner to corner 5 (3-4-5 triangle), overlapping below zero."""
    assert apart(Rect(0, 0, 80, 80), Rect(96, 0, 80, 80)) == 16
    assert apart(Rect(0, 0, 10, 10), Rect(13, 14, 10, 10)) == 5
    assert apart(Rect(0, 0, 10, 10), Rect(5, 5, 10, 10)) < 0


@given(some_teeth())
@settings(deadline=None)
def test_three_sextants_are_large_and_apart_at_480_px(jaw_and_teeth: tuple[Jaw, list[int]]) -> None:
    """The whole arch has three targets of at least 80 px, 16 px apart, when the picture is 480 px wide."""
    picture = archmap.whole(*jaw_and_teeth)
    assert [region.which for region in picture.regions] == list(SEXTANTS)
    check_sizes([region.rect for region in picture.regions], 480 / picture.width)
    assert all(inside(region.rect, picture.width, picture.height) for region in picture.regions)


@given(some_teeth())
@settings(deadline=None)
def test_whole_arch_draws_and_counts_every_tooth_once(jaw_and_teeth: tuple[Jaw, list[int]]) -> None:
    """Each tooth is drawn once, inside the target of its sextant; counts add up to 3 n - 1 places."""
    jaw, row = jaw_and_teeth
    picture = archmap.whole(jaw, row)
    assert sorted(shape.tooth for shape in picture.teeth) == sorted(row)
    where = {tooth: region for region in picture.regions for tooth in region.teeth}
    assert sorted(where) == sorted(row)
    assert all(holds(where[shape.tooth].rect, shape.x, shape.y) for shape in picture.teeth)
    assert sum(region.places for region in picture.regions) == 3 * len(row) - 1
    assert all(holds(region.rect, region.x, region.y) for region in picture.regions)
    for shape in picture.teeth:
        assert all(0 <= x <= picture.width and 0 <= y <= picture.height for x, y in points(shape.path))


@pytest.mark.parametrize("jaw, row", [("upper", UPPER_14), ("lower", LOWER_14)])
def test_fourteen_teeth_count_12_17_12(jaw: Jaw, row: tuple[int, ...]) -> None:
    """The three counts of a usual arch are 12, 17 and 12 (common practice)."""
    assert [region.places for region in archmap.whole(jaw, row).regions] == [12, 17, 12]


def test_teeth_of_the_whole_arch_do_not_lie_on_each_other() -> None:
    """Numbers of neighbouring teeth keep at least 28 px from each other, so that each can be read."""
    for jaw in JAWS:
        shapes = archmap.whole(jaw, ROW[jaw]).teeth
        assert min(hypot(a.x - b.x, a.y - b.y) for a, b in combinations(shapes, 2)) >= 28


def test_right_is_left_and_lips_are_outward() -> None:
    """The patient's right is at the viewer's left in both jaws; lips are up above, down below."""
    for jaw in JAWS:
        picture = archmap.whole(jaw, ROW[jaw])
        xs = [shape.x for shape in picture.teeth]
        assert xs[:8] < xs[8:] and max(xs[:8]) < picture.width / 2 < min(xs[8:])
        front, back = picture.teeth[7].y, picture.teeth[0].y
        assert front < back if jaw == "upper" else front > back
        assert {c.text: c.x < picture.width / 2 for c in picture.captions} == {"right": True, "left": False}


@pytest.mark.parametrize("screen", SCREENS)
@given(jaw_and_teeth=some_teeth(), which=st.sampled_from(SEXTANTS))
@settings(deadline=None)
def test_targets_of_a_sextant_are_large_and_apart(
    screen: tuple[int, int], jaw_and_teeth: tuple[Jaw, list[int]], which: Sextant
) -> None:
    """On both screens every target is at least 80 x 80 px and at least 16 px from every other."""
    picture = archmap.sextant(*jaw_and_teeth, which)
    scale = min(screen[0] / picture.width, screen[1] / picture.height)
    assert scale >= 1
    rects = [one.rect for one in picture.targets]
    check_sizes(rects, scale)
    assert all(inside(rect, picture.width, picture.height) for rect in rects)


@given(some_teeth())
@settings(deadline=None)
def test_every_place_has_exactly_one_target(jaw_and_teeth: tuple[Jaw, list[int]]) -> None:
    """Over the three sextants, teeth, connectors and margin sides have just one target each."""
    jaw, row = jaw_and_teeth
    wanted = places(jaw, row, ("tooth", "margin", "connector"))
    shown = [one.place for which in SEXTANTS for one in archmap.sextant(jaw, row, which).targets]
    assert shown == list(wanted)
    assert all(
        one.place.sextant == which for which in SEXTANTS for one in archmap.sextant(jaw, row, which).targets
    )


@given(some_teeth(), st.sampled_from(SEXTANTS))
@settings(deadline=None)
def test_drawings_and_labels_stay_with_their_targets(
    jaw_and_teeth: tuple[Jaw, list[int]], which: Sextant
) -> None:
    """Labels lie in their target; connectors and collars are drawn wholly in theirs."""
    picture = archmap.sextant(*jaw_and_teeth, which)
    for one in picture.targets:
        assert holds(one.rect, one.x, one.y)
        drawn = points(one.path)
        assert all(0 <= x <= picture.width and 0 <= y <= picture.height for x, y in drawn)
        if one.place.kind != "tooth":
            assert all(holds(one.rect, x, y) for x, y in drawn), one


@pytest.mark.parametrize("jaw, row", [("upper", UPPER_14), ("lower", LOWER_14)])
def test_connector_lies_between_its_teeth_and_margins_on_their_sides(jaw: Jaw, row: tuple[int, ...]) -> None:
    """A connector stands midway between its teeth; buccal is up above and down below."""
    picture = archmap.sextant(jaw, row, "s2")
    left, right = ("12", "11") if jaw == "upper" else ("42", "41")
    one, other, held = target(picture, left), target(picture, right), target(picture, f"{left}-{right}")
    assert held.x == (one.x + other.x) / 2
    buccal, inner = target(picture, f"m{left}b"), target(picture, f"m{left}l")
    assert buccal.x == inner.x == one.x
    assert buccal.y < one.y < inner.y if jaw == "upper" else inner.y < one.y < buccal.y
    assert (buccal.label, inner.label) == ("b", "p" if jaw == "upper" else "l")


def test_missing_tooth_leaves_its_column_empty() -> None:
    """Without 16 the teeth 17 and 15 keep their columns and the connector 17-15 stands in the gap."""
    full = archmap.sextant("upper", UPPER_14, "s1")
    gap = archmap.sextant("upper", [tooth for tooth in UPPER_14 if tooth != 16], "s1")
    for name in ("17", "15", "14"):
        assert target(gap, name).rect == target(full, name).rect
    assert target(gap, "17-15").x == target(full, "16").x
    assert target(gap, "17-15").rect.w > target(full, "17-16").rect.w


def test_missing_third_molars_take_no_room() -> None:
    """Four back teeth get wider columns than five."""
    four = archmap.sextant("upper", UPPER_14, "s1")
    five = archmap.sextant("upper", (18, *UPPER_14), "s1")
    assert target(four, "16").rect.w > target(five, "16").rect.w


def test_outer_connector_shows_the_tooth_it_holds() -> None:
    """A back sextant hints at its front neighbour, the real one across a gap; the front has none."""
    without_13 = [tooth for tooth in UPPER_14 if tooth != 13]
    neighbours = [
        archmap.sextant("upper", UPPER_14, "s1").neighbour,
        archmap.sextant("upper", UPPER_14, "s3").neighbour,
        archmap.sextant("upper", without_13, "s1").neighbour,
    ]
    assert [shape and shape.tooth for shape in neighbours] == [13, 23, 12]
    assert archmap.sextant("upper", UPPER_14, "s2").neighbour is None


def test_sides_are_named_on_the_picture() -> None:
    """Words for the outer side stand above the upper jaw and below the lower, inner words opposite."""
    for jaw in JAWS:
        for which in SEXTANTS:
            captions = sorted(archmap.sextant(jaw, ROW[jaw], which).captions, key=lambda caption: caption.y)
            words = [caption.text for caption in captions]
            outer = "lip side" if which == "s2" else "cheek side"
            assert words == ([outer, "palate side"] if jaw == "upper" else ["tongue side", outer])


def test_empty_sextant_has_no_targets() -> None:
    """A sextant without teeth counts 0 places and offers no target."""
    assert archmap.sextant("upper", [11, 21], "s1").targets == ()
    assert [region.places for region in archmap.whole("upper", [11, 21]).regions] == [0, 5, 0]


def test_faulty_teeth_are_refused_with_the_fault() -> None:
    """The map of a faulty list of teeth says what is wrong with it."""
    with pytest.raises(ValueError, match="Tooth 31 belongs to the lower jaw"):
        archmap.whole("upper", [11, 21, 31])
    with pytest.raises(ValueError, match="listed twice"):
        archmap.sextant("upper", [11, 21, 11], "s2")


def test_the_same_shape_elsewhere_is_the_same_text() -> None:
    """Buccal margins of back teeth are written alike but for where they begin, which is what a page packs well."""
    picture = archmap.sextant("upper", UPPER_14, "s1")
    shapes = [one.path for one in picture.targets if one.place.kind == "margin" and one.place.name.endswith("b")]
    assert len(shapes) == 4 and len({shape.partition("c")[0] for shape in shapes}) == 4
    assert len({shape.partition("c")[2] for shape in shapes}) == 1


def test_path_data_is_drawn_to_half_a_px_without_drifting() -> None:
    """Lines, quadratic and cubic pieces come back within 0.25 px of the points that went in, however many there are."""
    start, steps = (1.04, 2.06), [(1.04 + n * 0.333, 2.06 + n * 0.777) for n in range(1, 400)]
    lines = points(outlines.drawn(start, (("l", (point,)) for point in steps), closed=False))
    apart = [max(abs(x - a), abs(y - b)) for (x, y), (a, b) in zip(lines, [start, *steps], strict=True)]
    assert len(apart) == 400 and max(apart) <= 0.25 + 1e-6
    curved = outlines.drawn((0, 0), [("q", ((1, 2), (3, 4))), ("c", ((-1, 0), (0.4, 9), (8, -1)))], closed=False)
    assert curved == "M0,0q1,2 3,4c-4,-4 -2.5,5 5,-5"
    assert points(curved)[3:] == [(-1, 0), (0.5, 9), (8, -1)]
