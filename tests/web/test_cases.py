"""The desk's pages of cases: list and search, a new case, its order, lists of orders, and the first page's search."""

import re
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from benchapp.actions.cases import all_cases
from benchapp.actions.jaws import case_as_it_is
from benchapp.actions.overview import case_glances
from benchapp.actions.settings import setting
from benchapp.core.orders import MOST_BYTES
from tests.web.desks import TECHNICIAN, Desk, desk

NASTY = '"><script>window.ran=1</script>'
SECOND = {"jaw": ["upper", "lower"], "lower_revision_base": "A", "lower_revision_arch": "A",
          "lower_print_job_base": "J", "lower_print_job_arch": "J"}
FORM: dict[str, Any] = {
    "order": "N-1", "patient": "P-3", "prescriber": "Practice at the weir", "pan": "31", "kind": "new",
    "due": "2026-12-05", "surgery": "", "shade": "light", "tint": "rose", "allergy": "no", "opposing": "denture",
    "bite": "", "mounting": "", "tryin": "", "marking": "", "marking_words": "", "jaw": ["upper"],
    "upper_teeth": ["17", "16", "11", "21"], "upper_revision_base": "A", "upper_revision_arch": "A",
    "upper_print_job_base": "J-1", "upper_print_job_arch": "J-2", "lower_teeth": ["41", "31"],
}
LIST = "Order;Patient;Clinic;Due;Shade;Base tint;Jaw;Teeth;Pan\n"
SOUND = "L-1;P-7;Practice;15.01.2027;light;rose;both;;21\n"


