"""The rendered pictures are what they say; the tablet's reader reads them as the same library does alone."""

import math

import pytest
import zxingcpp
from playwright.sync_api import Browser

from tests.scanner.__main__ import measure, report
from tests.scanner.frames import CONDITIONS, CUT, FOCAL, MODULE, WIDE, Frame, frame


def corners(one: Frame) -> list[tuple[int, int]]:
    """Return the corners of the symbol in px, as another reader finds them."""
    (found,) = zxingcpp.read_barcodes(one.picture, formats=zxingcpp.BarcodeFormat.QRCode)
    place = found.position
    return [(c.x, c.y) for c in (place.top_left, place.top_right, place.bottom_right, place.bottom_left)]


@pytest.mark.parametrize("condition", CONDITIONS)
def test_the_same_seed_gives_the_same_picture(condition: str) -> None:
    """A picture is as large as what the page cuts out, and drawn from its seed alone."""
    one, same, other = frame(condition, "a"), frame(condition, "a"), frame(condition, "b")
    assert one.picture.size == CUT and one.picture.tobytes() == same.picture.tobytes()
    assert one.code == same.code != other.code
    assert one.condition == condition and 100 <= one.distance <= 400


def test_a_label_is_as_large_as_its_distance_says() -> None:
    """By the pinhole formula, size = focal length x size / distance, within 3 % for labels that lie nearly flat."""
    assert pytest.approx(2 * math.degrees(math.atan(WIDE / 2 / FOCAL))) == 65
    for number in range(6):
        one = frame("plain", f"size {number}")
        points = corners(one)
        sides = [math.dist(a, b) for a, b in zip(points, [*points[1:], points[0]], strict=True)]
        # Tilted by up to ten degrees, a side is shorter by up to 1.5 %, and nearer or farther than the middle.
        assert max(sides) == pytest.approx(21 * MODULE * FOCAL / one.distance, rel=0.03 + 0.2 * 21 / one.distance)


def test_what_is_tilted_covers_less_and_what_is_dark_spreads_less() -> None:
    """A symbol tilted by t covers cos(t) of its square; in low light the brightest and the darkest are nearer."""
    def part(one: Frame) -> float:
        points = corners(one)
        twice = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, [*points[1:], points[0]], strict=True))
        return abs(twice) / 2 / (21 * MODULE * FOCAL / one.distance) ** 2

    def spread(one: Frame) -> int:
        least, most = one.picture.getextrema()
        return int(most) - int(least)  # type: ignore[arg-type]

    for number in range(6):
        assert math.cos(math.radians(10)) * 0.94 < part(frame("plain", f"part {number}")) < 1.06
        tilted = part(frame("tilt", f"part {number}"))
        assert math.cos(math.radians(50)) * 0.94 < tilted < math.cos(math.radians(25)) * 1.06
        assert spread(frame("low light", f"{number}")) < spread(frame("plain", f"{number}"))


def test_the_pages_worker_reads_what_the_library_reads(browser: Browser) -> None:
    """Of one picture of each condition nothing is read wrong; what the library reads alone, the worker reads too."""
    found = measure(browser, len(CONDITIONS), 3)
    assert [one.condition for one in found] == list(CONDITIONS)
    assert not any(one.wrong for one in found)
    assert [one.first for one in found] == [one.native for one in found] and sum(one.right for one in found) >= 4
    assert all(one.right or len(one.times) == 3 for one in found)
    text = report(found, "1.2.3", 3)
    assert "| all |" in text and "read wrong: 0 of 7" in text
