"""The seating check of a jaw as the journal has it: files, report, answers; stored once, whatever comes between."""

import json
from dataclasses import asdict, replace
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from benchapp.actions.bench import Refused
from benchapp.actions.cases import add_case
from benchapp.actions.meshes import WrongFile, check_again, coming
from benchapp.actions.records import record_of
from benchapp.actions.release import asked
from benchapp.actions.remake import NewPart, remake_part
from benchapp.actions.seating import seating_of
from benchapp.actions.seating_keeper import TRIES, Keeper
from benchapp.actions.settings import change
from benchapp.actions.today import day
from benchapp.background import Checks, Progress
from benchapp.core import events
from benchapp.core.sheet import read_sheet
from benchapp.paper.record import pdf
from benchapp.web.records import standalone_page
from tests.actions.checked import AtOnce, checked, put, seat_of, stl
from tests.actions.worked import CASE, PROTOCOL, UPPER, Worked, worked
from tests.core.test_stops import place

LIMITS = PROTOCOL.replace("depth = { usual = 0.5, source", "depth = { least = 0.3, most = 0.8, source")


@pytest.fixture
def jaw(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Worked:
    """An upper jaw whose lab wants depths of 0.3 to 0.8 mm, and whose checks end at once."""
    monkeypatch.setattr("tests.actions.worked.PROTOCOL", LIMITS)
    with worked(tmp_path / "lab") as found:
        found.bench.checks = AtOnce(tmp_path / "lab" / "seating")
        yield found


def _events(jaw: Worked, kind: str) -> list[dict]:
    return [events.read_body(entry.body)["event"] for entry in jaw.bench.store.tagged("kind", kind)]


def test_one_file_is_half_and_two_are_checked(jaw: Worked) -> None:
    """Without a file none, with one half, with both it is begun; the event holds hashes, numbers and no file name."""
    none = seating_of(jaw.bench, jaw.line)
    assert (none.state, none.report) == ("none", None)
    put(jaw, "base", stl("base"))
    half = seating_of(jaw.bench, jaw.line)
    assert (half.state, half.why) == ("half", "The design file of the arch is missing.")
    keeper = Keeper(jaw.bench)
    assert keeper.look() is False
    checked(jaw)
    found = seating_of(jaw.bench, jaw.line)
    assert (found.state, found.resin_ml, found.drops) == ("done", 0.42, None)
    assert [part.triangles for part in found.parts] == [1200, 1200]
    (event,) = _events(jaw, "seating")
    assert event["by"]["person"] == seat_of(jaw).person.id
    assert event["data"]["summary"] == {
        "goes_in": True, "resin_ml": 0.42, "deepest_mm": 1.2, "connectors": 13, "teeth": 14, "warnings": 1,
    }
    assert json.loads(jaw.bench.store.course(event["data"]["report"]) or b"") == found.report


def test_what_is_stored_is_stored_once(jaw: Worked) -> None:
    """Whoever looks again, after a restart too, begins nothing and stores nothing more."""
    checked(jaw).look()
    assert Keeper(jaw.bench).look() is False
    assert len(jaw.bench.checks.begun) == len(_events(jaw, "seating")) == 1


def test_a_result_without_its_event_is_stored_at_the_next_start(jaw: Worked) -> None:
    """The process ended while the server was down: whoever looks then finds the result and begins no check."""
    checked(jaw)
    key = seating_of(jaw.bench, jaw.line).key
    put(jaw, "arch", stl("another arch"))
    put(jaw, "arch", stl("arch"))
    jaw.bench.checks = AtOnce(jaw.bench.checks.folder)
    assert seating_of(jaw.bench, jaw.line).anew
    Keeper(jaw.bench).look()
    found = seating_of(jaw.bench, jaw.line)
    assert (jaw.bench.checks.begun, found.key, found.anew, found.state) == ([], key, False, "done")


def test_a_lost_process_is_begun_anew_and_given_up_in_words(jaw: Worked) -> None:
    """A check whose process ends without a result is tried three times; then the sentence is stored."""

    class Lost(Checks):
        begun = 0

        def begin(self, *_asked: object) -> str:
            self.begun += 1
            return ""

        def look(self, _key: str) -> Progress:
            return Progress("lost" if self.begun else "none", "sockets", 0.4)

    jaw.bench.checks = Lost(jaw.bench.store.path.parent / "seating")
    put(jaw, "base", stl("base"))
    put(jaw, "arch", stl("arch"))
    keeper = Keeper(jaw.bench)
    assert keeper.look()
    lost = seating_of(jaw.bench, jaw.line)
    assert (lost.state, lost.stage, lost.done) == ("lost", "sockets", 0.4)
    for _more in range(TRIES):
        keeper.look()
    assert jaw.bench.checks.begun == TRIES
    assert "ended 3 times without a result" in seating_of(jaw.bench, jaw.line).faults[0]


def test_one_check_is_begun_at_a_time(jaw: Worked) -> None:
    """Of two jaws whose files came at once the second is begun when the first is done, and never given up meanwhile."""

    class Slow(Checks):
        begun: list[str] = []  # noqa: RUF012

        def begin(self, _base: Path, _arch: Path, _asked: dict, key: str = "") -> str:
            self.begun.append(key)
            return key

        def look(self, key: str) -> Progress:
            return Progress("running" if key in self.begun[-1:] else "none")

    jaw.bench.checks = Slow(jaw.bench.store.path.parent / "seating")
    text = CASE.format(training="false", jaw="upper", teeth=UPPER).replace("T-2026-0017", "T-2")
    other = replace(jaw, opened=add_case(jaw.bench, read_sheet("case.toml", text), LIMITS))
    for one, mark in ((jaw, ""), (other, " of another")):
        put(one, "base", stl("base" + mark))
        put(one, "arch", stl("arch" + mark))
    keeper = Keeper(jaw.bench)
    for _look in range(2 * TRIES):
        assert keeper.look()
    assert len(jaw.bench.checks.begun) == 1 and _events(jaw, "seating") == []


def test_a_refused_pair_says_why(jaw: Worked) -> None:
    """The sentences of a pair that cannot be checked are kept as texts and told; nothing is a finding."""
    checked(jaw, faults=("Base and arch do not meet.",))
    found = seating_of(jaw.bench, jaw.line)
    assert (found.state, found.faults, found.findings) == ("refused", ("Base and arch do not meet.",), ())


def test_an_answer_counts_while_its_confirmation_does(jaw: Worked) -> None:
    """Two deep teeth and a thinner report are answered at the part check; taken back, both are open again."""
    checked(jaw)
    jaw.run_to("part-check")
    (deep,) = seating_of(jaw.bench, jaw.line).findings
    assert (deep.finding.words, deep.open) == ("2 teeth deeper than 0.8 mm: 16 15", True)
    parts = jaw.extra("part-check")["picks"]
    said = jaw.say("parts-right", ["-"], picks=parts | {"seating-deep": "as-ordered"})
    answer = seating_of(jaw.bench, jaw.line).findings[0].answer
    assert answer and (answer.said, answer.person) == ("as-ordered", jaw.person)
    assert seating_of(jaw.bench, jaw.line).open == ()
    jaw.fact("undo", undo=said["id"])
    assert seating_of(jaw.bench, jaw.line).findings[0].open
    jaw.say("part-wrong", ["-"], picks=parts | {"seating-deep": "print-again"})
    assert seating_of(jaw.bench, jaw.line).findings[0].open, "to print it again lets nothing stay as it is"


def test_an_answer_stays_for_the_same_words_alone(jaw: Worked) -> None:
    """Of a later report the finding that says the same keeps its answer; one that says something else is open."""
    checked(jaw)
    jaw.run_to("part-check")
    jaw.say("parts-right", ["-"], picks=jaw.extra("part-check")["picks"] | {"seating-deep": "as-ordered"})
    checks = jaw.bench.checks
    for axis, depths, is_open in (("x", {16: 1.2, 15: 1.4}, False), ("y", {16: 1.2, 11: 1.4}, True)):
        change(jaw.bench, seat_of(jaw, 1), "seating_axis", axis)
        check_again(jaw.bench, seat_of(jaw), jaw.code)
        before = seating_of(jaw.bench, jaw.line)
        assert before.report and before.anew
        for tooth in checks.next["report"]["teeth"]:
            tooth["depth_median_mm"] = depths.get(tooth["tooth"], 0.5)
        Keeper(jaw.bench).look()
        assert [one.open for one in seating_of(jaw.bench, jaw.line).findings] == [is_open], axis


def test_the_record_tells_finding_answer_and_what_was_put_out(jaw: Worked) -> None:
    """Files, limits with their source, the finding with who answered it, and the drops beside the volume."""
    checked(jaw)
    assert record_of(jaw.bench, jaw.code).standing.open_matters == [
        "seating check: 2 teeth deeper than 0.8 mm: 16 15"
    ]
    jaw.run_to("part-check")
    jaw.say("parts-right", ["-"], picks=jaw.extra("part-check")["picks"] | {"seating-deep": "as-ordered"})
    jaw.run_to("lay-out")
    drops = [{"name": "resin-drops", "value": "9", "unit": ""}]
    jaw.say("all-at-hand", ["-"], **jaw.extra("lay-out") | {"values": drops})
    record = record_of(jaw.bench, jaw.code)
    check = record.seating
    assert check is not None and record.standing.open_matters == [] and not [
        item for item in record.not_ordinary.items if item.kind == "pick"
    ]
    (finding,) = check.findings
    assert (finding.answer, finding.who, finding.open) == ("As the clinic ordered it", "Łukasz Wiśniewski", False)
    assert check.resin_words() == "0.42 ml below the margins; put out: 9 drops"
    assert [(one.title, one.text()) for one in check.limits] == [
        ("depth of a tooth, mm", "least 0.3, most 0.8"), ("cut", "leaves 2.0 mm², 0.3 mm wide"),
    ]
    assert [file.part for file in check.files] == ["base", "arch"] and check.picture == ""
    assert (check.depth_least_mm, check.depth_most_mm) == (0.5, 1.2)
    whole = "".join(page.extract_text() for page in PdfReader(BytesIO(pdf(record))).pages)
    for words in ("2 teeth deeper than 0.8 mm", "As the clinic ordered it", check.files[0].hash[:20],
                  "put out: 9 drops", "The still picture is not kept"):
        assert words in whole, words
    assert "2 teeth deeper" in standalone_page(record)


def test_the_record_tells_where_the_arch_is_stopped(jaw: Worked) -> None:
    """Tooth, side and width of each place stand on paper and in the JSON; the nearest place is none of them."""
    places = [place(16, "lingual", 0.31), place(15, "distal", 0.07)]
    checked(jaw, goes_in=False, undercut_width_mm=0.31, undercuts=places, nearest=place(11, "buccal", 0.05))
    record = record_of(jaw.bench, jaw.code)
    assert record.seating is not None and record.seating.stops == [
        "16 palatal: base stands above the arch, 0.31 mm wide", "15 distal: base stands above the arch, 0.07 mm wide",
    ]
    assert record.seating.findings[0].places == ["16", "15"]
    text = " ".join("".join(page.extract_text() for page in PdfReader(BytesIO(pdf(record))).pages).split())
    assert "Stopped at 16 palatal: base stands above the arch, 0.31 mm wide; 15 distal" in text


@pytest.mark.parametrize(("goes_in", "overlap", "title"), [(None, 0.0, "May be stopped at"), (None, 1.2, "Stopped at")])
def test_what_may_only_be_an_undercut_is_called_so(jaw: Worked, goes_in: None, overlap: float, title: str) -> None:
    """Where noise or an unsure axis may be the undercut, the record says that the arch may be stopped there; where the
    parts lie in each other it is."""
    which = "overlaps" if overlap else "undercuts"
    checked(jaw, goes_in=goes_in, overlap_mm3=overlap, **{which: [place(16, "lingual", 0.06)]})
    facts = dict(record_of(jaw.bench, jaw.code).seating.facts())  # type: ignore[union-attr]
    assert title in facts and facts[title].startswith("16 palatal: ")


def test_a_record_of_an_arch_that_goes_in_has_no_places(jaw: Worked) -> None:
    """Where nothing stops the arch the nearest place alone makes no line."""
    checked(jaw, nearest=place(11, "buccal", 0.05))
    text = standalone_page(record_of(jaw.bench, jaw.code))
    assert "Goes in" in text and "Stopped at" not in text


def test_an_open_finding_is_a_gap_that_asks_why(jaw: Worked) -> None:
    """Released without an answer to a finding, a supervisor says why; on the day's list it stands as open."""
    checked(jaw)
    rows = [row for rows in day(jaw.bench).groups.values() for row in rows]
    assert rows[0].wants == ("seating check: 1 finding is open",)
    jaw.run_to("")
    gaps = {gap.kind: gap.asks for gap in asked(jaw.bench, seat_of(jaw, 1), jaw.code).readiness.gaps}
    assert gaps["seating-open"] == "reason"


def test_another_revision_needs_its_own_file(jaw: Worked) -> None:
    """A part made again from the same design keeps its file; from another one it has none, and nothing is begun."""
    checked(jaw)
    supervisor = seat_of(jaw, 1)
    remake_part(jaw.bench, supervisor, jaw.code, "arch", NewPart("B", "P-200"), "damaged", "lab")
    assert seating_of(jaw.bench, jaw.line).state == "done"
    remake_part(jaw.bench, supervisor, jaw.code, "arch", NewPart("C", "P-201"), "damaged", "lab")
    found = seating_of(jaw.bench, jaw.line)
    assert (found.state, found.report) == ("half", None)
    assert "two design revisions (B and C)" in found.why
    assert found.parts[1].why == "No file is attached to revision C."
    assert Keeper(jaw.bench).look() is False


def test_a_wrong_file_is_refused_at_once(jaw: Worked) -> None:
    """Not an STL, cut off, empty, and the file of the other part: each with its sentence, and nothing is stored."""
    put(jaw, "base", stl("base"))
    for data, words in (
        (b"%PDF-1.7" + bytes(300), "no STL file"), (stl("arch")[:-1], "cut off"), (b"", "empty"),
        (b"solid arch\nfacet normal 0 0 0", "no end"), (stl("base"), "same file"),
        (b"# points\nv 0 0 0\nv 1 0 0\n", "without faces"), (b"PK\3\4" + bytes(99), "cut off"),
        (b"PK\3\4" + bytes(99) + b"PK\5\6", "without a 3D model"),
    ):
        with pytest.raises(WrongFile, match=words):
            put(jaw, "arch", data)
    assert len(_events(jaw, "mesh")) == 1
    with pytest.raises(Refused, match="files of both parts"):
        check_again(jaw.bench, seat_of(jaw), jaw.code)


def test_the_whole_check_of_a_small_pair(jaw: Worked) -> None:
    """The real computation ends in a report of ours: the axis of the files is a line, whichever way the parts lie."""
    from benchapp.seating.tell import Asked
    from tests.seating.made import SMALL, small
    from tests.seating.pairs import stl as written

    class Here(Checks):
        def begin(self, base: Path, arch: Path, asked: dict, key: str = "") -> str:
            self.folder.mkdir(exist_ok=True)
            self._write(f"{key}.json", self._checked(key, {"base": str(base), "arch": str(arch), "asked": asked}))
            return key

    jaw.bench.checks = Here(jaw.bench.store.path.parent / "seating")
    jaw.line.jaw.update(jaw="lower", teeth=list(SMALL))
    for part, mesh in zip(("base", "arch"), small(), strict=True):
        put(jaw, part, written(mesh * [1.0, -1.0, -1.0]))
    assert coming(jaw.bench).name.endswith(".new")
    Keeper(jaw.bench).look()
    (event,) = _events(jaw, "seating")
    whole = json.loads(jaw.bench.store.course(event["data"]["report"]) or b"")
    assert (whole["axis"], whole["axis_source"], whole["goes_in"]) == ([0.0, 0.0, -1.0], "given", True)
    assert asdict(Asked("upper")).keys() == asdict(Asked("lower", axis_is_line=True)).keys()