def words(page: str) -> str:
    """Return what a page says, without its tags."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def added(at: Desk, **changed: Any) -> str:
    """Take a case in by the form; return its code."""
    at.post("/desk/cases/new", **FORM | changed)
    return str(all_cases(at.jaw.bench)[-1]["code"])


def upload(at: Desk, address: str, data: bytes, status: int = 303, name: str = "list.csv") -> Any:
    """Send a file, as a browser does; written by hand, since the client leaves files open for a large one."""
    head = f'--cut\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'.encode()
    answer = at.client.post(
        address, data=head + data + b"\r\n--cut--\r\n", content_type="multipart/form-data; boundary=cut"
    )
    assert answer.status_code == status, (answer.status_code, words(answer.text)[:400])
    return answer


def shown_list(at: Desk, data: bytes) -> str:
    """Send a list of orders; return the address of its rows."""
    return str(upload(at, "/desk/cases/orders", data).headers["Location"])


def test_a_case_is_typed_in(tmp_path: Path) -> None:
    """The form makes a case as the sheet does, with who did it; the next page has its codes, labels and the bench."""
    with desk(tmp_path / "data", TECHNICIAN) as at:
        answer = at.client.post("/desk/cases/new", data=FORM)
        code = all_cases(at.jaw.bench)[-1]["code"]
        assert answer.headers["Location"] == f"/desk/cases/{code}/codes"
        case = case_as_it_is(at.jaw.bench.store, code)
        assert [(jaw["jaw"], jaw["teeth"]) for jaw in case["jaws"]] == [("upper", [17, 16, 11, 21])]
        assert (case["due"], case["opposing"], case["training"]) == ("2026-12-05", "denture", 0)
        page = at.get(f"/desk/cases/{code}/codes")
        jaw = case["jaws"][0]
        assert f'href="/labels/{jaw["code"]}.pdf"' in page and f'href="/bench/{jaw["code"]}"' in page
        for one in (code, jaw["code"], *(part["code"] for part in jaw["parts"])):
            assert f"{one[:4]} {one[4:7]} {one[7:]}" in page
        assert at.client.get(f"/labels/{jaw['code']}.pdf").data.startswith(b"%PDF")
        assert "Łukasz Wiśniewski" in at.get(f"/desk/cases/{code}/order")


def test_the_usual_fourteen_are_ticked_beforehand(tmp_path: Path) -> None:
    """A fresh form has the 14 teeth of each jaw ticked, in the row order of ISO 3950, the wisdom teeth not."""
    with desk(tmp_path / "data") as at:
        page = at.get("/desk/cases/new")
        boxes = re.findall(r'name="upper_teeth" value="(\d\d)"( checked)?', page)
        assert [int(tooth) for tooth, _ in boxes] == [18, 17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27, 28]
        assert [tooth for tooth, ticked in boxes if not ticked] == ["18", "28"]
        assert len(re.findall(r'name="lower_teeth" value="\d\d" checked', page)) == 14


@pytest.mark.parametrize(("changed", "said"), [
    ({"order": ""}, "Order: nothing stands here"), ({"due": ""}, "Due: nothing stands here"),
    ({"due": "5 December"}, "Due: '5 December' is no day"), ({"kind": "old"}, "Kind: 'old' is none"),
    ({"jaw": []}, "Jaws: no jaw is ticked"), ({"upper_teeth": ["11"]}, "Upper jaw, teeth: An arch has at least two"),
    ({"upper_teeth": ["11", "31"]}, "Tooth 31 belongs to the lower jaw"), ({"upper_teeth": ["x", "11"]}, "no tooth"),
    ({"upper_revision_base": ""}, "Upper jaw, revision of the base: nothing stands here"),
    ({"upper_print_job_arch": "y" * 81}, "Upper jaw, print job of the arch: longer than 80"),
    ({"options": ["glow"]}, "no option glow"), ({"order": "T-2026-0017", "patient": "Żuraw 17"}, "was added before"),
    ({"marking_words": "AB 7"}, "without a mark"),
])
def test_a_faulty_form_comes_back_as_it_was_typed(changed: dict[str, Any], said: str, tmp_path: Path) -> None:
    """Each fault is a sentence; nothing is stored, and every other field stands as it was typed."""
    with desk(tmp_path / "data") as at:
        before = at.jaw.bench.store.tip()
        typed = FORM | {"prescriber": "Kept as typed", "lower_teeth": ["46", "31"], "bite": "scanned"} | changed
        page = at.post("/desk/cases/new", 422, **typed)
        assert said in words(page)
        assert 'value="Kept as typed"' in page and '<option value="scanned" selected>scanned</option>' in page
        assert re.findall(r'name="lower_teeth" value="(\d\d)" checked', page) == ["46", "31"]
        if changed.get("due"):
            assert 'value="5 December"' in page
        assert at.jaw.bench.store.tip() == before


def test_all_faults_of_a_form_come_at_once(tmp_path: Path) -> None:
    """Three wrong fields are three sentences."""
    with desk(tmp_path / "data") as at:
        page = words(at.post("/desk/cases/new", 422, **FORM | {"order": "", "shade": "", "due": "x"}))
        assert "Order: nothing" in page and "Tooth shade: nothing" in page and "Due: 'x'" in page


SHEET = """
format = 1
[case]
patient = "P-4"
prescriber = "Practice"
order = "S-1"
kind = "new"
due = 2031-01-15
shade = "light"
tint = "rose"
allergy = "no"
[[jaws]]
jaw = "lower"
teeth = [41, 31]
parts = [{ part = "base", revision = "A", print_job = "J-1" }, { part = "arch", revision = "A", print_job = "J-2" }]
"""


def test_a_sheet_is_chosen_as_a_file(tmp_path: Path) -> None:
    """A sheet makes a case once; faults, another encoding, too much and nothing at all are answered in sentences."""
    with desk(tmp_path / "data") as at:
        to = "/desk/cases/new/sheet"
        upload(at, to, b"\xef\xbb\xbf" + SHEET.encode())
        assert case_glances(at.jaw.bench)[-1].order == "S-1"
        before = at.jaw.bench.store.tip()
        for data, said in (
            (SHEET.encode(), "was added before"), (SHEET.replace("41, 31", "41, 11").encode(), "belongs to the upper"),
            ("ż".encode("utf-16"), "not UTF-8"), (b"", "nothing was chosen"), (b"#" * 200_001, "larger than 200 kB"),
            (b"#" * 5_000_000, "larger than 200 kB"),
        ):
            assert said in words(upload(at, to, data, 422, "sheet.toml").text)
        assert at.jaw.bench.store.tip() == before
        named = SHEET.replace("S-1", "S-2").replace('"J-1"', '"J-1", mesh = "base<1>.stl"')
        accepted = words(at.get(upload(at, to, named.encode()).headers["Location"]))
        assert "The sheet names design files (base<1>.stl): attach them on the page of the case." in accepted


def test_the_list_finds_by_each_key_and_filters(tmp_path: Path) -> None:
    """Search by patient, order, prescriber, pan and codes; filters by late, held and why, cancelled, training."""
    with desk(tmp_path / "data") as at:
        late = added(at, order="N-2", pan="32", due="2026-11-20", patient="P-9", **SECOND)
        drill = added(at, order="N-3", pan="33", training="yes", prescriber="School")
        at.jaw.fact("hold", picks={"reason": "ask-the-clinic"})

        def found(query: str) -> list[str]:
            full, part = at.get(f"/desk/cases?{query}"), at.get(f"/desk/cases/list?{query}")
            cases = re.findall(r'data-case="(\w+)"', full)
            assert re.findall(r'data-case="(\w+)"', part) == cases
            return cases

        mine = at.jaw.opened.code
        part = case_as_it_is(at.jaw.bench.store, drill)["jaws"][0]["parts"][1]["code"]
        assert found("") == [late, mine, drill]  # by the day they are due
        for key, code in (("P-9", late), ("N-2", late), ("School", drill), ("33", drill), (part, drill),
                          (at.jaw.code, mine), (late, late), ("%C5%BCuraw", mine)):
            assert found(f"q={key}") == [code], key
        assert found("state=late") == [late] and found("state=training") == [drill]
        assert found("state=held") == found("state=held:ask-the-clinic") == [mine]
        assert found("state=held:other") == found("state=%3Cb%3E") == []
        assert found("hide=1") == [late, mine]
        page = words(at.get("/desk/cases?state=held"))
        assert "on hold: The clinic must answer" in page and "order accepted" not in page
        assert "4 days ago" in words(at.get("/desk/cases?state=late"))
        at.post(f"/desk/cases/{late}/order/cancel", why="Twice")
        assert found("state=cancelled") == [late] and found("state=late") == []


def test_the_address_follows_the_live_search(tmp_path: Path) -> None:
    """The rows that are sent while somebody types carry the address that shows the same list again."""
    with desk(tmp_path / "data") as at:
        answer = at.client.get("/desk/cases/list?q=%C5%BCuraw&state=work&page=1")
        assert answer.headers["HX-Replace-Url"] == "/desk/cases?q=%C5%BCuraw&state=work"
        assert at.jaw.opened.code in at.get(answer.headers["HX-Replace-Url"])


def test_a_long_list_has_pages(tmp_path: Path) -> None:
    """Fifty cases a page; a page that is not there shows the last one."""
    with desk(tmp_path / "data") as at:
        for number in range(60):
            added(at, order=f"M-{number:03}", patient="P", due="2027-01-01")
        first, second = at.get("/desk/cases"), at.get("/desk/cases?page=2")
        assert len(re.findall("data-case", first)) == 50 and len(re.findall("data-case", second)) == 11
        assert "61 cases, page 1 of 2" in words(first) and 'href="/desk/cases?page=2"' in first
        assert len(re.findall("data-case", at.get("/desk/cases?page=99"))) == 11
        assert "page 1 of 2" in words(at.get("/desk/cases?page=x"))


def test_an_empty_list_says_what_to_do(tmp_path: Path) -> None:
    """No match says how to widen the search."""
    with desk(tmp_path / "data") as at:
        assert "Take a word out of the search" in words(at.get("/desk/cases?q=nobody"))


def test_a_correction_that_is_refused_keeps_what_was_typed(tmp_path: Path) -> None:
    """A wrong day comes back with everything typed; a right one is stored and shown with the old value."""
    with desk(tmp_path / "data", TECHNICIAN) as at:
        to = f"/desk/cases/{at.jaw.opened.code}/order"
        page = at.post(f"{to}/correct", 422, due="32.12.2026", shade="light 9", pan="44")
        assert "Due: '32.12.2026' is no day" in words(page)
        assert 'value="32.12.2026"' in page and 'value="light 9"' in page and 'value="44"' in page
        at.post(f"{to}/correct", due="24.12.2026", shade="light 9", pan="44")
        page = at.get(to)
        assert "Due: 2026-12-01 → 2026-12-24" in words(page) and "Pan: nothing → 44" in words(page)
        assert "Łukasz Wiśniewski" in words(page) and "Europe/Warsaw" in page
        assert "light 9" in at.get(f"/record/{at.jaw.code}")


def test_cancelling_asks_why_and_can_be_taken_back(tmp_path: Path) -> None:
    """Without a reason nothing happens; with one the case is cancelled, said so in the list, and can go on."""
    with desk(tmp_path / "data") as at:
        to = f"/desk/cases/{at.jaw.opened.code}/order"
        assert "Why: nothing stands here" in words(at.post(f"{to}/cancel", 422, why="  "))
        at.post(f"{to}/cancel", why="Patient moved away")
        page = words(at.get(to))
        assert "Why: Patient moved away" in page and "The case goes on" in page
        assert "cancelled" in words(at.get("/desk/cases")) and at.jaw.code not in at.get("/")
        at.post(f"{to}/reopen")
        assert "Cancel this case" in words(at.get(to)) and at.jaw.code in at.get("/")


def test_the_allergy_path(tmp_path: Path) -> None:
    """Held until the decision is entered; the page says who decides; a half-filled decision keeps what was typed."""
    with desk(tmp_path / "data") as at:
        code = added(at, allergy="yes")
        to = f"/desk/cases/{code}/order"
        assert "decided by a licensed professional, never here" in words(at.get(to))
        assert "on hold: Allergy: waits for a decision" in words(at.get("/desk/cases?state=allergy"))
        page = at.post(f"{to}/allergy", 422, by="Dr. Nobody", on="2026-11-24")
        assert "Say what was decided" in words(page) and 'value="Dr. Nobody"' in page
        assert "still to come" in words(at.post(f"{to}/allergy", 422, by="Dr. Nobody", on="2030-01-01", goes_on="yes"))
        at.post(f"{to}/allergy", by="Dr. Nobody", on="2026-11-24", goes_on="yes")
        assert "Decided by Dr. Nobody on 2026-11-24: work goes on" in words(at.get(to))
        assert not case_glances(at.jaw.bench)[-1].jaws[0].held


def test_who_may_do_what(tmp_path: Path) -> None:
    """A technician reads, takes in and corrects; cancelling, deciding and lists are a supervisor's; others sign in."""
    with desk(tmp_path / "data", TECHNICIAN) as at:
        to = f"/desk/cases/{at.jaw.opened.code}/order"
        before = at.jaw.bench.store.tip()
        for address in (f"{to}/cancel", f"{to}/reopen", f"{to}/allergy", "/desk/cases/orders",
                        "/desk/cases/orders/x/columns", "/desk/cases/orders/x/import"):
            at.post(address, 403, why="x", by="x", on="2026-11-24", goes_on="yes")
        at.get("/desk/cases/orders", 403)
        page = at.get(to)
        assert "Cancel this case" not in page and "List of orders" not in at.get("/desk/cases")
        assert at.jaw.bench.store.tip() == before
        at.client.post("/desk/signout")
        for address in ("/desk/cases", "/desk/cases/new", to, "/desk/cases/orders", "/desk/cases/list"):
            assert "/desk/signin" in at.client.get(address).headers["Location"]
        assert at.client.post("/desk/cases/new", data=FORM).status_code == 401


