"""A jaw with both tooth numbers: bench, record on screen and paper, case, order, blank sheet; JSON stays ISO 3950.

ISO 3950 and US universal numbers of the same teeth, row by row: 17 is 2, 13 is 6, 12 is 7, 15 is 4, 16 is 3, 24 is 12.
"""

import io
import json
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from benchapp.actions.lab import today
from benchapp.actions.settings import change
from tests.actions.test_release import ASKED
from tests.actions.whole import LAB3, let_go
from tests.actions.worked import eventful
from tests.web.desks import SUPERVISOR, Desk, desk

ISO = "17 16 15 14 13 12 11 | 21 22 23 24 25 26 27"
UNIVERSAL = "2 3 4 5 6 7 8 | 9 10 11 12 13 14 15"
SYSTEMS = (("fdi", "ISO 3950", ISO), ("universal", "US universal numbers", UNIVERSAL))
PLACES = {
    "fdi": ("connector 13-12", "connector 16-15", "margin of 15, buccal side", "margin of 24, palatal side"),
    "universal": ("connector 6-7", "connector 3-4", "margin of 4, buccal side", "margin of 12, palatal side"),
}


def switched(at: Desk, value: str) -> Desk:
    """The desk after a supervisor chose the numbers."""
    change(at.jaw.bench, at.seat(), "numbers", value)
    return at


def words(data: bytes) -> str:
    """The text of a PDF, its lines joined."""
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(data)).pages)


@pytest.mark.parametrize(("value", "system", "teeth"), SYSTEMS)
def test_the_bench_page(value: str, system: str, teeth: str, tmp_path: Path) -> None:
    """Both maps, their labels for readers and the words for scripts are in the numbers chosen; names stay ISO 3950."""
    with desk(tmp_path / "data") as at:
        text = switched(at, value).get(f"/bench/{at.jaw.code}")
    whole, first = text.split('id="whole"')[1].split('data-view-of="s1"')[:2]
    assert re.findall(r'<text class="small"[^>]*>(\d+)</text>', whole) == teeth.replace("| ", "").split()
    one, other, _, _ = PLACES[value]
    assert f'data-place="16-15" data-kind="connector" data-state="none" aria-label="{other}"' in first
    assert f">{other.removeprefix('connector ')}</text>" in first
    data = json.loads(text.split('id="data">')[1].split("</script>")[0])
    assert f'data-place="13-12" data-kind="connector" data-state="none" aria-label="{one}"' in text
    assert f'data-place="m15b" data-kind="margin" data-state="none" aria-label="{PLACES[value][2]}"' in text
    assert set(data["words"]["groups"]) == {"-", "s1", "s2", "s3"}


@pytest.mark.parametrize(("value", "system", "teeth"), SYSTEMS)
def test_the_record(value: str, system: str, teeth: str, tmp_path: Path) -> None:
    """Screen and PDF name teeth and places in the numbers chosen and say which they are; the JSON is as before."""
    with desk(tmp_path / "data") as at:
        eventful(at.jaw)
        at.sit(*SUPERVISOR)  # the desk was idle meanwhile
        before = at.client.get(f"/record/{at.jaw.code}.json").get_json()
        switched(at, value)
        screen, paper = at.get(f"/record/{at.jaw.code}"), words(at.client.get(f"/record/{at.jaw.code}.pdf").data)
        after = at.client.get(f"/record/{at.jaw.code}.json").get_json()
        case = at.get(f"/desk/case/{at.jaw.opened.code}")
    other = "universal" if value == "fdi" else "fdi"
    for text in (screen, paper):
        assert f"Teeth, {system}" in text and f"{teeth} (14)" in text
        assert "ISO 3950" not in text or value == "fdi"
    for text in (screen, paper, case):
        for own, strange in zip(PLACES[value], PLACES[other], strict=True):
            assert own in text
            assert strange not in text
    svg = screen.split('class="record-arch"')[1].split("</svg>")[0]
    assert re.findall(r"<text x=[^>]*>(\d+)</text>", svg)[:14] == teeth.replace("| ", "").split()
    assert after["numbers"] == "ISO 3950" and after["identity"]["teeth"] == [int(t) for t in ISO.split() if t != "|"]
    moving = ("made", "checkpoint")
    assert {k: v for k, v in after.items() if k not in moving} == {k: v for k, v in before.items() if k not in moving}


@pytest.mark.parametrize(("value", "system", "teeth"), SYSTEMS)
def test_the_order_and_the_blank_sheet(value: str, system: str, teeth: str, tmp_path: Path) -> None:
    """The page of the order lists the teeth and says by which numbers; the blank sheet draws and says the same."""
    with desk(tmp_path / "data") as at:
        text = switched(at, value).get(f"/desk/cases/{at.jaw.opened.code}/order")
        blank = words(at.client.get(f"/desk/protocol/blank.pdf?jaw={at.jaw.code}").data)
    assert f"Teeth, {system}" in text and f"<td>{teeth}</td>" in text
    assert f"Teeth are numbered by {system}." in blank
    shown = " ".join(teeth.replace("| ", "").split()[:7])
    assert shown in blank


@pytest.mark.parametrize("value", ["fdi", "universal"])
def test_a_jaw_that_came_back(value: str, tmp_path: Path) -> None:
    """The form, the record and the line of events name the place that it came back for in the numbers chosen."""
    with desk(tmp_path / "data", case=ASKED, lab=LAB3) as at:
        at.jaw.run_to()
        let_go(at.jaw)
        switched(at, value).sit(*SUPERVISOR)
        address, day = f"/desk/jaw/{at.jaw.code}/after", today(at.jaw.bench).isoformat()
        at.post(f"{address}/sent", on=day, means="the driver")
        form = at.get(address)
        reason = re.findall(r'<option value="([a-z-]+)"', form)[0]
        assert f'<option value="13-12">{PLACES[value][0]}</option>' in form
        at.post(f"{address}/back", on=day, reason=reason, place="13-12", words="broke")
        told = at.get(f"/desk/case/{at.jaw.opened.code}")
        record = at.get(f"/record/{at.jaw.code}")
    assert f"({PLACES[value][0]})" in told and PLACES[value][0] in record
