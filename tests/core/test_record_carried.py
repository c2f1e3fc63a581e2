"""What was carried over: work that lay open over a night of the lab's zone, and a jaw that changed hands in a stage.

The days are checked with the wall clock of Europe/Warsaw (UTC+01:00 in November, tz database of IANA).
"""

import io
from datetime import UTC, datetime
from pathlib import Path

import pypdf
import pytest

from benchapp.actions.records import given_of, record_of
from benchapp.core.readiness import readiness
from benchapp.core.record_models import Item
from benchapp.core.release_words import TICKS
from benchapp.core.walk import MINUTE
from benchapp.paper.record import pdf
from tests.actions.worked import Worked, worked

ZOYA, LUKASZ = ("Зоя Ким", "1357"), ("Łukasz Wiśniewski", "2468")
EVENING = datetime(2026, 11, 24, 16, 0, tzinfo=UTC)  # 17:00 in Warsaw
HOUR = 60 * MINUTE


def carried(jaw: Worked) -> list[Item]:
    """What the record says was carried over."""
    return [item for item in record_of(jaw.bench, jaw.code).not_ordinary.items if item.kind == "carried over"]


def at(jaw: Worked, *moment: int) -> None:
    """Set the clock to a moment in UTC, so that the next main action, a minute later, is then."""
    jaw.now[0] = round(datetime(*moment, tzinfo=UTC).timestamp() * 1000) - MINUTE  # type: ignore[misc,arg-type]


def test_work_that_lay_over_a_night_is_one_note(tmp_path: Path) -> None:
    """Left open in the evening and gone on with in the morning: one note with step, days and times."""
    with worked(tmp_path / "lab", start=EVENING) as jaw:
        jaw.run_to("second-fit")
        assert len(jaw.line.events) == 8  # a tap a minute, so the last one was at 17:08
        at(jaw, 2026, 11, 25, 7, 10)
        jaw.run_to("tack-light")
        (note,) = carried(jaw)
    assert note.words == (
        "“Seat dry once more” lay open from 2026-11-24 to 2026-11-25: left by Łukasz Wiśniewski on 2026-11-24 17:08, "
        "gone on with by Łukasz Wiśniewski on 2026-11-25 08:10"
    )
    assert (note.step, note.who, note.open) == ("Seat dry once more", "Łukasz Wiśniewski", False)


@pytest.mark.parametrize(("evening", "morning", "notes"), [
    ((2026, 11, 24, 22, 58), (2026, 11, 24, 23, 2), 1),  # 23:58 and 00:02 in Warsaw: one day in UTC, two in the lab
    ((2026, 11, 24, 23, 58), (2026, 11, 25, 0, 2), 0),  # 00:58 and 01:02 in Warsaw: two days in UTC, one in the lab
    ((2026, 11, 24, 16, 0), (2026, 11, 27, 7, 0), 1),  # three nights in one go
])
def test_the_night_is_that_of_the_lab(
    tmp_path: Path, evening: tuple[int, ...], morning: tuple[int, ...], notes: int
) -> None:
    """The midnight that counts is the lab's, and a break of several nights is one note."""
    with worked(tmp_path / "lab") as jaw:
        at(jaw, *evening)
        jaw.main()
        at(jaw, *morning)
        jaw.main()
        assert len(carried(jaw)) == notes


def test_each_night_is_a_note(tmp_path: Path) -> None:
    """Two nights with work between them are two notes, the second of the step at which it was left then."""
    with worked(tmp_path / "lab", start=EVENING) as jaw:
        jaw.main()
        at(jaw, 2026, 11, 25, 8, 0)
        jaw.main()
        at(jaw, 2026, 11, 26, 8, 0)
        jaw.main()
        assert [note.step for note in carried(jaw)] == ["Check both parts", "Seat the arch dry"]


