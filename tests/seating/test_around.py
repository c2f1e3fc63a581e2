"""Values by direction and the lowest point: against functions whose median and least are known by geometry."""

import numpy as np
import pytest

from benchapp.seating.around import DIRECTIONS, among, filled, median, over_facets
from benchapp.seating.check import check
from benchapp.seating.curve import curve_of
from benchapp.seating.noise import NOISY, lowest_of
from benchapp.seating.sockets import aside_of, sides_of
from benchapp.seating.tell import Asked
from tests.seating.blended import BlendedPair, shape_of
from tests.seating.chance import noisy
from tests.seating.made import SMALL, UP, pair_of
from tests.seating.pairs import stl
from tests.seating.truth import all_known

STEP = 2 * np.pi / DIRECTIONS


@pytest.mark.parametrize("begins", np.arange(0.0, 1.0, 0.1))
def test_a_median_does_not_hang_on_where_the_directions_lie(begins: float) -> None:
    """What lies above 0 within 0.7 of one direction and within π / 2 - 0.7 of another does so over half of the way
    round: its median is 0, however steep its flanks are and wherever the directions begin."""
    turn = (np.arange(DIRECTIONS) + begins) * STEP
    off, other = np.abs(turn - 1.5) - 0.7, np.abs(turn - 4.3) - (np.pi / 2 - 0.7)
    assert median(-np.tanh(np.minimum(off, other) / 0.1)) == pytest.approx(0.0, abs=0.013)


def test_directions_without_a_value_do_not_count() -> None:
    """What is missing is left out, nothing is drawn across it; a single one among missing ones counts."""
    values = np.full(DIRECTIONS, np.nan)
    values[10:21] = np.arange(11.0)
    assert median(values) == pytest.approx(5.0)
    values[:] = np.nan
    values[3] = 7.0
    assert median(values) == 7.0


def test_what_is_missing_is_drawn_straight_between_its_neighbours() -> None:
    """Over the last direction and the first too."""
    values = np.ones(DIRECTIONS)
    values[[-1, 0, 1]] = np.nan
    values[-2], values[2] = 1.0, 5.0
    assert filled(values)[[-1, 0, 1]] == pytest.approx([2.0, 3.0, 4.0])


def test_a_spike_is_spread_over_the_angle_of_a_facet() -> None:
    """Over facets of three directions each value becomes the mean of five (0.7 of a facet to either side, rounded);
    narrow facets change nothing, what is missing stays so and does not count."""
    values = np.zeros(DIRECTIONS)
    values[0] = 1.0
    even = over_facets(values, 3 * STEP)
    assert even[[-2, -1, 0, 1, 2]] == pytest.approx(0.2) and even.sum() == pytest.approx(1.0)
    assert over_facets(values, 0.5 * STEP) is values
    values[1] = np.nan
    even = over_facets(values, 3 * STEP)
    assert even[0] == pytest.approx(0.25) and np.isnan(even[1]) and np.isfinite(even[2:]).all()


def test_a_narrow_notch_is_no_side_and_a_wide_one_is() -> None:
    """A dip over four directions, as wide as facets that were not taken for wall, does not make a side low; one over
    half a side does; and the greatest depths are told from every direction."""
    buccal = DIRECTIONS // 4
    depths = np.ones(DIRECTIONS)
    depths[buccal : buccal + 4] = 0.9
    depths[0] = 1.2
    assert sides_of(depths)["buccal"] == 1.0 and sides_of(depths)["on"] == 1.2
    depths[buccal - 3 : buccal + 4] = 0.9
    assert sides_of(depths)["buccal"] == pytest.approx(0.9)
    assert among(depths, 0) == pytest.approx(depths)


