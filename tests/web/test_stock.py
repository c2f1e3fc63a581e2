"""Materials and devices at the desk: who may do what, what is refused, what is shown, which cases got a lot."""

import io
import re
from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from pypdf import PdfReader

from benchapp.actions.stock import things
from benchapp.core.stock import Thing
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk

NASTY = "<script>x</script>"
SAFE = "&lt;script&gt;x&lt;/script&gt;"
NEW = {"name": "Bond clear", "kind": "bonding-resin", "lot": "L-90", "expiry": "2027-01-31"}
TODAY = "2026-11-24"  # of the clock in `worked`, in the lab's zone


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    """A supervisor at the desk of a lab with one lot, one lamp and one chamber."""
    with desk(tmp_path / "data") as found:
        yield found


def the(at: Desk, kind: str) -> Thing:
    """Return the newest thing of a kind."""
    return next(t for t in reversed(things(at.jaw.bench)) if t.kind == kind)


def page_of(at: Desk, kind: str) -> str:
    """Return the address of a thing's page."""
    thing = the(at, kind)
    return f"/desk/{'materials' if thing.of == 'material' else 'devices'}/{thing.code}"


def count(at: Desk) -> int:
    """Return how many entries the journal has."""
    return at.jaw.bench.store.tip().seq


def test_a_lot_is_added_and_listed(at: Desk) -> None:
    """A technician adds a lot; the list shows its state first, its page its history with who added it."""
    at.sit(*TECHNICIAN)
    at.post("/desk/materials/new", **NEW, tint="rose 2", band_low="385", band_high="410")
    lot = the(at, "bonding-resin")
    assert (lot.lot, lot.expiry, lot.band, lot.tint) == ("L-90", "2027-01-31", (385, 410), "rose 2")
    shown = at.get(f"/desk/materials/{lot.code}")
    assert lot.code in shown and "385 to 410 nm" in shown and TECHNICIAN[0] in shown and "added" in shown
    listed = at.get("/desk/materials")
    row = listed[:listed.index("Bond clear")].rpartition("<tr>")[2]
    assert re.search(r'<td><span class="word" data-kind="fit">fit</span>', row)


@pytest.mark.parametrize(("wrong", "words"), [
    ({"expiry": ""}, "Last day of use: nothing stands there"), ({"expiry": "31.1.2027"}, "is not a day"),
    ({"expiry": "1999-01-01"}, "not a day from 2000"), ({"kind": "Bönding!"}, "this is no kind"),
    ({"band_low": "385"}, "not a band of light"), ({"band_low": "x", "band_high": "410"}, "is no whole number"),
    ({"after_opening": "-3"}, "is no whole number"), ({"after_opening": "99999"}, "Keeps once opened"),
    ({"name": "n" * 81}, "Name:"), ({"lot": "L\x00"}, "Lot:"), ({"name": " "}, "Name: nothing stands there"),
])
def test_a_wrong_form_comes_back_with_every_word(at: Desk, wrong: dict[str, str], words: str) -> None:
    """What was typed stands there again, the fault above it, and nothing is stored."""
    before = count(at)
    shown = at.post("/desk/materials/new", 422, **(NEW | {"shade": f"kept {NASTY}"} | wrong))
    assert words in shown.replace("&#39;", "'")
    assert f"kept {SAFE}" in shown and NASTY not in shown and "Nothing was changed yet" in shown
    assert count(at) == before


def test_every_fault_of_a_form_at_once(at: Desk) -> None:
    """Two wrong fields are two sentences."""
    shown = at.post("/desk/materials/new", 422, **(NEW | {"expiry": "soon", "after_opening": "many"}))
    assert shown.count("<li>") >= 2 and "Last day of use:" in shown and "Keeps once opened:" in shown


def test_the_same_lot_twice_is_refused(at: Desk) -> None:
    """The form sent twice, or with other capitals, makes one lot; the answer names the first one's code."""
    at.post("/desk/materials/new", **NEW)
    before = count(at)
    shown = at.post("/desk/materials/new", 422, **(NEW | {"name": "BOND  clear"}))
    assert the(at, "bonding-resin").code in shown and count(at) == before
    at.post("/desk/devices/new", name="Lamp Grebe", kind="Lamp")
    assert "stands on the shelf already" in at.post("/desk/devices/new", 422, name="lamp grebe", kind="lamp")


