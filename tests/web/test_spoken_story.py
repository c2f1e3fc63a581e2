"""Pages of a lab in which everything happened, in a made-up language: all that is told comes from the catalogue."""

import re
from pathlib import Path
from typing import Any

from benchapp.actions import orders
from benchapp.actions.cases import all_cases
from benchapp.actions.due import due
from benchapp.actions.jaws import case_as_it_is
from benchapp.actions.release import amend, came_back, sent
from benchapp.actions.release import settle as settle_back
from benchapp.core.codes import spaced
from benchapp.core.release_words import MEANING, MEANINGS
from tests.actions.whole import ALLERGIC, LAB3, THIRD, let_go, remade, seat, settle
from tests.actions.worked import TABLET, Worked, eventful
from tests.speech import data_of, speaking, unspoken
from tests.web.clients import deliver, fact
from tests.web.desks import Desk, desk
from tests.web.test_case import second
from tests.web.test_cases import FORM, LIST, SOUND, shown_list
from tests.web.test_spoken_pages import FILES

SAID = (
    THIRD[0], "Dr. Ostrów", "light 3", "P-200", "Клиника «Маяк»", "Tack sat; <b>margins</b> looked at",
    "read on the tablet", "parcel 4711, by the lab's own driver", "Pressure spot is seen beside the void",
    "Void filled at the chairside; the clinic's note lies in the file.", TABLET, "T-2", "it was called off",
    MEANINGS[MEANING],  # as it was signed, in every language
)


def known(at: Desk, data: tuple[str, ...]) -> list[str]:
    """Return what is no word of ours: the lab's and the test's own, and the codes of what was made again."""
    cases = [case_as_it_is(at.jaw.bench.store, case["code"]) for case in all_cases(at.jaw.bench)]
    jaws = [jaw for case in cases for jaw in case["jaws"]]
    codes = [part["code"] for jaw in jaws for part in [jaw, *jaw["parts"], *jaw.get("old_parts", [])]]
    return [*data_of(at.jaw), *codes, *map(spaced, codes), *SAID, *FILES, "s", "min", *data]  # units are no words


def outside(page: str, own: list[str]) -> list[str]:
    """Return the words of a page that stand outside the brackets; bytes that nobody could read stand as they came."""
    return unspoken(re.sub(r"<pre.*?</pre>", "", page, flags=re.DOTALL), own)


def bare(at: Desk, *addresses: str, status: int = 200, data: tuple[str, ...] = ()) -> list[tuple[str, list[str]]]:
    """Return the words of pages that stand outside the brackets, by address."""
    with speaking():
        pages = {address: at.get(address, status) for address in addresses}
    own = known(at, data)
    return [(address, found) for address, page in pages.items() if (found := outside(page, own))]


def bare_answer(at: Desk, address: str, status: int = 422, data: tuple[str, ...] = (), **form: Any) -> list[str]:
    """Return the words outside the brackets of the page that answers a form."""
    with speaking():
        page = at.post(address, status, **form)
    return outside(page, known(at, data))


def pages_of(jaw: Worked) -> list[str]:
    """Addresses of the desk that tell of a jaw."""
    case = jaw.opened.code
    return [
        "/desk/today", "/desk/marks", "/desk/deviations", "/desk/cases", f"/desk/cases/{case}/codes",
        f"/desk/cases/{case}/order", f"/desk/case/{case}", f"/desk/case/{case}/line?before=60",
        f"/desk/case/{case}/line?before=30", f"/desk/jaw/{jaw.code}/release", f"/desk/jaw/{jaw.code}/after",
        f"/desk/jaw/{jaw.code}/remake", f"/desk/protocol?jaw={jaw.code}",
    ]


def test_a_jaw_to_which_everything_happened(tmp_path: Path) -> None:
    """Open and closed matters, gaps, ticks, a remake, corrections, an allergy, a release and what came after it."""
    with desk(tmp_path / "data", lab=LAB3, case=ALLERGIC) as at:
        jaw, who = at.jaw, seat(at.jaw)
        assert bare(at, *pages_of(jaw)) == []  # held for the allergy
        orders.decide(jaw.bench, who, jaw.opened.code, "Dr. Ostrów", "2026-11-24", True)
        first = orders.Correction({"shade": "light 3", "opposing": "denture"}, {"prescriber": "Клиника «Маяк»"}, {})
        orders.correct(jaw.bench, who, jaw.opened.code, first)
        remade(jaw, who)
        jaw.fact("opened")
        eventful(jaw)
        jaw.fact("opened")
        jaw.now[0] += 13 * 3_600_000
        at.sit(*THIRD)
        assert bare(at, *pages_of(jaw)) == []
        settle(jaw, who)
        assert bare(at, *pages_of(jaw)) == []
        let_go(jaw)
        sent(jaw.bench, who, jaw.code, "2026-11-24", "parcel 4711, by the lab's own driver")
        assert bare(at, *pages_of(jaw)) == []
        came_back(jaw.bench, who, jaw.code, "2026-11-24", "m24l", "void", "Pressure spot is seen beside the void")
        amend(jaw.bench, who, jaw.code, "Void filled at the chairside; the clinic's note lies in the file.")
        assert bare(at, *pages_of(jaw)) == []
        settle_back(jaw.bench, who, jaw.code)
        assert bare(at, *pages_of(jaw)) == []


