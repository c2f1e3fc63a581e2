"""The page of one case: exceptions first, its whole line of events, the pair check."""

import re
from dataclasses import replace
from pathlib import Path

from benchapp.actions.cases import add_case
from benchapp.actions.desk import Seat, store
from benchapp.actions.release import amend
from benchapp.core.events import REQUESTS
from benchapp.core.sheet import read_sheet
from tests.actions.test_release import ASKED, SECOND
from tests.actions.whole import LAB3, THIRD, let_go, seat, settle
from tests.actions.worked import PROTOCOL, UPPER, Worked, eventful
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk

EVIL = "<script>alert('x')</script>"


def case_of(jaw: Worked) -> str:
    """Address of the jaw's case."""
    return f"/desk/case/{jaw.opened.code}"


def second(at: Desk, order: str = "T-2") -> tuple[Worked, Worked]:
    """Add a case with both jaws; they share the desk's bench and clock."""
    text = ASKED.format(training="false", jaw="upper", teeth=UPPER).replace("T-2026-0017", order) + SECOND
    opened = add_case(at.jaw.bench, read_sheet("case.toml", text), PROTOCOL)
    upper = replace(at.jaw, opened=opened, sent=200)
    return upper, replace(upper, opened=replace(opened, jaws=opened.jaws[::-1]), sent=600)


def entries(text: str) -> list[int]:
    """Numbers of the entries on a page, in their order."""
    return [int(n) for n in re.findall(r'data-entry="(\d+)"', text)]


def test_a_case_shows_order_jaws_and_what_to_look_at(tmp_path: Path) -> None:
    """Identity, where the jaw stands, its links, and open matters before what is settled."""
    with desk(tmp_path / "data", lab=LAB3) as at:
        eventful(at.jaw)
        text = at.sit(*SUPERVISOR).get(case_of(at.jaw))
    code = at.jaw.code
    for words in ("Żuraw 17", "T-2026-0017", "Практика на набережной", "All steps of the protocol are confirmed"):
        assert words in text
    for to in (f"/bench/{code}", f"/record/{code}", f"/labels/{code}.pdf", f"/desk/jaw/{code}/release",
               f"/desk/jaw/{code}/remake", f"/desk/cases/{at.jaw.opened.code}/order"):
        assert f'href="{to}"' in text
    assert text.index("To be looked at") < text.index("Not ordinary") < text.index("Line of events")
    waiting = text[text.index("To be looked at") : text.index("Not ordinary")]
    assert "came while the jaw was held" in waiting and "not closed yet" in waiting


def test_the_line_holds_every_entry_newest_first(tmp_path: Path) -> None:
    """All entries of the case can be reached page by page, none twice, newest first, by plain links and by parts."""
    with desk(tmp_path / "data", lab=LAB3) as at:
        eventful(at.jaw)
        at.jaw.fact("opened")
        at.sit(*SUPERVISOR)
        stored = {
            entry.seq for tag in (("case", at.jaw.opened.code), ("jaw", at.jaw.code))
            for entry in at.jaw.bench.store.tagged(*tag)
        }
        for part in ("", "/line"):
            text, seen = at.get(case_of(at.jaw) + part), []
            seen += entries(text)
            while found := re.search(r'<a class="button" href="([^"#]+)#line"\s+hx-get="([^"]+)"', text):
                text = at.get(found[2 if part else 1].replace("&amp;", "&"))
                seen += entries(text)
            assert seen == sorted(stored, reverse=True)
            assert len(seen) > 50


def test_the_line_can_be_of_one_jaw(tmp_path: Path) -> None:
    """With a jaw chosen, no entry of the other jaw and none of the case as a whole is left."""
    with desk(tmp_path / "data", lab=LAB3) as at:
        upper, lower = second(at)
        upper.run_to("cut-back")
        lower.run_to("dry-fit")
        both = entries(at.get(case_of(upper)))
        ups = entries(at.get(f"{case_of(upper)}?jaw={upper.code}"))
        lows = entries(at.get(f"{case_of(upper)}?jaw={lower.code}"))
    assert len(ups) == 3 and len(lows) == 2 and set(ups) | set(lows) < set(both)


