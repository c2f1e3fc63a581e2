"""Editions of the lab's protocols: what new cases are worked by, who may change it, and what a case keeps."""

import io
from pathlib import Path

import pytest

from benchapp.actions.editions import editions, in_force
from benchapp.actions.jaws import protocol_of
from tests.actions.worked import PROTOCOL
from tests.web.desks import TECHNICIAN, Desk, desk

PAGE = "/desk/protocol/editions"
OWN = PROTOCOL.replace('edition = "2026-11c"', 'edition = "ours-1"').replace(
    'title = "Splinted green arch', 'title = "<script>Ours</script> green arch')


def send(at: Desk, text: str | bytes, status: int = 303, name: str = "ours.toml") -> str:
    """Choose a protocol file on the page."""
    data = text if isinstance(text, bytes) else text.encode()
    answer = at.client.post(PAGE, data={"file": (io.BytesIO(data), name)}, content_type="multipart/form-data")
    assert answer.status_code == status, answer.text[:500]
    return answer.text


def test_a_shipped_protocol_is_put_in_force_for_new_cases_only(tmp_path: Path) -> None:
    """New cases get it, the jaw in work keeps the edition it began with, and the list says since when and by whom."""
    with desk(tmp_path / "data") as at:
        assert in_force(at.jaw.bench)[1].id == "green-splinted"
        other = next(one for one in editions(at.jaw.bench) if not one.in_force)
        at.post(PAGE, hash=other.hash)
        assert in_force(at.jaw.bench)[0] == other.text
        assert protocol_of(at.jaw.bench, at.jaw.line).id == "green-splinted"
        text = at.get(PAGE)
        assert "put in force" in text and at.seat().person.name in text
        assert "is in force already" in at.post(PAGE, 422, hash=other.hash)


def test_an_edition_of_the_lab_comes_into_force(tmp_path: Path) -> None:
    """A file that is sound is stored word for word, drawn, sent back as a file, and its title is escaped."""
    with desk(tmp_path / "data") as at:
        send(at, OWN)
        assert in_force(at.jaw.bench)[0] == OWN
        mine = next(one for one in editions(at.jaw.bench) if one.in_force)
        assert not mine.shipped
        for address in (PAGE, "/desk/protocol", f"/desk/protocol?edition={mine.hash}"):
            text = at.get(address)
            assert "&lt;script&gt;Ours" in text and "<script>Ours" not in text, address
        answer = at.client.get(f"{PAGE}/{mine.hash}.toml")
        assert answer.text == OWN and answer.mimetype == "text/plain"


def test_the_same_edition_is_never_two_texts(tmp_path: Path) -> None:
    """Another text under a known id and edition is refused, so that a record can say which one it was."""
    with desk(tmp_path / "data") as at:
        assert "another text already" in send(at, PROTOCOL.replace("Read the order", "Read the sheet"), 422)
        assert in_force(at.jaw.bench)[0] == PROTOCOL


@pytest.mark.parametrize(("text", "said"), [
    (OWN.replace('stage = "stage-dry"', 'stage = "nowhere"'), "there is no stage"),
    (b"\xff\xfe", "not UTF-8"), (b"", "Choose a protocol file"), (b"x" * 200_001, "larger than 200 kB"),
    ("format = [[[", "not readable as TOML"),
    (OWN.replace('picture = "dry-fit"', 'picture = "none-such"'), "no drawing"),
])
def test_a_faulty_file_changes_nothing(tmp_path: Path, text: str | bytes, said: str) -> None:
    """Every fault is said with its place, and the protocol in force stays."""
    with desk(tmp_path / "data") as at:
        tip = at.jaw.bench.store.tip()
        assert said in send(at, text, 422)
        assert at.jaw.bench.store.tip() == tip


def test_a_technician_looks_but_does_not_change(tmp_path: Path) -> None:
    """Everybody sees the editions; only technique lead and supervisor put one in force."""
    with desk(tmp_path / "data", TECHNICIAN) as at:
        assert "Put in force" not in at.get(PAGE)
        at.post(PAGE, 403, hash="x")


def test_an_unknown_edition_is_said(tmp_path: Path) -> None:
    """A hash that is none answers in words."""
    with desk(tmp_path / "data") as at:
        assert "no such edition" in at.post(PAGE, 422, hash="0" * 64)
        assert "no such edition" in at.get("/desk/protocol?edition=0", 404)
