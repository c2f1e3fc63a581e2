"""How sure an axis from margins is: against rows whose margins lean as is laid down here."""

import numpy as np
import pytest

from benchapp.seating.pair import LEANS, LEAST_SPREAD, MARGINS_SPREAD, Axis, surer

FOUND = Axis(np.array([0.0, 0.0, 1.0]), "margins", MARGINS_SPREAD)


def row(turn: float, count: int = 9) -> np.ndarray:
    """Return the buccal ways of teeth along an arc of `turn` degrees."""
    angles = np.radians(np.linspace(-turn / 2, turn / 2, count))
    return np.column_stack([np.cos(angles), np.sin(angles)])


def leaning(buccal: np.ndarray, degrees: float) -> np.ndarray:
    """Return openings that all lean buccally by so much."""
    slope = np.tan(np.radians(degrees))
    return np.column_stack([slope * buccal, np.ones(len(buccal))])


@pytest.mark.parametrize("turn", [30.0, 60.0, 120.0, 170.0])
def test_margins_that_all_lean_buccally_show_how_far_off_the_axis_is(turn: float) -> None:
    """The mean of openings is the axis that is found; it is off by their mean lean, and that is told (by geometry)."""
    buccal = row(turn)
    openings = leaning(buccal, 2.0)
    frame = openings - [*openings[:, :2].mean(axis=0), 0.0]  # in the frame of the axis that is found
    off = np.degrees(np.arctan(np.linalg.norm(openings[:, :2].mean(axis=0))))
    spread = surer(FOUND, frame, buccal).spread
    assert off <= spread == pytest.approx(LEANS * off, rel=0.01)


def test_a_straight_row_hides_what_its_margins_lean() -> None:
    """Where the row does not bend, openings that are all alike tell nothing: it stays as unsure as such axes are."""
    buccal = row(0.0)
    assert surer(FOUND, leaning(buccal, 0.0), buccal).spread == MARGINS_SPREAD


def test_openings_that_are_alike_along_a_bent_row_make_the_axis_sure() -> None:
    """Margins all across the axis leave the least spread; far apart ones no more than such axes have been off."""
    buccal = row(120.0)
    assert surer(FOUND, leaning(buccal, 0.0), buccal).spread == LEAST_SPREAD
    apart = leaning(buccal, 0.0) + np.where(np.arange(9) % 2, 0.2, -0.2)[:, None] * [1, 0, 0]
    assert surer(FOUND, apart, buccal).spread == MARGINS_SPREAD


def test_other_axes_are_as_sure_as_they_were() -> None:
    """What a person gave, or floors told, is left alone."""
    given = Axis(np.array([0.0, 0.0, 1.0]), "given", 0.0)
    assert surer(given, leaning(row(90.0), 3.0), row(90.0)) is given