def test_kinds_without_words_are_told_by_their_meaning(tmp_path: Path) -> None:
    """Every kind that may stand in a case's line is told in words, one from a later version too."""
    with desk(tmp_path / "data", lab=LAB3) as at:
        who = at.seat()
        with at.jaw.bench.store.writing() as writer:
            for kind in ("locked", "unheard-of"):
                store(at.jaw.bench, writer, who, kind, case=at.jaw.opened.code)
        text = at.get(case_of(at.jaw))
    assert REQUESTS["locked"] in text
    assert "an entry of the kind unheard-of, which this version does not know" in text


def test_script_in_every_text_stays_text(tmp_path: Path) -> None:
    """Words with markup in names, order, closing, reasons and amendments are shown as they were typed."""
    case = ASKED.replace('"Żuraw 17"', f'"{EVIL}1"').replace("Практика на набережной", f"{EVIL}2")
    case = case.replace('"rose 2"', f'"{EVIL}3"').replace('"P-118"', f'"{EVIL}4"')
    lab = LAB3.replace("Łukasz Wiśniewski", f"{EVIL}5").replace("Pracownia Żółw", f"{EVIL}6")
    with desk(tmp_path / "data", case=case, lab=lab) as at:
        eventful_by(at.jaw)
        let_go(at.jaw, reason=f"{EVIL}7")
        amend(at.jaw.bench, seat(at.jaw), at.jaw.code, f"{EVIL}8")
        at.sit(*SUPERVISOR)
        pages = [at.get(to) for to in (
            case_of(at.jaw), f"{case_of(at.jaw)}/line", f"/desk/jaw/{at.jaw.code}/release",
            f"/desk/jaw/{at.jaw.code}/after", f"/record/{at.jaw.code}",
        )]
    for text in pages:
        assert "<script>alert" not in text and "&lt;script&gt;alert" in text
    assert all(f"&lt;/script&gt;{n}" in pages[4] for n in range(1, 9))


def eventful_by(jaw: Worked) -> None:
    """Everything happens to the jaw, and a supervisor settles it; then a tablet falls silent."""
    eventful(jaw)
    settle(jaw, seat(jaw))
    jaw.fact("opened")


def test_the_pair_check_by_form(tmp_path: Path) -> None:
    """A technician says what was found; not right is shown and the link to release both is not; right shows it."""
    with desk(tmp_path / "data", lab=LAB3) as at:
        upper, lower = second(at)
        upper.run_to()
        at.sit(*SUPERVISOR)
        assert "the lower jaw is not yet" in at.get(case_of(upper))
        text = at.post(f"{case_of(upper)}/pair", 422, outcome="right")
        assert "Nothing was changed yet" in text
        lower.run_to()
        at.sit(*TECHNICIAN)
        at.post(f"{case_of(upper)}/pair", outcome="not-right")
        text = at.get(case_of(upper))
        assert "Pair check stored: not right" in text and "together</a>" not in text
        at.post(f"{case_of(upper)}/pair", 422, outcome="perhaps")
        lower.now[0] += 60_000
        at.post(f"{case_of(upper)}/pair", outcome="right")
        assert "bite of the pair right" in at.get(case_of(upper))
        at.sit(*THIRD)
        assert f'href="{case_of(upper)}/release"' in at.get(case_of(upper))


def test_a_technique_lead_reads_but_checks_no_pair(tmp_path: Path) -> None:
    """Somebody without a bench role sees the case and gets no buttons; the form is turned away."""
    lab = LAB3.replace('roles = ["technician"]', 'roles = ["technique-lead"]')
    with desk(tmp_path / "data", lab=lab) as at:
        at.sit(*TECHNICIAN)
        assert "Pair check" in at.get(case_of(at.jaw))
        at.post(f"{case_of(at.jaw)}/pair", 403, outcome="right")
        assert f'href="/desk/jaw/{at.jaw.code}/release"' not in at.get(case_of(at.jaw))


def test_a_strange_code_is_answered_in_words(tmp_path: Path) -> None:
    """A code that is none, and one of no case, give a page that says so."""
    with desk(tmp_path / "data") as at:
        assert "Traceback" not in at.get("/desk/case/hello", 404)
        assert "No case has the code" in at.get(f"/desk/case/{at.jaw.bench.code('0')}", 404)
        assert isinstance(at.seat(), Seat)
