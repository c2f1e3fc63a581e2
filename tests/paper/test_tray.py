"""Labels of a whole case: tray, jaws, parts and bags, each read back by a decoder that did not write it (zxing-cpp)."""

from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from benchapp.actions.bench import Unknown
from benchapp.actions.cases import Opened, add_case
from benchapp.actions.remake import NewPart, remake_jaw
from benchapp.core.codes import spaced
from benchapp.core.sheet import read_sheet
from benchapp.paper import label as paper
from benchapp.paper.label import DPI, Label, draw, pdf
from benchapp.paper.tray import SOLE_USE, bag_label, case_labels, tray_label
from tests.actions.test_release import ASKED, SECOND
from tests.actions.whole import seat
from tests.actions.worked import PROTOCOL, UPPER, Worked, worked

WIDEST = "AWWMWWWWWW"  # W is the widest letter of the faces, M the next


def both(jaw: Worked, training: str = "false", order: str = "T-2") -> Opened:
    """Add a case with two jaws that lies in pan 12."""
    text = ASKED.format(training=training, jaw="upper", teeth=UPPER).replace("T-2026-0017", order) + SECOND
    return add_case(jaw.bench, read_sheet("case.toml", text.replace("[case]", '[case]\npan = "12"')), PROTOCOL)


def words(label: Label) -> str:
    """The words of a label as its PDF holds them."""
    return " ".join(pypdfium2.PdfDocument(pdf([label]))[0].get_textpage().get_text_bounded().split())


def test_a_case_has_all_its_labels_in_order(tmp_path: Path) -> None:
    """Tray first, then each jaw, its two parts and its bag; keys differ, codes are those of what they stick on."""
    with worked(tmp_path / "data") as jaw:
        opened = both(jaw)
        found = case_labels(jaw.bench, opened.code)
    upper, lower = opened.jaws
    each = ("jaw", "base", "arch", "bag")
    assert [one.words for one in found] == ["tray", *(f"{which} {of}" for which in ("upper", "lower") for of in each)]
    codes = [opened.code]
    for one in (upper, lower):
        codes += [one["code"], *(part["code"] for part in one["parts"]), one["code"]]
    assert [one.label.code for one in found] == codes
    assert len({one.key for one in found}) == len(found)


@pytest.mark.parametrize("dpi", DPI)
def test_tray_and_bag_are_read_back(dpi: int, tmp_path: Path) -> None:
    """At both resolutions a decoder reads from the tray's label the case, from the bag's the jaw."""
    with worked(tmp_path / "data") as jaw:
        found = case_labels(jaw.bench, both(jaw).code)
    for one in found:
        (seen,) = zxingcpp.read_barcodes(draw(one.label, dpi).convert("L"))
        assert (seen.text, seen.ec_level) == (one.label.code, "H")


def test_what_stands_on_tray_and_bag(tmp_path: Path) -> None:
    """Tray: code of the case, pan, patient, due, jaws. Bag: code of the jaw, patient, sole use, moist, lab."""
    with worked(tmp_path / "data") as jaw:
        opened = both(jaw)
        tray, *rest = (one.label for one in case_labels(jaw.bench, opened.code))
    assert words(tray) == f"{spaced(opened.code)} tray, pan 12 Żuraw 17 due 2026-12-01 upper + lower"
    upper = opened.jaws[0]["code"]
    assert words(rest[3]).startswith(f"{spaced(upper)} upper jaw Żuraw 17 sole use by this patient packed moist ")


def test_an_exercise_is_marked_on_every_label(tmp_path: Path) -> None:
    """Each label of a training case says TRAINING, none of another case does."""
    with worked(tmp_path / "data") as jaw:
        training, real = both(jaw, "true", "T-3"), both(jaw)
        assert all("TRAINING" in words(one.label) for one in case_labels(jaw.bench, training.code))
        assert not any("TRAINING" in words(one.label) for one in case_labels(jaw.bench, real.code))


@pytest.mark.parametrize("training", [0, 1])
@pytest.mark.parametrize("dpi", DPI)
def test_sole_use_is_never_shortened(dpi: int, training: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the widest code and names far too long, both lines of the sole use are drawn whole with all others.

    Annex XIII of Regulation (EU) 2017/745 asks for the statement.
    """
    case: dict[str, Any] = {"code": WIDEST, "due": "2026-12-01", "training": training}
    asked = bag_label(case, {"patient": "WWWWWWWW " * 9}, {"code": WIDEST, "jaw": "upper"}, "Mower & Wimmer " * 5)
    drawn: list[str] = []
    def spy(*args: Any) -> Any:
        rows = arranged(*args)
        drawn.extend(row.text for row in rows)
        assert rows[-1].baseline <= 22.0
        return rows

    arranged = paper.arrange
    monkeypatch.setattr(paper, "arrange", spy)
    picture = draw(asked, dpi)
    assert set(SOLE_USE.split("\n")) < set(drawn) and "packed moist" in drawn
    assert drawn[-1].startswith("TRAINING") == bool(training)
    assert [seen.text for seen in zxingcpp.read_barcodes(picture.convert("L"))] == [WIDEST]
    lowest = picture.convert("L").crop((0, picture.height - dpi // 26, picture.width, picture.height))
    assert lowest.getextrema() == (255, 255)


def test_a_tray_without_a_pan_and_a_long_one() -> None:
    """Without a pan the tray's label says so by leaving it out; a long one stays on the label and can be read."""
    case: dict[str, Any] = {"code": WIDEST, "due": "2026-12-01", "training": 0}
    assert tray_label(case, {"patient": "K-1"}, ["lower"]).title == "tray"
    long = tray_label(case, {"patient": "K-1", "pan": "shelf 4, green box behind the second door"}, ["lower"])
    picture: Image.Image = draw(long, 203)
    assert [seen.text for seen in zxingcpp.read_barcodes(picture.convert("L"))] == [WIDEST]
    assert "due 2026-12-01" in words(long) and words(long).endswith("lower")


def test_a_jaw_made_again_leaves_its_labels_to_its_follower(tmp_path: Path) -> None:
    """After a remake of a whole jaw only the new jaw has labels: an old bag must not be printed again."""
    new = {part: NewPart("C", f"P-{part}") for part in ("base", "arch")}
    with worked(tmp_path / "data") as jaw:
        jaw.run_to("cure-first-side")
        follower = remake_jaw(jaw.bench, seat(jaw, "Зоя Ким"), "1357", jaw.code, new, "does-not-seat", "lab")
        found = case_labels(jaw.bench, jaw.opened.code)
    assert [one.words for one in found] == ["tray", "upper jaw", "upper base", "upper arch", "upper bag"]
    assert [one.label.code for one in found if one.words in ("upper jaw", "upper bag")] == [follower] * 2
    assert "upper" in found[0].label.lines


def test_a_case_that_is_not_here(tmp_path: Path) -> None:
    """A code that no case has is refused in words."""
    with worked(tmp_path / "data") as jaw, pytest.raises(Unknown, match="No case has the code"):
        case_labels(jaw.bench, jaw.code)