def test_a_papilla_at_the_end_of_a_side_is_known_to_be_its_or_not() -> None:
    """Of a peak one direction beyond the greatest side's end the side may be told as much more, of one at its end as
    much less, of one in its middle neither; a level side nothing."""
    end = DIRECTIONS // 12
    for peak, aside in ((end + 1, (0.0, 0.8)), (end, (0.8, 0.0)), (0, (0.0, 0.0))):
        depths = np.ones(DIRECTIONS)
        depths[peak] = 1.8
        found = aside_of(depths, sides_of(depths))
        assert found["on"] == pytest.approx(aside) and found["back"] == (0.0, 0.0)
    depths[:DIRECTIONS] = np.nan
    assert aside_of(depths, sides_of(depths)) == {}


@pytest.mark.parametrize("number", [6, 7, 34])
def test_teeth_face_as_they_were_put_also_where_the_row_ends(number: int) -> None:
    """Rows of four to seven blended teeth: the way along at each is that of the design's own curve, within 4 degrees,
    where the row ends within 11 (the curve through the outline curls there, by up to 20)."""
    pair = BlendedPair(shape_of(number, 0.5))
    curve = curve_of(pair.triangles("arch", 0.0, np.random.default_rng(1)), pair.shape.jaw)
    for at, crown in enumerate(pair.crowns):
        way, out = curve.turn(crown.at[:2])
        turned = np.degrees(np.arccos(np.clip(abs(way @ pair.ways(crown.number)[0]), 0, 1)))
        assert turned < (11.0 if at in (0, len(pair.crowns) - 1) else 4.0)
        assert abs(way @ out) < 1e-12 and out @ (crown.at[:2] - curve.points.mean(axis=0)) > 0


@pytest.mark.parametrize("part", [0.5, 0.75])
def test_parts_among_directions_are_those_of_numpy(part: float) -> None:
    """With missing directions too; what was missing stays so (the other opinion is numpy's `nanquantile`, which takes
    thirty times as long over so few values)."""
    rng = np.random.default_rng(5)
    values = np.where(rng.random(DIRECTIONS) < 0.3, np.nan, rng.normal(size=DIRECTIONS))
    beside = np.stack([np.roll(values, k) for k in range(-3, 4)])
    there = np.isfinite(values)
    assert among(values, 3, part)[there] == pytest.approx(np.nanquantile(beside[:, there], part, axis=0))
    assert np.isnan(among(values, 3, part)[~there]).all()


@pytest.mark.parametrize("count", [10, 100, 1000])
def test_the_lowest_of_noisy_corners_is_where_their_floor_is(count: int) -> None:
    """Of a flat floor's corners that stray by a normal distribution the lowest lies 1.5, 2.5 or 3.2 deviations below
    the floor (their expected least; from memory); what is told, on the whole less than half of that."""
    noise = 0.01
    found = [lowest_of(np.random.default_rng(seed).normal(0, noise, count), noise) for seed in range(200)]
    least = [np.random.default_rng(seed).normal(0, noise, count).min() for seed in range(200)]
    assert np.mean(least) / noise == pytest.approx({10: -1.54, 100: -2.51, 1000: -3.24}[count], abs=0.1)
    assert abs(np.mean(found)) < 0.45 * abs(np.mean(least))


def test_without_noise_the_lowest_is_the_lowest() -> None:
    """Of what is no noise nothing is evened."""
    assert lowest_of(np.array([0.0, 0.0001, 3.0]), 0.99 * NOISY) == 0.0


def test_depths_of_a_noisy_pair_are_off_by_no_more_than_its_noise() -> None:
    """With corners that stray by 0.015 mm, half of the depths lie within that of the smooth description's, all within
    three times it (before the lowest point was evened, each was told 0.03 to 0.05 mm too deep)."""
    noise, pair, rng = 0.015, pair_of(f"teeth={SMALL}"), np.random.default_rng(4)
    base, arch = (stl(noisy(body, noise, rng)) for body in (pair.base(), pair.arch()))
    report = check(base, arch, Asked("lower", SMALL, UP)).report
    known = all_known(pair)
    off = [abs((tooth.depth_median_mm or 0) - known[tooth.tooth or 0].depth_median) for tooth in report.teeth]
    assert np.median(off) < noise and max(off) < 3 * noise
