"""The report: known pairs come out right, by the command too, and its JSON keeps to its schema."""

import json
import subprocess
import sys
import threading
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from click.testing import CliRunner

from benchapp.cli import cli
from benchapp.seating import abreast
from benchapp.seating.check import check
from benchapp.seating.faults import Unusable
from benchapp.seating.report import as_json, schema
from benchapp.seating.tell import Asked
from tests.seating.made import SMALL, UP, ascii_stl, checked, corners, pair_of, small, turned
from tests.seating.pairs import stl
from tests.seating.truth import all_known

SIMPLE = "fine=28"
SMALLER = f"teeth={SMALL}, fine=16, rim=.15, uneven=.2"
ALL = (
    "fine=28, rim=.2, uneven=.3, scallop=.6, lopsided=.1, crowded=.7, tilted=4, fillet=.3, taper=.2, lean=4, "
    "jaw='upper', "
    "teeth=(17, 16, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)"
)


def test_a_pair_that_is_measured_by_several_threads_has_the_same_report(monkeypatch: pytest.MonkeyPatch) -> None:
    """Teeth, connectors and parts that are looked at by four threads at once give the report of one, to the digit."""
    one = checked(SMALLER).report
    monkeypatch.setattr(abreast, "LARGE", 0)
    monkeypatch.setattr(abreast, "_processors", lambda: 4)
    base, arch = (stl(part) for part in corners(SMALLER))
    assert as_json(check(base, arch, Asked("lower", SMALL, UP)).report) == as_json(one)


def test_the_pieces_keep_their_order_and_their_faults_by_threads_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Results come in the order of the pieces though later ones are done first; a fault comes where its piece would."""
    monkeypatch.setattr(abreast, "_processors", lambda: 2)
    second_done = threading.Event()

    def work(piece: int) -> int:
        if piece == 0:
            assert second_done.wait(20)
        if piece == 1:
            second_done.set()
        if piece == 2:
            raise Unusable("the third")
        return piece

    found = abreast.abreast(work, range(3), 3 * abreast.LARGE)
    assert [next(found), next(found)] == [0, 1]
    with pytest.raises(Unusable, match="the third"):
        next(found)


def test_threads_take_turns_faster_during_a_check_and_only_then() -> None:
    """Python's interval between turns is short while a check runs, and as before after it, also where it fails."""
    before, seen = sys.getswitchinterval(), []
    base, arch = (stl(part) for part in corners(SMALLER))
    asked = Asked("lower", SMALL, UP)
    check(base, arch, asked, lambda _stage, _part: seen.append(sys.getswitchinterval()))
    assert seen and max(seen) == pytest.approx(abreast.TURN) and sys.getswitchinterval() == before
    with pytest.raises(Unusable):
        check(base[:100], arch, asked)
    assert sys.getswitchinterval() == before


