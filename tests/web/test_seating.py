"""The page of a jaw's seating check without a browser: what it says with a report and without, and its two files."""

import html
import io
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
import trimesh
from flask.testing import FlaskClient

from benchapp.core.codes import spaced
from benchapp.core.findings import CUTS, how_deep
from benchapp.seating.report import schema
from benchapp.web.app import create_app
from benchapp.web.seating_page import SeatingPage
from tests.actions.checked import checked
from tests.actions.worked import CASE
from tests.core.test_stops import place
from tests.seating.made import SMALL
from tests.speech import speaking, unspoken
from tests.web.clients import app_over
from tests.web.desks import TECHNICIAN, desk
from tests.web.seated import shown, small_seating


@pytest.fixture(scope="module")
def seating(tmp_path_factory: pytest.TempPathFactory) -> SeatingPage:
    """A check of six lower front teeth."""
    return small_seating(tmp_path_factory.mktemp("pictures"))


@pytest.fixture
def page(tmp_path: Path, seating: SeatingPage) -> Iterator[tuple[FlaskClient, str]]:
    """A client, and the code of the jaw that has this check."""
    with shown(tmp_path / "data", seating) as jaw, app_over(jaw.bench) as app:
        yield app.test_client(), jaw.code


def test_every_number_of_the_report_stands_in_the_tables(page: tuple[FlaskClient, str], seating: SeatingPage) -> None:
    """Each tooth and connector has its row with the report's own numbers; the files are named by their hashes."""
    client, code = page
    report, text = seating.report, html.unescape(client.get(f"/bench/{code}/seating").text)
    assert report is not None
    jsonschema.validate(report, schema())
    for tooth in report["teeth"]:
        row = re.findall(rf'<tr data-row="{tooth["tooth"]}">.*?</tr>', text, re.S)
        numbers = re.findall(r"<td>([^<]*)", row[0])
        sides = [tooth["depth_by_side_mm"][side] for side in ("buccal", "lingual", "mesial", "distal")]
        told = [tooth["depth_median_mm"], tooth["depth_max_mm"], *sides, tooth["crest_depth_median_mm"],
                tooth["gap_median_mm"], tooth["gap_volume_ml"] * 1000, tooth["bond_area_mm2"]]
        assert [float(one) for one in numbers] == pytest.approx(told, abs=0.051)
    for one in report["connectors"]:
        assert f'data-row="{one["between"][0]}-{one["between"][1]}"' in text
    assert all(mesh["sha256"] in text for mesh in report["meshes"].values())
    assert "2 drops" in text and "2 teeth deeper than is wanted" in text and "Answered: Tried, fits · Somebody" in text


def test_what_the_journal_holds_of_a_check(tmp_path: Path, seating: SeatingPage) -> None:
    """Attached, checked and answered: the page has the finding, its answer with who and when, cuts, pictures."""
    report = {**(seating.report or {}), "goes_in": False, "undercut_width_mm": 0.31,
              "undercuts": [place(42, "lingual", 0.31), place(None, None, 0.06)]}
    with desk(tmp_path / "data", case=CASE.replace("{teeth}", str(list(SMALL))), jaw="lower") as at:
        checked(at.jaw, report)
        where, key = f"/desk/jaw/{at.jaw.code}/seating", at.jaw.bench.checks.begun[0]
        text = html.unescape(at.get(where))
        assert ("The arch does not go in: base stands above it, up to 0.31 mm wide, at 42 lingual, "
                "point 12.0 −3.2 40.5 of the files") in text
        assert re.findall(r'data-spot="(stop-.)"><b>(.*?)</b> <span>(.*?)<', text) == [
            ("stop-1", "42 lingual", "base stands above the arch, 0.31 mm wide"),
            ("stop-2", "point 12.0 −3.2 40.5 of the files", "base stands above the arch, 0.06 mm wide"),
        ]
        assert text.count('class="cross" data-stop="stop-1"') == 4 and 'data-stop="stop-2"' not in text
        assert "Not answered yet: at part check." in text and "Do not force it" in text
        assert "There is no picture of this check." in text
        at.jaw.sign_in(*TECHNICIAN)
        while at.jaw.line.state["now"] != "part-check":
            at.jaw.main()
        parts = at.jaw.extra("part-check")["picks"]
        at.jaw.say("parts-right", ["-"], picks=parts | {"seating-no-way": "tried-and-fits"})
        folder = tmp_path / "data" / "seating"
        for ending in ("glb", "png"):
            (folder / f"{key}.{ending}").write_bytes(b"picture")
        pictures = {"pictures": ["glb", "png"]}
        (folder / f"{key}.json").write_text(json.dumps({"report": report, "faults": []} | pictures))
        text = html.unescape(at.get(where))
        assert f"Answered: Tried dry, and fits · {TECHNICIAN[0]}, 2026-11-24" in text
        assert 'data-do="solid"' in text and f"/seating/{at.jaw.code}.png" in text
        assert at.client.get(f"/seating/{at.jaw.code}.glb", buffered=True).data == b"picture"
        cut = next(one for one in report["connectors"] if one["between"] == [42, 41])
        word = CUTS[how_deep(cut["cut_depth_mm"], cut["height_mm"])]
        assert f"<td>{word}</td>" in re.findall(r'<tr data-row="42-41">.*?</tr>', text, re.S)[0]


