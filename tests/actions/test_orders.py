"""Orders after they were accepted: corrections, cancelling, a decision on an allergy, lists; cases at a glance."""

from datetime import date
from pathlib import Path

import pytest

from benchapp.actions.bench import Refused, Unknown
from benchapp.actions.cases import add_case, orders_known
from benchapp.actions.desk import NotYours, Seat, store
from benchapp.actions.editions import in_force
from benchapp.actions.finding import by_number, search
from benchapp.actions.jaws import case_as_it_is, line
from benchapp.actions.lab import people
from benchapp.actions.order_story import order_story
from benchapp.actions.orders import (
    Correction,
    cancel,
    correct,
    csv_map,
    decide,
    import_orders,
    keep_csv_map,
    reopen,
)
from benchapp.actions.overview import CaseGlance, case_glance, case_glances, jaws_in_work
from benchapp.actions.records import record_of
from benchapp.core.faults import FileFaults
from benchapp.core.orders import guess, read_rows, read_table
from benchapp.core.sheet import read_sheet
from tests.actions.worked import Worked, worked

PAIR = """
format = 1
[case]
patient = "{patient}"
prescriber = "Practice at the weir"
order = "{order}"
kind = "new"
due = {due}
shade = "light"
tint = "rose"
allergy = "{allergy}"
pan = "{pan}"
opposing = "natural teeth"
"""
JAW = """
[[jaws]]
jaw = "{jaw}"
teeth = {teeth}
parts = [{{ part = "base", revision = "A", print_job = "J-1" }}, {{ part = "arch", revision = "A", print_job = "J-2" }}]
"""
BOTH = JAW.format(jaw="upper", teeth="[11, 21]") + JAW.format(jaw="lower", teeth="[41, 31]")


def pair(jaw: Worked, order: str = "B-1", patient: str = "P-2", due: str = "2026-11-20", allergy: str = "no",
         pan: str = "12") -> str:
    """Take in a case of two jaws; return its code."""
    text = PAIR.format(order=order, patient=patient, due=due, allergy=allergy, pan=pan) + BOTH
    return add_case(jaw.bench, read_sheet("pair.toml", text), in_force(jaw.bench)[0]).code


def seat(jaw: Worked, role: str = "supervisor") -> Seat:
    """Return a seat of somebody with this role, and no supervisor where another role is asked."""
    return Seat(next(p for p in people(jaw.bench) if (role in p.roles) and (role == "supervisor") == (
        "supervisor" in p.roles)))


def glance(jaw: Worked, code: str) -> CaseGlance:
    """Return a case at a glance."""
    found = case_glance(jaw.bench, code)
    assert found is not None
    return found


def fix(**fields: str) -> Correction:
    """Return a correction of plain fields, and of texts by their names."""
    texts = {"patient", "prescriber", "order", "pan", "marking_words"}
    return Correction({n: v for n, v in fields.items() if n not in texts},
                      {n: v for n, v in fields.items() if n in texts}, {})


def test_what_a_sheet_adds_lands_in_the_case(tmp_path: Path) -> None:
    """Pan, surgery, other jaw and mark are stored; words apart from the journal, and none where nothing was said."""
    with worked(tmp_path / "d") as jaw:
        text = PAIR.format(order="B-1", patient="P-2", due="2026-11-20", allergy="no", pan="12") + (
            'surgery = 2026-11-19\nmarking = "yes"\nmarking_words = "AB 7"\n') + BOTH
        code = add_case(jaw.bench, read_sheet("x", text), in_force(jaw.bench)[0]).code
        case = case_as_it_is(jaw.bench.store, code)
        assert (case["surgery"], case["opposing"], case["marking"], case["bite"]) == (
            "2026-11-19", "natural teeth", "yes", "")
        assert {name: jaw.bench.store.text(text) for name, text in case["texts"].items()} == {
            "patient": "P-2", "prescriber": "Practice at the weir", "order": "B-1", "pan": "12",
            "marking_words": "AB 7"}
        body = jaw.bench.store.first_tagged("case", code)
        assert body is not None and b"AB 7" not in body.body and b"P-2" not in body.body
        assert set(case_as_it_is(jaw.bench.store, jaw.opened.code)["texts"]) == {"patient", "prescriber", "order"}