def test_what_is_done_beside_begins_at_once_and_its_fault_comes_when_it_is_asked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With two processors the work is begun before anybody asks, with one when it is asked; its fault comes then."""
    begun = threading.Event()

    def work() -> int:
        begun.set()
        raise Unusable("beside")

    for processors in (2, 1):
        begun.clear()
        monkeypatch.setattr(abreast, "_processors", lambda many=processors: many)
        with abreast.beside(work) as ask:
            assert begun.wait(20 if processors == 2 else 0) == (processors == 2)
            with pytest.raises(Unusable, match="beside"):
                ask()


def test_the_truth_of_a_sharp_margin_is_its_crest() -> None:
    """Where a wall ends in a sharp edge, the highest wall is the edge (by geometry), whatever rows are looked at."""
    for one in all_known(pair_of(f"teeth={SMALL}")).values():
        assert one.depth_median == pytest.approx(one.crest_median, abs=1e-4)


@pytest.mark.parametrize(
    ("plan", "depth", "crest", "side", "bond", "resin", "area"),
    [
        (SIMPLE, 0.02, 0.001, 0.02, 1.0, 2.5, 1.0),
        (ALL, 0.05, 0.01, 0.09, 2.0, 3.0, 1.2),
    ],
)
def test_known_pairs_come_out_right(
    plan: str, depth: float, crest: float, side: float, bond: float, resin: float, area: float
) -> None:
    """Every tooth's depth, crest, sides, bond and resin, and every connector's area are those of the smooth
    description."""
    pair, report = pair_of(plan), checked(plan).report
    known = all_known(pair)
    assert [tooth.tooth for tooth in report.teeth] == list(pair.plan.row)
    for tooth in report.teeth:
        true = known[tooth.tooth]
        assert tooth.depth_median_mm == pytest.approx(true.depth_median, abs=depth)
        assert tooth.crest_depth_median_mm == pytest.approx(true.crest_median, abs=crest)
        assert tooth.depth_by_side_mm == pytest.approx(true.sides, abs=side)
        assert tooth.bond_area_mm2 == pytest.approx(true.bond, rel=bond / 100)
        assert tooth.gap_median_mm == pytest.approx(true.gap, abs=0.01)
    assert report.resin_ml * 1000 == pytest.approx(sum(one.volume for one in known.values()), rel=resin / 100)
    areas = {frozenset(rod.between): rod.area() for rod in pair.rods}
    for one in report.connectors:
        assert one.area_mm2 == pytest.approx(areas[frozenset(one.between)], rel=area / 100) and not one.at_limit
    assert report.goes_in and report.overlap_mm3 == 0


def test_the_json_keeps_to_its_schema_and_is_the_same_again() -> None:
    """The report's JSON is valid by its JSON Schema, which knows every key, and a second run gives the same bytes."""
    base, arch = small()
    asked = Asked("lower", SMALL, UP)
    first, second = (json.dumps(as_json(check(stl(base), stl(arch), asked).report)) for _run in range(2))
    assert first == second
    jsonschema.validate(json.loads(first), schema(), jsonschema.Draft202012Validator)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(json.loads(first) | {"more": 1}, schema())


def test_moved_and_turned_pairs_tell_the_same() -> None:
    """Turned, moved, in another order of triangles, in inches or in ASCII a pair has the same numbers."""
    base, arch = small()
    asked = Asked("lower", SMALL, UP)
    plain = check(stl(base), stl(arch), asked).report
    way = turned(np.array([[UP]]), 50, (1, 2, 3), (0, 0, 0))[0, 0]
    moved = [turned(one, 50, (1, 2, 3), (20, -30, 40)) for one in (base, arch)]
    order = np.random.default_rng(1).permutation(len(arch))
    others = {
        "turned": check(stl(moved[0]), stl(moved[1]), Asked("lower", SMALL, tuple(way))).report,
        "order": check(stl(base), stl(arch[order]), asked).report,
        "inch": check(stl(base / 25.4), stl(arch / 25.4), Asked("lower", SMALL, UP, unit="inch")).report,
        "ascii": check(ascii_stl(base), ascii_stl(arch), asked).report,
    }
    for name, other in others.items():
        for one, two in zip(plain.teeth, other.teeth, strict=True):
            assert two.depth_median_mm == pytest.approx(one.depth_median_mm, abs=0.002), name
            assert two.bond_area_mm2 == pytest.approx(one.bond_area_mm2, rel=0.002), name
        for one, two in zip(plain.connectors, other.connectors, strict=True):
            # 16 corners around a connector are so few that which edges are bent turns on the files' rounding
            assert two.area_mm2 == pytest.approx(one.area_mm2, rel=0.001), name
        assert other.resin_ml == pytest.approx(plain.resin_ml, rel=0.003), name


def test_what_cannot_be_known_is_null_with_a_reason() -> None:
    """Without the list of six teeth, or with a wrong one, no number is guessed and the warning says why."""
    base, arch = map(stl, small())
    for teeth, words in ((None, "without the list of teeth"), ((42, 41, 31, 32), "the case lists 4")):
        report = check(base, arch, Asked("lower", teeth, UP)).report
        assert {tooth.tooth for tooth in report.teeth} == {None}
        assert all(set(tooth.depth_by_side_mm.values()) == {None} for tooth in report.teeth)
        assert any(words in warning for warning in report.warnings)