def test_clocks_strays_pairs_and_cancelled_cases(tmp_path: Path) -> None:
    """A clock that runs or is over, entries that nobody could read, both jaws of a case, a case that was called off."""
    with desk(tmp_path / "data", lab=LAB3) as at:
        jaw, who = at.jaw, seat(at.jaw)
        deliver(at.client, [fact(jaw, jaw="1AAAA", case=""), {"id": "x"}])
        jaw.run_to("tack-light")
        watched = ["/desk/today", "/desk/marks"]
        assert bare(at, "/desk/today") == []
        jaw.now[0] += 40 * 60_000
        at.sit(*THIRD)
        assert bare(at, *watched) == []
        jaw.run_to("cool-down")
        at.sit(*THIRD)
        english = [one.title for one in due(jaw.bench)]
        with speaking():
            assert [one.title for one in due(jaw.bench)] == [f"⟦{title}⟧" for title in english] != []
        assert [one.title for one in due(jaw.bench)] == english
        assert bare(at, "/desk/today") == []
        upper, lower = second(at)
        pair = [f"/desk/case/{upper.opened.code}", f"/desk/case/{upper.opened.code}/release"]
        assert bare(at, *pair) == []
        upper.run_to()
        at.sit(*THIRD)
        assert bare(at, *pair) == []
        lower.run_to()
        at.sit(*THIRD)
        with speaking():
            at.post(f"/desk/case/{upper.opened.code}/pair", outcome="not-mounted")
        assert bare(at, *pair) == []
        orders.cancel(jaw.bench, who, jaw.opened.code, "it was called off")
        assert bare(at, *pages_of(jaw)) == []


def test_what_is_wrong_with_a_form(tmp_path: Path) -> None:
    """Faults name the field, what is wrong and how to mend it; nothing of that is bare."""
    with desk(tmp_path / "data", lab=LAB3, case=ALLERGIC) as at:
        code, jaw = at.jaw.opened.code, at.jaw.code
        options = ("barrier", "character", "mark")
        typed = {"order": "", "patient": "P-3", "due": "soon", "shade": "x" * 90, "allergy": "perhaps", "jaw": []}
        data = (*options, "perhaps", "soon")
        assert bare_answer(at, "/desk/cases/new", data=data, **FORM | typed) == []
        teeth = {"upper_teeth": ["17", "41", "17"], "upper_revision_base": ""}
        assert bare_answer(at, "/desk/cases/new", data=options, **FORM | teeth) == []
        order = f"/desk/cases/{code}/order"
        assert bare_answer(at, f"{order}/correct", allergy="no", due="x", shade="", data=("x",)) == []
        assert bare_answer(at, f"{order}/allergy", goes_on="yes", by="", on="2030-01-01") == []
        assert bare_answer(at, f"{order}/allergy", goes_on="perhaps") == []
        assert bare_answer(at, f"{order}/cancel", why="") == []
        assert bare_answer(at, f"{order}/reopen") == []
        assert bare_answer(at, f"/desk/case/{code}/pair", outcome="right") == []
        again = f"/desk/jaw/{jaw}/remake"
        assert bare_answer(at, again, what="jaw") == []
        assert bare_answer(at, again, what="part", part="base", reason="damaged", bearer="lab") == []
        assert bare_answer(at, f"/desk/jaw/{jaw}/release", pin="1") == []
        assert bare_answer(at, f"/desk/jaw/{jaw}/after/sent", on="x", means="") == []
        assert bare_answer(at, f"/desk/deviations/{jaw}", event="x", outcome="twist") == []
        assert bare_answer(at, "/desk/marks/seen", 404, key="x") == []
        assert bare_answer(at, "/desk/protocol/editions", data=("file",)) == []


def test_a_list_of_orders(tmp_path: Path) -> None:
    """Rows with every sort of fault, rows that are sound, and what was taken in."""
    faulty = (
        "L-2;P-8;;soon;light;rose;both;17-37;;more\nL-3;P-9;Practice;15.01.2027;light;rose;perhaps;;\n"
        "L-4;P-9;Practice;15.01.2027;light;rose;upper;17-27 47-37;\n"
        "L-5;P-9;Practice;15.01.2027;light;rose;both;17-27;\n"
        f"L-6;P-9;{'x' * 1001};15.01.2027;light;rose;upper;;\nL-7;P-9;Practice;15.01.2027;light;rose;upper;17 17;\n"
    )
    data = (*LIST.strip().split(";"), *(f"L-{n}" for n in range(1, 8)), "P-7", "P-8", "P-9", "Practice", "light",
            "rose", "both", "soon", "perhaps", "upper", "list.csv")
    with desk(tmp_path / "data") as at:
        with speaking():
            address = shown_list(at, (LIST + SOUND + SOUND + faulty).encode())
        assert bare(at, address, data=data) == []
        assert bare_answer(at, f"{address}/import", data=data) == []
        assert bare_answer(at, f"{address}/columns", data=data, order="Order", patient="Order") == []
        with speaking():
            at.post(f"{address}/import", row=["2"])
        assert bare(at, address, data=data) == []