def test_a_list_is_looked_through_and_taken_in_once(tmp_path: Path) -> None:
    """Every row is shown with its faults; the rows ticked become cases; the same list again adds nothing."""
    with desk(tmp_path / "data") as at:
        faulty = "L-2;P-7;Practice;soon;light;rose;upper;17-37;22\n"
        data = (LIST + SOUND + faulty + SOUND.replace("L-1", "L-3")).encode()
        address = shown_list(at, data)
        page = at.get(address)
        assert "3 rows: 2 can be taken in, 0 known already, 1 with faults" in words(page)
        assert "Due: 'soon' is no day" in words(page) and "runs from one jaw into the other" in words(page)
        assert re.findall(r'name="row" value="(\d+)"', page) == ["2", "4"]
        assert "No sound row is ticked" in words(at.post(f"{address}/import", 422, row=["3", "99", "x"]))
        at.post(f"{address}/import", row=["2", "3"])
        page = at.get(address)
        assert "1 case accepted" in words(page) and "Known already" in words(page)
        assert [case.order for case in case_glances(at.jaw.bench)] == ["T-2026-0017", "L-1"]
        before = at.jaw.bench.store.tip()
        again = shown_list(at, data)
        assert "1 can be taken in, 1 known already" in words(at.get(again))
        at.post(f"{again}/import", row=["2"])
        assert "0 cases accepted, 1 row known already" in words(at.get(again))
        assert at.jaw.bench.store.tip() == before


