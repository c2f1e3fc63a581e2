"""The meshes of the demo: what is told about them is true."""

import pytest

from benchapp.paths import DEMO_CASES
from benchapp.seating.sound import sound
from benchapp.seating.stl import read_stl
from tests.seating.demo import checked_demo, plans
from tests.seating.pairs import Pair
from tests.seating.truth import all_known

FOLDER = DEMO_CASES / "meshes"


def test_the_files_are_small_and_closed() -> None:
    """Each of the three pairs has two closed meshes of at most 1.5 MB and 30,000 triangles together."""
    for name in plans():
        files = [FOLDER / f"{name}-{part}.stl" for part in ("base", "arch")]
        corners = [read_stl(file.read_bytes(), file.name) for file in files]
        assert all(file.stat().st_size < 1_500_000 for file in files) and sum(map(len, corners)) < 30_000
        assert all(sound(one, name, 1.0)[1] for one in corners)


@pytest.mark.parametrize("name", ["deep", "stuck"])
def test_a_pair_is_as_bad_as_it_shall_be(name: str) -> None:
    """In one 36 and 44 are deeper than 0.8 mm and one connector has 5 mm2; the other does not go in."""
    report = checked_demo(name).report
    deep = {tooth.tooth for tooth in report.teeth if tooth.depth_median_mm > 0.8}
    thick = [one.between for one in report.connectors if one.area_mm2 > 2]
    assert (deep, thick) == (({36, 44}, [(41, 31)]) if name == "deep" else (set(), []))
    assert report.goes_in is (name == "deep") and report.overlap_mm3 == 0
    assert all(0.3 < tooth.depth_median_mm < 0.8 for tooth in report.teeth if tooth.tooth not in deep)


@pytest.mark.parametrize("name", plans())
def test_what_is_told_of_thinned_meshes_is_true(name: str) -> None:
    """Facets of unlike sizes, as CAD thins them, move nothing: depth, bond and resin are those of the description, and
    nine of ten gap volumes lie in their intervals."""
    report, known = checked_demo(name).report, all_known(Pair(plans()[name]))
    held = 0
    for tooth in report.teeth:
        true = known[tooth.tooth or 0]
        assert abs(tooth.depth_median_mm - true.depth_median) < 0.02
        assert tooth.bond_area_mm2 == pytest.approx(true.bond, rel=0.03)
        low, high = tooth.intervals["gap_volume_ml"]
        held += low <= true.volume / 1000 <= high
    assert held >= 0.9 * len(report.teeth)
    assert report.resin_ml == pytest.approx(sum(one.volume for one in known.values()) / 1000, rel=0.03)
