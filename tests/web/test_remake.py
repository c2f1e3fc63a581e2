"""A part, or a jaw, that is made again: new numbers, the old ones kept, and nothing that should not be."""

from pathlib import Path
from typing import Any

from benchapp.actions.cases import jaw_of_part
from benchapp.actions.jaws import line
from tests.actions.worked import CASE
from tests.web.desks import TECHNICIAN, Desk, desk

PART = {"what": "part", "part": "base", "base-revision": "C", "base-print_job": "P-200", "reason": "damaged",
        "bearer": "printing"}
JAW = {"what": "jaw", "base-revision": "C", "base-print_job": "P-201", "arch-revision": "C", "arch-print_job": "P-202",
       "reason": "does-not-seat", "bearer": "lab", "pin": "1357"}


def remake(at: Desk, form: dict[str, Any], status: int = 303) -> str:
    """Send the form of the jaw's remake page."""
    return at.post(f"/desk/jaw/{at.jaw.code}/remake", status, **form)


def test_a_new_base_takes_the_old_ones_place(tmp_path: Path) -> None:
    """The new base is make 2 with its own tag, the old one is kept as scrapped, and the jaw is read in again."""
    with desk(tmp_path / "data") as at:
        at.jaw.run_to("cut-back")
        old = next(p for p in at.jaw.line.jaw["parts"] if p["part"] == "base")
        remake(at, PART)
        jaw = at.jaw.line.jaw
        new = next(p for p in jaw["parts"] if p["part"] == "base")
        assert (new["make"], new["revision"], new["print_job"]) == (2, "C", "P-200")
        assert new["code"] != old["code"] and jaw["old_parts"] == [old]
        assert (at.jaw.line.state["now"], at.jaw.line.state["round"]) == ("part-check", 1)
        assert jaw_of_part(at.jaw.bench, new["code"]) == jaw_of_part(at.jaw.bench, old["code"]) == at.jaw.code
        assert "scrapped" in at.get(f"/desk/jaw/{at.jaw.code}/remake")


def test_a_jaw_that_was_not_read_in_yet_is_not_sent_back(tmp_path: Path) -> None:
    """Before part check a remake changes the part and nothing else."""
    with desk(tmp_path / "data") as at:
        remake(at, PART)
        assert (at.jaw.line.state["now"], at.jaw.line.state["round"]) == ("intake", 0)


def test_a_second_remake_counts_on(tmp_path: Path) -> None:
    """Makes count up, and every old part stays known."""
    with desk(tmp_path / "data") as at:
        remake(at, PART)
        remake(at, PART | {"base-print_job": "P-210"})
        jaw = at.jaw.line.jaw
        assert next(p["make"] for p in jaw["parts"] if p["part"] == "base") == 3
        assert [p["make"] for p in jaw["old_parts"]] == [1, 2]


def test_after_first_light_only_the_whole_jaw(tmp_path: Path) -> None:
    """A lit jaw gets a successor with its own code and parts of make 2; it is scrapped itself, and works no more."""
    with desk(tmp_path / "data") as at:
        assert "make the part again" in remake(at, JAW, 422)
        at.jaw.run_to("cure-first-side")
        assert "one body" in remake(at, PART, 422)
        remake(at, JAW)
        case = at.jaw.line.case
        new = next(j for j in case["jaws"] if j.get("follows") == at.jaw.code)
        assert at.jaw.line.state["ended"] == "scrap"
        follower = line(at.jaw.bench, new["code"])
        assert (follower.state["now"], [p["make"] for p in follower.jaw["parts"]]) == ("intake", [2, 2])
        assert follower.case["code"] == case["code"]
        assert at.client.get(f"/bench/{new['code']}").status_code == 200
        assert at.client.get(f"/record/{new['code']}").status_code == 200
        assert "made again already" in remake(at, JAW, 422)


def test_a_scrapped_jaw_gets_a_successor_without_a_second_scrap(tmp_path: Path) -> None:
    """What the bench scrapped is made again from the desk."""
    with desk(tmp_path / "data") as at:
        at.jaw.run_to("cure-first-side")
        who = at.seat().person.id
        body = {"person": who, "pin": "1357", "reason": "damaged"}
        assert at.client.post(f"/jaw/{at.jaw.code}/scrap", json=body).status_code == 200
        remake(at, {key: value for key, value in JAW.items() if key != "pin"})
        assert len(at.jaw.line.case["jaws"]) == 2


def test_a_wrong_pin_scraps_nothing_and_keeps_what_was_typed(tmp_path: Path) -> None:
    """The page comes back with the revision that was typed, the PIN gone, and the jaw as it was."""
    with desk(tmp_path / "data") as at:
        at.jaw.run_to("cure-first-side")
        text = remake(at, JAW | {"pin": "9999", "base-revision": "<script>C"}, 422)
        assert "&lt;script&gt;C" in text and "<script>C" not in text and "9999" not in text
        assert at.jaw.line.state["ended"] == ""


def test_only_sound_reasons_and_people(tmp_path: Path) -> None:
    """A reason that is no tile, nobody who bears it, or no print job changes nothing; a technician scraps no jaw."""
    with desk(tmp_path / "data") as at:
        for wrong in ({"reason": "because"}, {"bearer": "me"}, {"base-print_job": " "}, {"part": "tooth"}):
            remake(at, PART | wrong, 422)
        at.jaw.run_to("cure-first-side")
        at.sit(*TECHNICIAN)
        assert "takes a supervisor" in remake(at, JAW | {"pin": "2468"}, 422)
        assert "old_parts" not in at.jaw.line.jaw and at.jaw.line.state["ended"] == ""


def test_a_held_jaw_is_read_in_again_too(tmp_path: Path) -> None:
    """Held because a part is wrong, a jaw goes on with the new part, at part check; nothing refused is left behind."""
    with desk(tmp_path / "data") as at:
        at.jaw.run_to("lay-out")
        at.jaw.fact("hold", picks={"reason": "part-not-right"})
        remake(at, PART)
        state = at.jaw.line.state
        assert (state["now"], state["held"], state["marks"]) == ("part-check", 0, [])


def test_a_jaw_that_waits_for_a_decision_is_not_remade(tmp_path: Path) -> None:
    """While an allergy is not decided, no part is made again, and the page says what it waits for."""
    with desk(tmp_path / "data", case=CASE.replace('"none stated"', '"yes"')) as at:
        assert "licensed professional" in remake(at, PART, 422)
        assert at.jaw.line.state["held"] == 1 and "old_parts" not in at.jaw.line.jaw