def test_a_correction_is_on_the_record_and_the_old_value_stays_in_the_story(tmp_path: Path) -> None:
    """Shade, due day, patient, pan and a part's revision change; the record says the new, the story the old and who."""
    with worked(tmp_path / "d") as jaw:
        assert record_of(jaw.bench, jaw.code).identity.shade == "light 2"
        part = jaw.opened.jaws[0]["parts"][0]["code"]
        wanted = Correction({"shade": "light 3", "due": "2026-12-24", "tint": "rose 2"},
                            {"patient": "Żuraw 18", "pan": " 7 ", "order": "T-2026-0017"}, {part: {"revision": "C"}})
        changed = correct(jaw.bench, seat(jaw), jaw.opened.code, wanted)
        assert changed[:-1] == ["Tooth shade", "Due", "Patient", "Pan"]
        identity = record_of(jaw.bench, jaw.code).identity
        assert (identity.shade, identity.due, identity.patient) == ("light 3", "2026-12-24", "Żuraw 18")
        assert [p.revision for p in identity.parts] == ["C", "B"]
        story = order_story(jaw.bench, jaw.opened.code)
        assert [change.what for change in story] == ["Accepted", "Corrected"]
        assert story[1].person == "Зоя Ким" and story[1].when == jaw.now[0]
        assert ("Tooth shade", "light 2", "light 3") in story[1].lines and ("Pan", "", "7") in story[1].lines
        assert ("Patient", "Żuraw 17", "Żuraw 18") in story[1].lines
        assert any("revision" in title and (old, new) == ("B", "C") for title, old, new in story[1].lines)


def test_correcting_nothing_stores_nothing(tmp_path: Path) -> None:
    """A form that is sent as it was leaves the journal as it was."""
    with worked(tmp_path / "d") as jaw:
        before = jaw.bench.store.tip()
        assert correct(jaw.bench, seat(jaw), jaw.opened.code, fix(shade="light 2", patient="Żuraw 17", pan="")) == []
        assert jaw.bench.store.tip() == before


def test_an_erased_name_that_is_sent_back_as_shown_is_no_correction(tmp_path: Path) -> None:
    """The form shows "(erased)"; sent as it is, that word never becomes the patient."""
    with worked(tmp_path / "d") as jaw:
        patient = case_as_it_is(jaw.bench.store, jaw.opened.code)["texts"]["patient"]
        with jaw.bench.store.writing() as writer:
            writer.erase_text(patient)
        before = jaw.bench.store.tip()
        assert correct(jaw.bench, seat(jaw), jaw.opened.code, fix(patient="(erased)")) == []
        assert jaw.bench.store.tip() == before


@pytest.mark.parametrize(("fields", "where"), [
    ({"due": "soon"}, "Due"), ({"due": ""}, "Due"), ({"shade": ""}, "Tooth shade"), ({"patient": " "}, "Patient"),
    ({"kind": "old"}, "Kind"), ({"opposing": "rock"}, "Other jaw"), ({"pan": "x" * 81}, "Pan"),
    ({"surgery": "31.02.2031"}, "Surgery"), ({"allergy": "perhaps"}, "Allergy"),
])
def test_a_bad_correction_changes_nothing(fields: dict[str, str], where: str, tmp_path: Path) -> None:
    """A value that the case sheet would refuse is refused here too, at its title."""
    with worked(tmp_path / "d") as jaw:
        before = jaw.bench.store.tip()
        with pytest.raises(FileFaults) as caught:
            correct(jaw.bench, seat(jaw), jaw.opened.code, fix(**fields))
        assert [fault.where for fault in caught.value.faults] == [where]
        assert jaw.bench.store.tip() == before