def test_the_columns_are_named_once(tmp_path: Path) -> None:
    """Headings that nobody could guess are chosen by hand, remembered, and used for the next list; a gap is refused."""
    with desk(tmp_path / "data") as at:
        data = ("Nr;Wer;Praxis;Bis;Farbe;Rosa;Kiefer\n" + "L-1;P-7;Practice;15.01.2027;light;rose;upper\n").encode()
        address = shown_list(at, data)
        assert "0 can be taken in" in words(at.get(address))
        mapping = {"order": "Nr", "patient": "Wer", "prescriber": "Praxis", "due": "Bis", "shade": "Farbe",
                   "tint": "Rosa", "jaws": "Kiefer"}
        page = at.post(f"{address}/columns", 422, **mapping | {"tint": ""})
        assert "Base tint: no heading is chosen" in words(page) and "<option selected>Kiefer</option>" in page
        at.post(f"{address}/columns", **mapping)
        assert '"Kiefer"' in setting(at.jaw.bench, "csv_map")
        assert "1 can be taken in" in words(at.get(address))
        assert "1 can be taken in" in words(at.get(shown_list(at, data.replace(b"L-1", b"L-2"))))


def test_a_file_that_is_no_list_is_answered(tmp_path: Path) -> None:
    """Wrong encoding, nothing, too much: a sentence and the page again; a list that is gone says so."""
    with desk(tmp_path / "data") as at:
        for data, said in (("Ż;x".encode("utf-16"), "not UTF-8"), (b"", "nothing stands in it"),
                           (b"x" * (MOST_BYTES + 1), "larger than 1 MB"), (b"x" * 5_000_000, "larger than 1 MB")):
            assert said in words(upload(at, "/desk/cases/orders", data, 422).text)
        assert "not at hand any more" in words(at.get("/desk/cases/orders/gone", 409))


