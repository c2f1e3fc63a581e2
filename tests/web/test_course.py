"""The protocol at the desk: the chart and the table say the same, per jaw its own edition, and a blank sheet."""

import re
from html import unescape
from pathlib import Path

from benchapp.actions.editions import in_force
from benchapp.actions.jaws import protocol_of
from tests.web.desks import TECHNICIAN, desk
from tests.web.test_today import shown


def test_every_step_stands_in_chart_and_table(tmp_path: Path) -> None:
    """The default protocol's steps stand in both, in order, with every outcome and its target in words."""
    with desk(tmp_path / "data", TECHNICIAN) as at:
        page = at.get("/desk/protocol")
        _, protocol = in_force(at.jaw.bench)
        ids = [step.id for step in protocol.steps]
        assert re.findall(r'data-card="([\w-]+)"', page) == ids == re.findall(r'data-row="([\w-]+)"', page)
        words = shown(page[page.index("<caption>"):])
        for step in protocol.steps:
            for outcome in step.outcomes:
                assert f"“{outcome.title}”:" in words
        for said in ("“Void laid bare”: that place goes to “Repair the opened places” and comes back here after "
                     "“Cure the repair”", "“Floated up: seat again”: the jaw goes back to “Press the arch home”",
                     "“Refilled and lit”: done here; that place goes on at “Cure the repair”",
                     "at least 30 min after “Into the chamber, first side”, 15 s of grace, stop if missed "
                     "(common practice, no source: Common practice, no published source)",
                     "Positions: 6 to 20, usually 8, deviation outside", "only with option “mark”",
                     "connectors, margin sides; asked sextant by sextant", "Uncured resin, Curing light"):
            assert said in words, said


def test_a_jaw_shows_the_edition_it_runs_by(tmp_path: Path) -> None:
    """With a jaw's code the steps are its own, options left out, and the blank sheet is offered."""
    with desk(tmp_path / "data") as at:
        code = at.jaw.code
        page = at.get(f"/desk/protocol?jaw={code[:4]}%20{code[4:].lower()}")
        edition = protocol_of(at.jaw.bench, at.jaw.line).edition
        assert f"edition {edition}" in shown(page) and f"/desk/protocol/blank.pdf?jaw={code}" in page
        assert 'data-card="oxygen-barrier"' not in page and 'data-card="pack-up"' in page


def test_a_code_that_is_none_is_said_in_words(tmp_path: Path) -> None:
    """A misread code, an unknown jaw and no code at all are errors in words, for the page and the sheet."""
    with desk(tmp_path / "data") as at:
        code = at.jaw.code
        wrong = code[:-1] + ("A" if code[-1] != "A" else "C")
        for address in (f"/desk/protocol?jaw={wrong}", f"/desk/protocol/blank.pdf?jaw={wrong}",
                        "/desk/protocol/blank.pdf"):
            assert "That did not work" in at.get(address, 404)


def test_the_blank_sheet_is_a_pdf_of_that_jaw(tmp_path: Path) -> None:
    """Everybody may print it, on A4 or Letter."""
    with desk(tmp_path / "data", TECHNICIAN) as at:
        sizes = set()
        for paper in ("", "&paper=Letter", "&paper=A3"):
            answer = at.client.get(f"/desk/protocol/blank.pdf?jaw={at.jaw.code}{paper}")
            assert answer.status_code == 200 and answer.mimetype == "application/pdf"
            assert answer.data.startswith(b"%PDF")
            sizes.add(re.search(rb"/MediaBox \[[^\]]*\]", answer.data)[0])  # type: ignore[index]
        assert len(sizes) == 2


def test_nobody_reads_it_without_a_name(tmp_path: Path) -> None:
    """Chart and sheet ask for a sign-in."""
    with desk(tmp_path / "data") as at:
        at.post("/desk/signout")
        for address in ("/desk/protocol", f"/desk/protocol/blank.pdf?jaw={at.jaw.code}"):
            assert at.client.get(address).status_code == 302


def test_words_of_a_protocol_are_escaped(tmp_path: Path) -> None:
    """A protocol whose titles are scripts shows them and runs none, in the chart and in the table."""
    from benchapp.actions.cases import add_case
    from benchapp.core.sheet import read_sheet
    from tests.actions.worked import CASE, PROTOCOL, UPPER

    with desk(tmp_path / "data") as at:
        sheet = read_sheet("c.toml", CASE.format(training="false", jaw="upper", teeth=UPPER).replace("0017", "0018"))
        text = PROTOCOL.replace('title = "Read the order"', 'title = "<script>x</script>"')
        code = add_case(at.jaw.bench, sheet, text).jaws[0]["code"]
        page = at.get(f"/desk/protocol?jaw={code}")
        assert "<script>x" not in page
        assert unescape(page).count("<script>x</script>") >= 2