def test_roles(at: Desk) -> None:
    """A technician adds lots, marks them opened or spent, and nothing else; the answer says what it takes."""
    lot, lamp = page_of(at, "bonding-resin"), page_of(at, "lamp")
    at.sit(*TECHNICIAN)
    before = count(at)
    for address in (f"{lot}/edit", f"{lot}/block", f"{lot}/unblock", f"{lamp}/checked", f"{lamp}/block",
                    f"{lamp}/edit"):
        assert "takes a supervisor" in at.post(address, 403, reason="r", day=TODAY, **NEW), address
    assert "takes a supervisor" in at.post(f"{lamp}/spent", 403)
    assert "takes a supervisor" in at.post("/desk/devices/new", 403, name="Lamp x", kind="lamp")
    assert "takes a supervisor" in at.get(f"{lot}/edit", 403)
    assert count(at) == before
    shown = at.get(lamp)
    assert "/block" not in shown and "/edit" not in shown and "/spent" not in shown
    at.post(f"{lot}/opened", day=TODAY)
    at.post(f"{lot}/spent")
    assert (the(at, "bonding-resin").opened, the(at, "bonding-resin").spent) == (TODAY, 1)


def test_nobody_signed_in_is_led_to_the_door(at: Desk) -> None:
    """Without a sitting no page of the shelf is shown and nothing is stored."""
    lot = page_of(at, "bonding-resin")
    at.client.post("/desk/signout")
    before = count(at)
    for address in ("/desk/materials", "/desk/devices", lot, f"{lot}/label.pdf", f"{lot}/edit"):
        assert "/desk/signin" in at.client.get(address).headers["Location"]
    assert at.client.post(f"{lot}/spent").status_code == 401
    assert count(at) == before


def test_blocked_with_a_reason_and_unblocked(at: Desk) -> None:
    """A block needs a reason, is shown with it in list, page and history, and is stored once when sent twice."""
    lot = page_of(at, "bonding-resin")
    assert "Say why it is blocked" in at.post(f"{lot}/block", 422, reason="  ")
    at.post(f"{lot}/block", reason=f"recalled {NASTY}")
    before = count(at)
    at.post(f"{lot}/block", reason=f" recalled  {NASTY} ")
    assert count(at) == before
    assert "nothing was changed" in at.get(lot)
    for shown in (at.get(lot), at.get("/desk/materials")):
        assert f"recalled {SAFE}" in shown and NASTY not in shown and ">blocked</span>" in shown
    at.post(f"{lot}/unblock")
    at.post(f"{lot}/unblock")
    assert count(at) == before + 1
    shown = at.get(lot)
    assert "unblocked" in shown and ">blocked</span>" not in shown and f"blocked: recalled {SAFE}" in shown


def test_opened_spent_and_taken_back(at: Desk) -> None:
    """A lot is opened on a day that is not ahead, spent, and both are taken back; each is told in its history."""
    lot = page_of(at, "bonding-resin")
    assert "lies ahead" in at.post(f"{lot}/opened", 422, day="2026-11-25")
    assert "is not a day" in at.post(f"{lot}/opened", 422, day="yesterday")
    at.post(f"{lot}/opened", day="2026-11-20")
    at.post(f"{lot}/opened", day="2026-11-21", closed="1")
    assert the(at, "bonding-resin").opened == ""
    before = count(at)
    at.post(f"{lot}/spent")
    at.post(f"{lot}/spent")
    assert count(at) == before + 1
    assert "the bench no longer offers them" in at.get("/desk/materials")
    at.post(f"{lot}/spent", back="1")
    shown = at.get(lot)
    for words in ("opened on 2026-11-20", "not opened after all", "spent", "not spent after all"):
        assert words in shown


def test_a_device_is_checked(at: Desk) -> None:
    """A check with the next date is stored; a day ahead or the next before this one is refused."""
    lamp = page_of(at, "lamp")
    assert "lies ahead" in at.post(f"{lamp}/checked", 422, day="2026-12-01")
    assert "Put the two days in order" in at.post(f"{lamp}/checked", 422, day=TODAY, due="2026-11-01")
    assert "Fill it in" in at.post(f"{lamp}/checked", 422, due="2027-11-01")
    at.post(f"{lamp}/checked", day="2026-11-01", due="2026-11-30")
    assert "check due in 6 days" in at.get("/desk/devices")
    at.jaw.now[0] += 7 * 24 * 3600_000
    at.sit(*SUPERVISOR)
    assert "check overdue" in at.get("/desk/devices")
    assert at.client.post(f"/desk/materials/{the(at, 'bonding-resin').code}/checked").status_code in (404, 405)


