"""What the seating check tells the hands: findings, cuts, places to watch, drops."""

import re
from itertools import pairwise
from typing import Any

import pytest

from benchapp.core.findings import PICK, cuts, drops, findings, how_deep, watched, written
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.protocol_seating import SeatingLimits
from tests.core.test_protocol import DEFAULT, faults_of, with_change

# The protocol that ships, without a word about the seating check.
_SAID = (r"\[seating\]\n.*?\n\n", r'seating = "\w+"\n', r'\[\[reasons\]\][^\[]*?\nasked = \["finding"\]\n')
BARE = re.sub("|".join(_SAID), "", DEFAULT, flags=re.DOTALL)
TEETH = (16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26)


def report(**over: Any) -> dict[str, Any]:
    """Return the least of a report: depth and gap by tooth, connectors as (section, cut, height)."""
    depths, gaps = over.pop("depths", {}), over.pop("gaps", {})
    joints = over.pop("joints", {})
    row: tuple[int, ...] = over.pop("row", TEETH)
    return {
        "teeth": [
            {"tooth": t, "depth_median_mm": depths.get(t, 0.5), "gap_median_mm": gaps.get(t, 0.1)} for t in row
        ],
        "connectors": [
            dict(zip(("area_mm2", "cut_depth_mm", "height_mm"), joints.get(a, (4.0, 1.0, 4.0)), strict=True))
            | {"between": [a, b], "at_limit": False}
            for a, b in pairwise(row)
        ],
        "least_clearance_mm": 0.08, "overlap_mm3": 0.0, "undercut_width_mm": 0.0, "goes_in": True,
    } | over


def limits(**keys: Any) -> SeatingLimits:
    """Return limits of the lab from the plain data of a file."""
    return SeatingLimits.model_validate({name: value | {"source": "lab"} for name, value in keys.items()})


def of(text: str) -> SeatingLimits:
    """Return the limits of a protocol file with these lines under [seating]."""
    found = read_protocol("x", with_change(BARE, "# --- hazards", f"[seating]\n{text}\n# --- hazards")).seating
    assert found is not None
    return found


def test_six_deep_teeth_are_one_finding_in_row_order() -> None:
    """All teeth deeper than the lab's limit are one finding; the limit itself still fits."""
    deep = dict.fromkeys((16, 15, 14, 24, 25, 26), 0.9) | {11: 0.7}
    found = findings(report(depths=deep), of('depth = { most = 0.7, source = "lab" }'), TEETH)
    assert [f.words for f in found] == ["6 teeth deeper than 0.7 mm: 16 15 14 24 25 26"]
    assert (found[0].places, found[0].source, found[0].pick) == (("16", "15", "14", "24", "25", "26"), "lab",
                                                                 PICK + "deep")


def test_one_finding_for_each_kind() -> None:
    """Too deep, not deep enough, thick and slight connectors, and parts that come too close are told apart."""
    seen = report(depths={16: 0.9, 26: 0.1}, joints={16: (9.0, 3.0, 5.0), 25: (1.0, 0.0, 2.0)}, least_clearance_mm=.01)
    wanted = of('depth = { least = 0.3, most = 0.8, source = "lab" }\n'
                'connector = { least = 2, most = 6, source = "lab" }\n'
                'clearance = { least = 0.03, source = "cp" }')
    assert [(f.kind, f.words) for f in findings(seen, wanted, TEETH)] == [
        ("deep", "1 tooth deeper than 0.8 mm: 16"), ("shallow", "1 tooth less deep than 0.3 mm: 26"),
        ("thick", "1 connector thicker than 6 mm²: 16-15"), ("slight", "1 connector thinner than 2 mm²: 25-26"),
        ("close", "Base and arch come within 0.01 mm; 0.03 mm is the least"),
    ]


def test_an_arch_in_pieces_needs_no_limit() -> None:
    """Where nothing joins two teeth that is a finding of its own, not a slight connector; without numbers too."""
    seen = report(joints={16: (0.0, 0.0, 0.0), 11: (0.0, 0.0, 0.0), 25: (1.0, 0.0, 2.0)})
    (bare,) = findings(seen, None, TEETH)
    assert (bare.kind, bare.words) == ("pieces", "The arch is in pieces: nothing joins it at 16-15 11-21")
    assert bare.places == ("16-15", "11-21") and bare.source == ""
    wanted = of('connector = { least = 2, source = "lab" }')
    assert [one.words for one in findings(seen, wanted, TEETH, "universal")] == [
        "The arch is in pieces: nothing joins it at 3-4 8-9", "1 connector thinner than 2 mm²: 13-14"]
    nameless = report() | {"connectors": [one | {"between": [None, None]} for one in seen["connectors"]]}
    assert [one.words for one in findings(nameless, None, TEETH)] == ["The arch is in pieces that nothing joins"]


