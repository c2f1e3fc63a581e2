"""Signs on the map of the whole arch lie between their teeth, and beyond the outer side of a tooth."""

import pytest

from benchapp.core.archmap import whole
from benchapp.core.archsigns import beside, between
from benchapp.core.teeth import ROW, Jaw


@pytest.mark.parametrize("jaw", ["upper", "lower"])
def test_signs_lie_where_they_belong(jaw: Jaw) -> None:
    """In row order; those beside a tooth lie further out than its number, within the picture, away from each other."""
    arch = whole(jaw, ROW[jaw])
    middle = arch.teeth[0].x + arch.teeth[-1].x
    joints, outer = between(arch), beside(arch)
    assert len(joints) == 15 and len(outer) == 16
    assert [spot.x for spot in joints] == sorted(spot.x for spot in joints)
    for shape, spot in zip(arch.teeth, outer, strict=True):
        assert 16 < spot.x < arch.width - 16 and 4 < spot.y < arch.height - 4
        assert abs(spot.x - middle / 2) >= abs(shape.x - middle / 2) - 0.1
    lips = min if jaw == "upper" else max
    assert lips(spot.y for spot in outer) == lips([*(s.y for s in outer), *(t.y for t in arch.teeth)])


def test_a_row_with_gaps() -> None:
    """Over a missing tooth the sign lies between the neighbours that are there."""
    arch = whole("upper", (15, 13, 11))
    assert len(beside(arch)) == 3
    assert [spot.x for spot in between(arch)] == [
        pytest.approx((one.x + other.x) / 2, abs=0.1) for one, other in zip(arch.teeth, arch.teeth[1:], strict=False)]