def test_a_released_jaw_is_amended_instead(tmp_path: Path) -> None:
    """Once a jaw is released, neither a correction nor cancelling changes what its record says."""
    with worked(tmp_path / "d") as jaw:
        with jaw.bench.store.writing() as writer:
            store(jaw.bench, writer, seat(jaw), "release", jaw=jaw.code)
        for act in (lambda: correct(jaw.bench, seat(jaw), jaw.opened.code, fix(shade="dark")),
                    lambda: cancel(jaw.bench, seat(jaw), jaw.opened.code, "No longer wanted")):
            with pytest.raises(Refused, match="Amend the record"):
                act()
        assert case_as_it_is(jaw.bench.store, jaw.opened.code)["shade"] == "light 2"


def test_an_order_cannot_become_another_cases(tmp_path: Path) -> None:
    """The number and patient of another case are refused, and free again once that one was corrected."""
    with worked(tmp_path / "d") as jaw:
        code = pair(jaw)
        wanted = fix(order="T-2026-0017", patient="Żuraw 17")
        with pytest.raises(Refused, match="already"):
            correct(jaw.bench, seat(jaw), code, wanted)
        correct(jaw.bench, seat(jaw), jaw.opened.code, fix(order="T-2026-0099"))
        assert correct(jaw.bench, seat(jaw), code, wanted) == ["Order", "Patient"]
        assert orders_known(jaw.bench.store)["T-2026-0017", "Żuraw 17"] == code


def test_cancel_holds_every_jaw_and_reopen_leaves_them_held(tmp_path: Path) -> None:
    """Each jaw in work goes on hold and takes no step; after the case goes on, a tap at the bench frees the jaw."""
    with worked(tmp_path / "d") as jaw:
        jaw.run_to("dry-fit")
        cancel(jaw.bench, seat(jaw), jaw.opened.code, "  Ordered   twice ")
        found = glance(jaw, jaw.opened.code)
        assert found.cancelled and not found.open and not found.late
        assert [(j.held, j.hold_reason) for j in found.jaws] == [(True, "cancel")]
        assert jaws_in_work(jaw.bench) == []
        jaw.main()
        assert jaw.line.state["now"] == "dry-fit" and jaw.line.state["marks"][-1]["why"] == "held"
        with pytest.raises(Refused, match="cancelled already"):
            cancel(jaw.bench, seat(jaw), jaw.opened.code, "again")
        reopen(jaw.bench, seat(jaw), jaw.opened.code)
        found = glance(jaw, jaw.opened.code)
        assert found.open and found.jaws[0].held
        with pytest.raises(Refused, match="not cancelled"):
            reopen(jaw.bench, seat(jaw), jaw.opened.code)
        jaw.fact("resume")
        jaw.main()
        assert jaw.line.state["now"] == "cut-back"
        words = [change.words for change in order_story(jaw.bench, jaw.opened.code)]
        assert words == ["", "Why: Ordered twice", ""]


def test_a_scrapped_or_packed_jaw_is_not_held_by_cancelling(tmp_path: Path) -> None:
    """A jaw that has ended stays as it is: cancelling a case whose work is done adds no hold."""
    with worked(tmp_path / "d") as jaw:
        jaw.run_to()
        cancel(jaw.bench, seat(jaw), jaw.opened.code, "Not needed")
        assert jaw.line.state["ended"] == "through" and not jaw.line.state["held"]
        assert jaw.bench.store.tagged("kind", "hold") == []