def test_universal_numbers_are_only_shown() -> None:
    """Words follow the numbers that the lab chose, the stored places stay ISO 3950 (16 is 3, 26 is 14)."""
    wanted = of('depth = { most = 0.7, source = "lab" }')
    found = findings(report(depths={16: 0.9, 26: 0.9}), wanted, TEETH, "universal")
    assert found[0].words == "2 teeth deeper than 0.7 mm: 3 14" and found[0].places == ("16", "26")


def test_what_does_not_go_in_needs_no_limit() -> None:
    """An undercut, or parts that lie in each other, are findings whatever the lab has set; teeth that differ too."""
    stuck = report(goes_in=False, undercut_width_mm=0.324)
    inside = report(goes_in=None, overlap_mm3=1.25, undercut_width_mm=None)
    assert [f.words for f in findings(stuck, None, TEETH)] == [
        "The arch does not go in: base stands above it, up to 0.32 mm wide"
    ]
    assert [f.kind for f in findings(inside, None, TEETH)] == ["overlap"]
    assert [f.kind for f in findings(report(), None, TEETH[1:])] == ["other-teeth"]
    assert findings(report(), None, TEETH) == ()


def test_what_is_not_known_is_no_finding() -> None:
    """A number that is null lies neither inside nor outside a limit."""
    blank = report(depths={16: None}, gaps={16: None}, least_clearance_mm=None, overlap_mm3=None, goes_in=None)
    wanted = of('depth = { least = 0.3, most = 0.8, source = "lab" }\nclearance = { least = 0.03, source = "lab" }')
    assert findings(blank, wanted, TEETH) == () and watched(blank, wanted) == ()


@pytest.mark.parametrize(
    ("cut", "height", "how"), [(0, 4, "none"), (1, 4, "light"), (2, 4, "half"), (3, 4, "deep"), (1, 0, "none")]
)
def test_a_cut_in_a_word(cut: float, height: float, how: str) -> None:
    """Thirds of the connector's height: common practice, no source."""
    assert how_deep(cut, height) == how


def test_cuts_know_their_place() -> None:
    """A connector has the stored name of its place; one between teeth that are not known has none and is left out."""
    seen = report(row=(16, 15, None, 13))
    assert [(c.place, c.how, c.depth_mm) for c in cuts(seen)] == [("16-15", "light", 1.0)]


def test_thin_and_wide_gaps_are_watched_on_both_sides() -> None:
    """Both margins of a tooth whose gap is outside, or that sits too deep, ask for a tap of their own."""
    seen = report(gaps={16: 0.02, 25: 0.4}, depths={11: 0.9})
    wanted = of('gap = { least = 0.05, most = 0.3, source = "lab" }\ndepth = { most = 0.8, source = "lab" }')
    assert watched(seen, wanted) == ("m16b", "m16l", "m11b", "m11l", "m25b", "m25l")
    assert watched(seen, None) == ()


def test_drops_are_never_too_few() -> None:
    """20 drops a ml, the round figure of pharmacy (from memory); what is left over is one more."""
    assert [drops(1.0, 20), drops(0.51, 20), drops(0.0, 20), drops(None, 20), drops(0.5, 0)] == [20, 11, 0, None, None]


def test_numbers_are_rounded_half_to_even() -> None:
    """ISO 80000-1, annex B: the rounding rule A takes the even digit."""
    assert [written(v) for v in (0.125, 0.135, 2.0, 10.0)] == ["0.12", "0.14", "2", "10"]


def test_faults_of_limits_are_said() -> None:
    """Numbers out of order, none at all, a cut of nothing, and no such source: each at its place."""
    text = '''[seating]
depth = { least = 0.8, most = 0.3, source = "lab" }
connector = { source = "lab" }
cut = { leave = 0, kerf = 0.3, source = "lab" }
# --- hazards'''
    assert [where for where, _, _ in faults_of(with_change(BARE, "# --- hazards", text))] == [
        "seating.depth", "seating.connector", "seating.cut",
    ]
    strange = text.splitlines()[0] + '\ngap = { least = 0.05, source = "nobody" }\n# --- hazards'
    found = faults_of(with_change(BARE, "# --- hazards", strange))
    assert [where for where, _, _ in found] == ["seating.gap.source"]


def test_findings_are_answered_at_one_step_with_a_tile() -> None:
    """Two steps that ask for answers, and no tile to answer with, are faults."""
    text = with_change(BARE, 'picture = "pack"\n', 'picture = "pack"\nseating = "answers"\n')
    twice = with_change(text, 'picture = "clean"\n', 'picture = "clean"\nseating = "answers"\n')
    assert [(where, what) for where, what, _ in faults_of(twice) if "seating" in where or where == "reasons"][-1] == (
        "steps[pack-up].seating", "findings are answered once",
    )
