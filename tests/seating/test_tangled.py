"""What spoilt meshes ask for is borne: columns as wide as they must be, and no row that is longer than a row can be."""

import numpy as np
import pytest

from benchapp.seating import curve, wayin
from benchapp.seating.faults import Unusable
from tests.seating.shapes import Floats


def plates(height: float, size: float, out: bool, many: int) -> Floats:
    """Return squares of two triangles, all in one place: (2 many, 3, 3), looking out of the sockets or into them."""
    a, b, c, d = ([x, y, height] for x, y in ((0, 0), (size, 0), (size, size), (0, size)))
    one = np.array([[a, b, c], [a, c, d]] if out else [[a, c, b], [a, d, c]], dtype=np.float64)
    return np.tile(one, (many, 1, 1))


def test_large_triangles_widen_the_columns_and_small_ones_do_not(monkeypatch: pytest.MonkeyPatch) -> None:
    """A square of 20 mm of base above arch is 20 mm wide, drawn once or two hundred times, to the width of a column."""
    found = wayin.undercut_of(wayin.overhangs(plates(1, 20, True, 1), plates(0, 20, False, 1)))
    assert found and found.width == pytest.approx(20, abs=0.1)
    monkeypatch.setattr(wayin, "MOST_DRAWN", 400_000)
    monkeypatch.setattr(wayin, "MOST_FINE", 400_000)
    roofs, floors = plates(1, 20, True, 100), plates(0, 20, False, 100)
    low, high = np.zeros(2), np.full(2, 20.0)
    cell = wayin._bearable(roofs, floors, low, high, wayin.COLUMN, 400_000)
    assert cell == pytest.approx((400 * 400 / 400_000) ** 0.5)  # 400 triangles with boxes of 400 mm2
    found = wayin.undercut_of(wayin.overhangs(roofs, floors))
    assert found and found.width == pytest.approx(20, abs=2 * cell)
    assert wayin._bearable(roofs[:2], floors[:2], low, high, 0.1, 400_000) == 0.1


def test_a_row_of_few_cells_side_by_side_is_torn_and_no_line_of_a_thousand_kilometres() -> None:
    """Two cells at one place along the row, of four in all, would have the spline swing out between them."""
    order = np.array([0.0, 0.5, 1.0, 1.5, 2.0, 2.0, 2.5000001])
    cells = np.array([[0, 0], [0, 0.5], [0, 1], [0, 1.5], [0, 2], [0.5, 2], [0.5, 2.5]])
    with pytest.raises(Unusable, match="torn"):
        curve._spline(order, cells)
    order[-2:] = 2.5, 3.0
    assert len(curve._spline(order, cells)) < 100  # a cell apart they are a row