def test_a_stated_allergy_waits_for_the_decision(tmp_path: Path) -> None:
    """Both jaws are held; "does not go on" leaves them, "goes on" frees both; the story names who decided and when."""
    with worked(tmp_path / "d") as jaw:
        code = pair(jaw, allergy="yes")
        found = glance(jaw, code)
        assert found.undecided and [(j.held, j.hold_reason) for j in found.jaws] == [(True, "allergy")] * 2
        assert decide(jaw.bench, seat(jaw), code, "Dr. Nobody", "2026-11-24", False) == []
        found = glance(jaw, code)
        assert not found.undecided and all(j.held for j in found.jaws)
        gone = decide(jaw.bench, seat(jaw), code, "Dr. Nobody", "24.11.2026", True)
        assert gone == [j.code for j in found.jaws]
        assert not any(j.held for j in glance(jaw, code).jaws)
        assert [line(jaw.bench, one).state["marks"] for one in gone] == [[], []]
        assert [change.words for change in order_story(jaw.bench, code)][1:] == [
            "Decided by Dr. Nobody on 2026-11-24: work does not go on",
            "Decided by Dr. Nobody on 2026-11-24: work goes on"]


def test_a_jaw_held_for_something_else_is_not_freed_by_the_decision(tmp_path: Path) -> None:
    """A jaw that somebody put on hold at the bench stays there, whatever was decided on the allergy."""
    with worked(tmp_path / "d") as jaw:
        correct(jaw.bench, seat(jaw), jaw.opened.code, fix(allergy="yes"))
        assert glance(jaw, jaw.opened.code).jaws[0].hold_reason == "allergy"
        jaw.fact("resume")
        jaw.fact("hold", picks={"reason": "ask-the-clinic"})
        found = glance(jaw, jaw.opened.code)
        assert (found.jaws[0].hold_reason, found.jaws[0].hold_words) == ("ask-the-clinic", "The clinic must answer")
        assert decide(jaw.bench, seat(jaw), jaw.opened.code, "Dr. Nobody", "2026-11-24", True) == []
        assert jaw.line.state["held"] == 1


def test_an_allergy_that_is_stated_later_holds_and_is_not_taken_back(tmp_path: Path) -> None:
    """Corrected to yes, every jaw in work goes on hold; back to no is refused, since only a decision frees it."""
    with worked(tmp_path / "d") as jaw:
        jaw.run_to("dry-fit")
        correct(jaw.bench, seat(jaw), jaw.opened.code, fix(allergy="yes"))
        assert jaw.line.state["held"] == 1 and jaw.line.case["allergy"] == "yes"
        with pytest.raises(FileFaults, match="not taken back"):
            correct(jaw.bench, seat(jaw), jaw.opened.code, fix(allergy="no"))
        assert decide(jaw.bench, seat(jaw), jaw.opened.code, "Dr. Nobody", "2026-11-24", True) == [jaw.code]
        jaw.main()
        assert jaw.line.state["now"] == "cut-back"


def test_a_decision_does_not_free_a_cancelled_case(tmp_path: Path) -> None:
    """While the case is cancelled the decision is kept, and the jaws stay on hold."""
    with worked(tmp_path / "d") as jaw:
        code = pair(jaw, allergy="yes")
        cancel(jaw.bench, seat(jaw), code, "Patient withdrew")
        assert decide(jaw.bench, seat(jaw), code, "Dr. Nobody", "2026-11-24", True) == []
        assert all(j.held for j in glance(jaw, code).jaws) and not glance(jaw, code).undecided


@pytest.mark.parametrize(("by", "on", "words"), [
    ("", "2026-11-24", "Decided by"), ("Dr. Nobody", "", "no day"), ("Dr. Nobody", "2026-11-25", "still to come"),
    ("x" * 81, "2026-11-24", "longer than 80"), ("Dr. Nobody", "1999-01-01", "no day"),
])
def test_a_decision_without_who_or_when_is_refused(by: str, on: str, words: str, tmp_path: Path) -> None:
    """Somebody must have decided, on a day that has come; nothing goes off hold otherwise."""
    with worked(tmp_path / "d") as jaw:
        code = pair(jaw, allergy="yes")
        before = jaw.bench.store.tip()
        with pytest.raises(FileFaults, match=words):
            decide(jaw.bench, seat(jaw), code, by, on, True)
        assert jaw.bench.store.tip() == before and all(j.held for j in glance(jaw, code).jaws)