def test_parts_that_lie_in_each_other_say_so_at_the_top(tmp_path: Path, seating: SeatingPage) -> None:
    """Where it is not known whether the arch goes in since the parts overlap, that stands beside it, with the caution
    not to force it and every place; a pair that goes in says nothing of it, one that may be stopped says so."""
    assert seating.report is not None
    inside = {"goes_in": None, "overlap_mm3": 1.2, "undercut_width_mm": None, "overlaps": [place(42, None, 0.2)]}
    texts = []
    unsure = {"goes_in": None, "undercut_width_mm": 0.06, "undercuts": [place(42, "lingual", 0.06)]}
    for at, report in enumerate((seating.report | inside, seating.report, seating.report | unsure)):
        with shown(tmp_path / str(at), replace(seating, report=report)) as jaw:
            texts.append(create_app(jaw.bench).test_client().get(f"/bench/{jaw.code}/seating").text)
    assert "<b>not known</b> <small>base and arch lie in each other</small>" in texts[0]
    assert "Do not force it" in texts[0] and "0.20 mm deep in each other" in texts[0]
    assert "Where the arch is stopped" in texts[0] and "Where they come nearest" in texts[1]
    assert "Where the arch may be stopped" in texts[2]
    assert "lie in each other" not in texts[1] and "Do not force it" not in texts[1]


def test_a_hostile_word_is_shown_and_never_run(tmp_path: Path, seating: SeatingPage) -> None:
    """Warnings and answers are escaped, and what is not known is said to be so."""
    assert seating.report is not None
    nasty = "<script>ran()</script>"
    teeth = [seating.report["teeth"][0] | {"depth_median_mm": None, "intervals": {}}, *seating.report["teeth"][1:]]
    report = {**seating.report, "warnings": [nasty], "goes_in": None, "resin_ml": None, "teeth": teeth}
    with shown(tmp_path / "data", replace(seating, report=report, said=(nasty,))) as jaw:
        text = create_app(jaw.bench).test_client().get(f"/bench/{jaw.code}/seating").text
    assert "<script>ran" not in text and text.count(html.escape(nasty)) == 2
    assert "tooth 43: Depth not known" in text and "not known" in text


def test_without_a_report_it_says_how_it_stands(tmp_path: Path) -> None:
    """A jaw without files has a page at the bench and at the desk that says so, and no pictures; no code is guessed."""
    with desk(tmp_path / "data") as at:
        for where in (f"/bench/{at.jaw.code}/seating", f"/desk/jaw/{at.jaw.code}/seating"):
            text = at.get(where)
            assert "The seating check is made from the design files" in text and "No design file is attached." in text
        for ending in ("glb", "png"):
            at.get(f"/seating/{at.jaw.code}.{ending}", 409)
        at.get("/bench/1234567890/seating", 404)
        checked(at.jaw, faults=("The files are cut off.",))
        assert "These files cannot be checked:" in at.get(where) and "The files are cut off." in at.get(where)


def test_every_word_comes_from_the_catalogue(page: tuple[FlaskClient, str], seating: SeatingPage) -> None:
    """In a made-up language nothing but numbers, units, hashes and the case's own words stands outside its brackets."""
    client, code = page
    own = ["mm", "mm²", "mm³", "ml", "µl", "Żuraw 17", spaced(code), *(one.words for one in seating.findings)]
    own += ["Tried, fits", "Somebody", "half", *(mesh["sha256"] for mesh in (seating.report or {})["meshes"].values())]
    own += (seating.report or {})["warnings"]  # in the words in which the check was made
    with speaking():
        text = client.get(f"/bench/{code}/seating").text
    said = json.loads(re.findall(r'id="seat-data">(.*?)</script>', text, re.S)[0])
    assert unspoken(text, own) == []
    assert all("⟦" in words for words in (*said["words"].values(), *said["solid"]["words"].values()))


def test_the_pictures_are_the_checks_own(page: tuple[FlaskClient, str]) -> None:
    """The GLB that is sent is read by an independent library (trimesh) as base and arch; the PNG is one."""
    client, code = page
    solid = client.get(f"/seating/{code}.glb", buffered=True)
    assert solid.mimetype == "model/gltf-binary"
    scene = trimesh.load(io.BytesIO(solid.data), file_type="glb")
    assert set(scene.geometry) == {"base", "arch"}
    assert client.get(f"/seating/{code}.png", buffered=True).data.startswith(b"\x89PNG")
    again = client.get(f"/seating/{code}.glb", headers={"If-None-Match": solid.headers["ETag"]}, buffered=True)
    assert again.status_code == 304