def test_parts_in_each_other_have_resin_and_undercut_withheld() -> None:
    """An arch pressed 0.3 mm too deep overlaps the base: it is told, and resin and undercut are null."""
    base, arch = small()
    report = check(stl(base), stl(arch - [0, 0, 0.3]), Asked("lower", SMALL, UP)).report
    assert report.overlap_mm3 > 1 and report.least_clearance_mm == 0
    assert report.resin_ml is None and report.goes_in is None and report.undercut_width_mm is None
    assert any("lie in each other" in warning for warning in report.warnings)


def test_open_meshes_are_still_measured() -> None:
    """With a few triangles lost the surfaces are open: it is said, and depths and resin stay."""
    base, arch = small()
    asked = Asked("lower", SMALL, UP)
    whole = check(stl(base), stl(arch), asked).report
    rng = np.random.default_rng(2)
    torn = [one[rng.random(len(one)) > 0.002] for one in (base, arch)]
    report = check(stl(torn[0]), stl(torn[1]), asked).report
    assert not report.meshes["base"].closed and any("not closed" in warning for warning in report.warnings)
    assert report.resin_ml == pytest.approx(whole.resin_ml, rel=0.05)
    for one, two in zip(whole.teeth, report.teeth, strict=True):
        assert two.depth_median_mm == pytest.approx(one.depth_median_mm, abs=0.01)


def test_the_command_tells_and_writes(tmp_path: Path) -> None:
    """`benchapp seating` ends with 0 and writes the JSON; a bad file ends with 2 and its sentence."""
    base, arch = small()
    (tmp_path / "base.stl").write_bytes(stl(base))
    (tmp_path / "arch.stl").write_bytes(stl(arch))
    (tmp_path / "bad.stl").write_bytes(stl(arch)[:-9])
    files = [str(tmp_path / name) for name in ("base.stl", "arch.stl", "bad.stl")]
    common = ["--jaw", "lower", "--teeth", "43,42,41,31,32,33", "--axis", "0,0,1"]
    runner = CliRunner()
    done = runner.invoke(cli, ["seating", files[0], files[1], *common, "--json", str(tmp_path / "out.json")])
    assert done.exit_code == 0, done.output
    assert (
        "goes in along the axis: yes" in done.output
        and "43-42" in done.output
        and "instructions for use" in done.output
    )
    written = json.loads((tmp_path / "out.json").read_text("utf-8"))
    jsonschema.validate(written, schema())
    assert len(written["teeth"]) == 6
    bad = runner.invoke(cli, ["seating", files[0], files[2], *common])
    assert bad.exit_code == 2 and "is cut off" in bad.output and "Traceback" not in bad.output
    assert runner.invoke(cli, ["seating", *files[:2], "--jaw", "upper", "--teeth", "43,42"]).exit_code == 2
    assert json.loads(runner.invoke(cli, ["seating", "--schema"]).output) == schema()


def test_the_server_starts_without_the_libraries_of_the_check() -> None:
    """Whoever imports the server or the command line has not loaded scipy, manifold3d or what reads OBJ and 3MF.

    numpy comes with sqlite-utils, which takes it when it is there.
    """
    code = (
        "import sys, benchapp.cli, benchapp.serve\n"
        "sys.exit(len({'scipy', 'manifold3d', 'trimesh', 'lxml', 'networkx'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_lip_over_a_bulge_does_not_go_in() -> None:
    """Teeth that bulge below a narrower margin are undercut as widely as their smooth shapes are, and do not go in."""
    report = checked("fine=36, bulge=.3, teeth=(43, 42, 41, 31, 32, 33)").report
    assert report.undercut_width_mm == pytest.approx(0.081, abs=0.012) and report.goes_in is False


def test_pressed_too_deep_is_seen_on_the_tooth_that_it_is() -> None:
    """Two teeth planned deeper are told as deeper, the others not."""
    plan = "fine=24, deep_by={16: .9, 25: 1.1}, jaw='upper', rod_by={(11, 21): 2.0}"
    report = checked(plan).report
    deep = {tooth.tooth: round(tooth.depth_median_mm, 1) for tooth in report.teeth if tooth.depth_median_mm > 0.6}
    assert deep == {16: 0.9, 25: 1.1}
    thick = max(report.connectors, key=lambda one: one.area_mm2)
    assert thick.between == (11, 21) and thick.area_mm2 == pytest.approx(2 * np.pi * 1.43, rel=0.015)