def test_only_those_who_may_change_an_order(tmp_path: Path) -> None:
    """A technician corrects but neither cancels, reopens, decides nor imports; an unknown case is said to be so."""
    with worked(tmp_path / "d") as jaw:
        hand, code, before = seat(jaw, "technician"), jaw.opened.code, jaw.bench.store.tip()
        for act in (lambda: cancel(jaw.bench, hand, code, "x"), lambda: reopen(jaw.bench, hand, code),
                    lambda: decide(jaw.bench, hand, code, "x", "2026-11-24", True),
                    lambda: import_orders(jaw.bench, hand, []), lambda: keep_csv_map(jaw.bench, hand, {})):
            with pytest.raises(NotYours):
                act()
        with pytest.raises(Unknown):
            correct(jaw.bench, hand, "0000000000", fix(shade="x"))
        assert jaw.bench.store.tip() == before
        assert correct(jaw.bench, hand, code, fix(shade="x")) == ["Tooth shade"]


LIST = """Order;Patient;Clinic;Due;Shade;Base tint;Jaw;Teeth;Pan
L-1;P-7;Practice;15.01.2027;light;rose;both;;21
L-2;P-7;Practice;soon;light;rose;upper;;22
T-2026-0017;Żuraw 17;Practice;2027-01-15;light;rose;upper;;23
L-3;P-8;Practice;2027-01-16;light;rose;lower;46-36;24
"""


def test_a_list_is_taken_in_once(tmp_path: Path) -> None:
    """Sound rows become cases, a known order is left, and the same list again adds nothing."""
    with worked(tmp_path / "d") as jaw:
        table = read_table("x", LIST.encode())
        rows = read_rows(table, guess(table.headings))
        assert [row.sheet is not None for row in rows] == [True, False, True, True]
        added = import_orders(jaw.bench, seat(jaw), rows)
        assert sorted(added.cases) == [2, 5] and added.known == [4]
        found = glance(jaw, added.cases[2])
        assert (found.order, found.pan, found.due, len(found.jaws)) == ("L-1", "21", "2027-01-15", 2)
        before = jaw.bench.store.tip()
        again = import_orders(jaw.bench, seat(jaw), rows)
        assert again.cases == {} and again.known == [2, 4, 5] and jaw.bench.store.tip() == before


def test_what_the_lab_said_of_its_columns_is_kept(tmp_path: Path) -> None:
    """The mapping counts for the next list with those headings; not one with a gap, or with a heading twice."""
    with worked(tmp_path / "d") as jaw:
        headings = ["Nr", "Wer", "Praxis", "Bis", "Farbe", "Rosa"]
        assert csv_map(jaw.bench, headings) == {}
        mapping = dict(zip(("order", "patient", "prescriber", "due", "shade", "tint"), headings, strict=True))
        with pytest.raises(FileFaults, match="no heading is chosen"):
            keep_csv_map(jaw.bench, seat(jaw), mapping | {"tint": ""})
        with pytest.raises(FileFaults, match="used twice"):
            keep_csv_map(jaw.bench, seat(jaw), mapping | {"tint": "Farbe"})
        keep_csv_map(jaw.bench, seat(jaw), mapping)
        assert csv_map(jaw.bench, [*headings, "more"]) == mapping
        assert csv_map(jaw.bench, ["Order", "Patient"]) == {"order": "Order", "patient": "Patient"}