def test_the_sample_list_can_be_taken_in(tmp_path: Path) -> None:
    """The list to start from is read by our own reader without a fault."""
    with desk(tmp_path / "data") as at:
        data = at.client.get("/desk/cases/orders/sample.csv").data
        assert "1 can be taken in, 0 known already, 0 with faults" in words(at.get(shown_list(at, data)))


def test_a_script_in_any_field_is_shown_as_words(tmp_path: Path) -> None:
    """A script typed into every text field stands letter by letter on list, form, order, codes, rows and first page."""
    with desk(tmp_path / "data") as at:
        texts = {name: f"{NASTY}{name}" for name in (
            "order", "patient", "prescriber", "pan", "shade", "tint", "marking_words", "upper_revision_base",
            "upper_revision_arch", "upper_print_job_base", "upper_print_job_arch")}
        pages = [at.post("/desk/cases/new", 422, **FORM | texts | {"kind": NASTY, "due": NASTY})]
        code = added(at, **texts, marking="yes", allergy="yes", **SECOND)
        to = f"/desk/cases/{code}/order"
        pages.append(at.post(f"{to}/allergy", 422, by=NASTY, on=NASTY, goes_on="yes"))
        at.post(f"{to}/allergy", by=NASTY, on="2026-11-24", goes_on="no")
        at.post(f"{to}/correct", patient=f"{NASTY}again")
        pages.append(at.post(f"{to}/correct", 422, patient="", order=NASTY, kind=NASTY))
        pages.append(at.post(f"{to}/cancel", 422, why=NASTY * 20))
        pages += [at.get(a) for a in (
            "/desk/cases", f"/desk/cases/{code}/codes", to, f"/find?code={code}", "/",
            "/desk/cases?q=%22%3E%3Cscript%3E&state=%22%3E%3Cscript%3E")]
        at.post(f"{to}/cancel", why=NASTY)
        pages.append(at.get(to))
        heading = NASTY.replace('"', "")
        address = shown_list(at, f"{heading};Patient\n{heading};{heading}\n".encode())
        pages.append(at.get(address))
        for page in pages:
            assert "<script>window" not in page
        assert sum("window.ran=1" in page for page in pages) >= 10