def test_a_correction_keeps_what_was_said(at: Desk) -> None:
    """A corrected lot shows the new words, its history the old ones; a form that was overtaken is refused."""
    lot = page_of(at, "bonding-resin")
    form = at.get(f"{lot}/edit")
    seen = re.search(r'name="seen" value="([^"]+)"', form)
    assert seen and 'value="L-77"' in form
    told = {"name": f"Bond {NASTY}", "kind": "bonding-resin", "lot": "L-78", "expiry": "2031-06-30", "seen": seen[1]}
    at.post(f"{lot}/edit", **told)
    shown = at.get(lot)
    assert f"Bond {SAFE}, lot L-78" in shown and NASTY not in shown and "lot: L-77 → L-78" in shown
    assert SAFE in at.get("/desk/materials") and NASTY not in at.get("/desk/materials")
    before = count(at)
    again = at.post(f"{lot}/edit", 422, **(told | {"lot": "L-79"}))
    assert "Somebody changed this in the meantime" in again and 'value="L-79"' in again and count(at) == before
    fresh = re.search(r'name="seen" value="([^"]+)"', again)
    assert fresh and fresh[1] != seen[1]
    at.post(f"{lot}/edit", **(told | {"seen": fresh[1]}))
    assert count(at) == before and "Nothing was changed." in at.get(lot)


def test_a_block_outlives_a_correction(at: Desk) -> None:
    """Correcting a blocked lot leaves it blocked for the same reason."""
    lot = page_of(at, "bonding-resin")
    at.post(f"{lot}/block", reason="recalled")
    seen = re.search(r'name="seen" value="([^"]+)"', at.get(f"{lot}/edit"))
    assert seen
    at.post(f"{lot}/edit", seen=seen[1], name="Bond new", kind="bonding-resin", lot="L-77", expiry="2031-06-30")
    found = the(at, "bonding-resin")
    assert (found.name, found.blocked, found.reason) == ("Bond new", 1, "recalled")


def test_which_cases_got_this_lot(at: Desk) -> None:
    """The jaw whose fact picked the lot is listed with case, patient code, step, who and where it is now."""
    lot = page_of(at, "bonding-resin")
    assert "Nobody has picked it" in at.get(lot)
    at.jaw.run_to("lay-out")
    at.jaw.main()
    taken = at.get(lot)
    for words in (at.jaw.code, at.jaw.opened.code, "Żuraw 17", "Lay everything out", TECHNICIAN[0], "Clean both parts",
                  "Picked in 1 jaw of 1 case", "Europe/Warsaw"):
        assert words in taken, words
    assert "Picked in 1 jaw" in at.get(page_of(at, "lamp"))
    assert "Nobody has picked it" in at.get(page_of(at, "chamber"))
    picked = at.jaw.line.state["log"][-1]["id"]
    at.jaw.fact("undo", undo=picked)
    undone = at.get(lot)
    assert "Picked in 0 jaws of 0 cases" in undone and "not counted: taken back or not taken" in undone


def test_the_list_is_searched(at: Desk) -> None:
    """A word of the name, the lot or the whole code in groups finds a lot; what fits nothing says so, escaped."""
    at.post("/desk/materials/new", **NEW)
    code = the(at, "bonding-resin").code
    for asked in ("clear", "L-90", code, f"{code[:4]} {code[4:7]} {code[7:]}".lower()):
        shown = at.get(f"/desk/materials?q={asked}")
        assert "Bond clear" in shown and "Bond pink" not in shown, asked
    assert SAFE in at.get(f"/desk/materials?q={NASTY}")


def test_labels_are_read_back(at: Desk) -> None:
    """The label's symbol, read by an independent reader, is the code; its words name lot and last day."""
    for kind, words in (("bonding-resin", ("lot L-77", "2031-06-30")), ("lamp", ("Lamp Plover", "lamp"))):
        answer = at.client.get(f"{page_of(at, kind)}/label.pdf")
        assert answer.mimetype == "application/pdf"
        picture = pypdfium2.PdfDocument(answer.data)[0].render(scale=8).to_pil()
        assert [found.text for found in zxingcpp.read_barcodes(picture)] == [the(at, kind).code]
        text = PdfReader(io.BytesIO(answer.data)).pages[0].extract_text()
        assert all(word in text for word in words), text


def test_a_code_that_is_not_there(at: Desk) -> None:
    """A lamp's code among materials, a code of nothing and a text that is no code are answered in words."""
    lamp = the(at, "lamp").code
    assert "No lot has the code" in at.get(f"/desk/materials/{lamp}", 404)
    assert at.client.get("/desk/devices/nonsense").status_code == 404
    assert at.client.post(f"/desk/materials/{at.jaw.code}/block", data={"reason": "r"}).status_code == 404