@pytest.mark.parametrize(("step", "lay"), [
    ("cure-second-side", False), ("cool-down", False), ("cure-first-side", True), ("finish-off", True),
])
def test_where_only_the_clock_ran_nothing_lay_open(tmp_path: Path, step: str, lay: bool) -> None:
    """A night in the chamber or cooling is none; a tacked jaw that nobody put in, or one half finished, is."""
    with worked(tmp_path / "lab", start=EVENING) as jaw:
        jaw.run_to(step)
        at(jaw, 2026, 11, 25, 8, 0)
        jaw.main()
        assert bool(carried(jaw)) == lay


def test_what_was_taken_back_is_no_work(tmp_path: Path) -> None:
    """A tap of the morning that was taken back does not end the night, the one that counts does."""
    with worked(tmp_path / "lab", start=EVENING) as jaw:
        jaw.main()
        at(jaw, 2026, 11, 25, 8, 0)
        jaw.fact("undo", undo=jaw.main()["id"])
        assert carried(jaw) == []
        jaw.main(7 * 60)
        assert "gone on with by Łukasz Wiśniewski on 2026-11-25 16:" in carried(jaw)[0].words


def test_another_person_within_a_stage_is_named(tmp_path: Path) -> None:
    """The jaw changes hands between the two steps of one stage: both names, once, and how often after that."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("check-margins")
        for who in (ZOYA, LUKASZ, ZOYA):
            jaw.sign_in(*who)
            jaw.main()
        (note,) = carried(jaw)
    assert note.words == (
        "changed hands within the stage “Final check”, at “Margins closed, both sides”: "
        "from Łukasz Wiśniewski to Зоя Ким, and 2 times more between the two"
    )
    assert note.who == "Зоя Ким"


def test_another_person_at_the_next_stage_is_ordinary(tmp_path: Path) -> None:
    """Who begins a stage does not take it over from anybody, be it handed to them or not."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("wet-sockets")
        jaw.sign_in(*ZOYA)
        jaw.run_to("check-tacky")
        jaw.fact("hand", picks={"to": "nobody-yet"})
        jaw.sign_in(*LUKASZ)
        jaw.main()
        assert carried(jaw) == []


def test_handed_within_a_stage_is_one_note(tmp_path: Path) -> None:
    """Handed to a colleague who then goes on is one change of hands, at the step at which it was handed."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("check-smear")
        lukasz = jaw.person
        jaw.sign_in(*ZOYA)
        zoya, jaw.person = jaw.person, lukasz
        jaw.fact("hand", picks={"to": zoya})
        (handed,) = carried(jaw)
        jaw.person = zoya
        jaw.run_to()
        assert carried(jaw) == [handed]
    assert "at “No smear on the teeth”: from Łukasz Wiśniewski to Зоя Ким" in handed.words


def test_it_must_be_read_before_the_release_and_is_printed(tmp_path: Path) -> None:
    """A kind of its own among what must be ticked, with each note as a line; the paper says the same."""
    with worked(tmp_path / "lab", start=EVENING) as jaw:
        jaw.run_to("second-fit")
        at(jaw, 2026, 11, 25, 7, 10)
        jaw.run_to("check-voids")
        jaw.sign_in(*ZOYA)
        jaw.run_to()
        ready = readiness(given_of(jaw.bench, jaw.code), (), (), "2026-11-25")
        found = record_of(jaw.bench, jaw.code)
    (tick,) = [tick for tick in ready.ticks if tick.kind == "carried over"]
    assert tick.title == TICKS["carried over"] and len(tick.lines) == 2
    assert "lay open from 2026-11-24 to 2026-11-25" in tick.lines[0] and "changed hands" in tick.lines[1]
    paper = pypdf.PdfReader(io.BytesIO(pdf(found))).pages
    printed = " ".join(" ".join(page.extract_text() for page in paper).split())
    lines = ("lay open from 2026-11-24 to 2026-11-25: left by Łukasz", "changed hands within the stage “Final check”")
    for line in lines:
        assert line in printed