def test_the_first_page_finds_pans_and_orders(tmp_path: Path) -> None:
    """A pan or order of one jaw leads to it; of two jaws, or of two cases, to a choice; an unknown one says so."""
    with desk(tmp_path / "data") as at:
        code = added(at, order="N-2", pan="Box 5", **SECOND)
        jaws = [jaw["code"] for jaw in case_as_it_is(at.jaw.bench.store, code)["jaws"]]
        assert at.client.get("/find?code=t-2026-0017").headers["Location"] == f"/bench/{at.jaw.code}"
        page = at.get("/find?code=box+5")
        assert all(f'href="/bench/{jaw}"' in page for jaw in jaws) and at.jaw.code not in page
        assert all(f'href="/bench/{jaw}"' in at.get(f"/find?code={code}") for jaw in jaws)
        other = added(at, order="N-3", pan="Box 5")
        page = at.get("/find?code=Box+5")
        assert case_as_it_is(at.jaw.bench.store, other)["jaws"][0]["code"] in page and jaws[0] in page
        said = words(at.get("/find?code=Box+6", 404))
        assert "No case in work has the pan or the order 'Box 6'" in said
        json = {"Accept": "application/json"}
        assert at.client.get("/find?code=N-3", headers=json).get_json()["to"].startswith("/bench/")
        assert at.client.get("/find?code=Box+5", headers=json).get_json()["to"].startswith("/find?code=Box")
        assert "ten characters" in at.client.get("/find?code=xyz", headers=json).get_json()["error"]


def test_the_list_asks_the_journal_a_bounded_number_of_times(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Once the jaws are known, the list of 30 cases opens no jaw anew, and a new fact opens only its own."""
    with desk(tmp_path / "data") as at:
        for number in range(30):
            added(at, order=f"M-{number}")
        at.get("/desk/cases")
        opened: list[str] = []
        from benchapp.actions import jaws

        real = jaws._open

        def counted(code: str, source: Any) -> Any:
            opened.append(code)
            return real(code, source)

        monkeypatch.setattr(jaws, "_open", counted)
        at.get("/desk/cases")
        assert opened == []
        at.jaw.main()
        opened.clear()
        at.get("/desk/cases")
        assert opened == [at.jaw.code]