def test_a_glance_says_where_a_jaw_stands_and_who_had_it_last(tmp_path: Path) -> None:
    """Step, title, person, time and parts of a jaw; packed, released and sent out afterwards."""
    with worked(tmp_path / "d") as jaw:
        (case,) = case_glances(jaw.bench)
        assert case.jaws[0].last_person == "" and case.jaws[0].last_when == 0
        jaw.run_to("dry-fit")
        (case,) = case_glances(jaw.bench)
        assert (case.jaws[0].step, case.jaws[0].stands) == ("dry-fit", "Seat the arch dry")
        assert case.jaws[0].last_person == jaw.person and case.jaws[0].last_when == jaw.now[0]
        assert len(case.jaws[0].parts) == 2
        jaw.run_to()
        assert case_glances(jaw.bench)[0].jaws[0].stands == "packed"
        for kind, words in (("release", "released"), ("sent", "sent out"), ("back", "came back")):
            with jaw.bench.store.writing() as writer:
                store(jaw.bench, writer, seat(jaw), kind, jaw=jaw.code)
            assert case_glances(jaw.bench)[0].jaws[0].stands == words


@pytest.mark.parametrize(("due", "words", "late"), [
    ("2026-11-20", "4 days ago", True), ("2026-11-23", "yesterday", True), ("2026-11-24", "today", False),
    ("2026-11-25", "tomorrow", False), ("2026-11-30", "in 6 days", False),
])
def test_the_due_day_in_words(due: str, words: str, late: bool, tmp_path: Path) -> None:
    """Counted by days of the lab's calendar: the bench's clock stands at 2026-11-24 in its zone."""
    with worked(tmp_path / "d") as jaw:
        found = glance(jaw, pair(jaw, due=due))
        assert (found.due_words, found.late) == (words, late)
        assert found.days == (date.fromisoformat(due) - date(2026, 11, 24)).days


def test_the_day_changes_at_the_labs_midnight(tmp_path: Path) -> None:
    """At 23:30 UTC it is the next day in Warsaw (UTC+1 in winter): a case due that day before is late."""
    with worked(tmp_path / "d") as jaw:
        code = pair(jaw, due="2026-11-24")
        jaw.now[0] += round(14.5 * 3_600_000)  # 22:30 UTC
        assert not glance(jaw, code).late
        jaw.now[0] += 3_600_000
        assert glance(jaw, code).late


def test_search_finds_by_each_key(tmp_path: Path) -> None:
    """Patient without its accents, order, pan, prescriber, any code whole or in part; every word must be found."""
    with worked(tmp_path / "d") as jaw:
        code = pair(jaw, pan="Tray 9")
        case = case_as_it_is(jaw.bench.store, code)
        part = case["jaws"][1]["parts"][0]["code"]
        for words in ("P-2", "p-2", "B-1", "tray 9", "weir", "practice B-1", code, code[:5], case["jaws"][0]["code"],
                      f"{part[:4]} {part[4:7]} {part[7:]}", part[3:].lower()):
            assert search(jaw.bench, words) == [code], words
        assert search(jaw.bench, "zuraw") == [jaw.opened.code]
        assert search(jaw.bench, "zuraw B-1") == [] and search(jaw.bench, "nothing") == []
        correct(jaw.bench, seat(jaw), code, fix(patient="Renamed"))
        assert search(jaw.bench, "renamed") == [code] and search(jaw.bench, "P-2") == []


def test_a_number_leads_to_cases_in_work_first(tmp_path: Path) -> None:
    """Of two cases in the same pan the one in work is meant; where none is in work, the others are named."""
    with worked(tmp_path / "d") as jaw:
        code, other = pair(jaw), pair(jaw, order="B-2")
        assert [case.code for case in by_number(jaw.bench, " 12 ")] == [code, other]
        assert [case.code for case in by_number(jaw.bench, "b-2")] == [other]
        cancel(jaw.bench, seat(jaw), code, "Twice")
        assert [case.code for case in by_number(jaw.bench, "12")] == [other]
        cancel(jaw.bench, seat(jaw), other, "Twice")
        assert [case.code for case in by_number(jaw.bench, "12")] == [code, other]
        assert by_number(jaw.bench, "1") == [] and by_number(jaw.bench, "") == []
