"""The design files of a jaw at the desk: attached by a form, refused in words, and the check that follows."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from benchapp.actions.seating import seating_of
from benchapp.actions.seating_keeper import Keeper
from benchapp.store.meshes import Meshes, digest_of
from tests.actions.checked import AtOnce, checked, put, stl
from tests.seating.other_formats import TETRA, obj, threemf
from tests.seating.shapes import Floats
from tests.web.desks import TECHNICIAN, Desk, desk, enrolled


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    """A desk at which a technician sits."""
    with desk(tmp_path / "data", TECHNICIAN) as found:
        found.jaw.bench.checks = AtOnce(tmp_path / "data" / "seating")
        yield found


def send(at: Desk, part: str, data: bytes, name: str = "Anna Kowalska arch.stl", **headers: str) -> tuple[int, str]:
    """Send a file by the form of the desk; return status and words of the answer."""
    head = 'Content-Disposition: form-data; name='
    parts = [f'{head}"part"\r\n\r\n{part}'.encode(), f'{head}"file"; filename="{name}"\r\n\r\n'.encode() + data]
    form = b"".join(b"--cut\r\n" + one + b"\r\n" for one in parts) + b"--cut--\r\n"
    answer = at.client.post(f"/desk/jaw/{at.jaw.code}/files", data=form, headers=headers,
                            content_type="multipart/form-data; boundary=cut")
    return answer.status_code, answer.text


def kept(at: Desk) -> list[str]:
    """Return the names of all files in the folder of design files."""
    return sorted(file.name for file in (at.jaw.bench.store.path.parent / "meshes").iterdir())


def test_a_file_is_attached_under_its_hash(at: Desk) -> None:
    """The file lies under the SHA-256 of its bytes; its own name, which may name a patient, is kept nowhere."""
    assert send(at, "arch", stl("arch"))[0] == 303
    (name,) = kept(at)
    file = at.jaw.bench.store.path.parent / "meshes" / name
    assert name == f"{digest_of(file)}.stl"
    assert file.read_bytes() == stl("arch")
    whole = b"".join(one.read_bytes() for one in at.jaw.bench.store.path.parent.glob("bench.sqlite3*"))
    assert b"Kowalska" not in whole and b"kowalska" not in whole
    text = at.get(f"/desk/case/{at.jaw.opened.code}")
    assert file.stem[:12] in text and "The design file of the base is missing." in text


@pytest.mark.parametrize(("write", "ending"), [(obj, "obj"), (threemf, "3mf")])
def test_other_formats_are_attached_under_their_endings(
    write: Callable[[Floats], bytes], ending: str, at: Desk
) -> None:
    """The bytes tell the format, not the name that was sent; the page offers all three, a cut file is refused."""
    data = write(TETRA)
    assert send(at, "arch", data, "arch.stl")[0] == 303
    (name,) = kept(at)
    folder = Meshes(at.jaw.bench.store.path.parent)
    assert name == f"{digest_of(folder.folder / name)}.{ending}" and folder.names() == [name.partition(".")[0]]
    assert folder.path(folder.names()[0]).read_bytes() == data
    status, text = send(at, "base", data[: len(data) // 3], f"base.{ending}")
    assert status == 422 and "cut off" in text and 'accept=".stl,.obj,.3mf,' in text and len(kept(at)) == 1


def test_what_is_refused_leaves_nothing_behind(at: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """No file, no STL, too large: each in words with its status, as page and as JSON; nothing lies in the folder."""
    assert send(at, "arch", b"", "")[0] == 422
    status, text = send(at, "arch", b"%PDF-1.7" + bytes(400))
    assert status == 422 and "That is no STL file" in text and 'name="file"' in text
    status, text = send(at, "arch", stl("arch")[:-1], Accept="application/json")
    assert status == 422 and '"error"' in text
    monkeypatch.setattr("benchapp.web.meshes.MOST_BYTES", 200)
    status, text = send(at, "arch", bytes(100_000))
    assert status == 422 and "The file has more than" in text
    assert kept(at) == []
    status, text = send(at, "nose", stl("arch"))
    assert status == 409 and kept(at) == []
    monkeypatch.undo()
    assert send(at, "base", stl("base"), Accept="application/json")[0] == 200


def test_a_file_is_larger_than_other_forms(at: Desk) -> None:
    """A file of 9 MB, beyond what any other form may hold, is taken."""
    count = 180_000
    assert send(at, "base", bytes(80) + count.to_bytes(4, "little") + bytes(50 * count))[0] == 303
    assert len(kept(at)) == 1


def test_a_display_attaches_nothing(at: Desk) -> None:
    """A display only shows, and who is not signed in is led to the door."""
    wall = enrolled(at, "Wall", "display")
    assert wall.post(f"/desk/jaw/{at.jaw.code}/files", data={"part": "arch"}).status_code == 403
    at.post("/desk/signout")
    assert send(at, "arch", stl("arch"))[0] == 401


def test_the_check_moves_and_is_told(at: Desk) -> None:
    """As long as it runs the page asks again; done, it says what came of it, and asks no more."""
    jaw, case = at.jaw, f"/desk/case/{at.jaw.opened.code}"
    assert "No design file is attached." in at.get(case)
    put(jaw, "base", stl("base"))
    put(jaw, "arch", stl("arch"))
    waits = at.get(f"/desk/jaw/{jaw.code}/check")
    assert 'hx-trigger="every 2s"' in waits and "<progress" in waits
    assert "A check of these files waits for its turn.<" in waits
    checked(jaw)
    text = at.get(f"/desk/jaw/{jaw.code}/check")
    assert "hx-trigger" not in text
    assert "goes in; teeth 0.50 to 1.20 mm deep; 13 connectors to cut; about 0.42 ml of resin" in text
    at.sit("Зоя Ким", "1357").post("/desk/settings", name="drops_per_ml", value="20")
    assert "about 0.42 ml of resin, 9 drops" in at.get(case)
    at.post(f"/desk/jaw/{jaw.code}/check")
    assert seating_of(jaw.bench, jaw.line).anew
    Keeper(jaw.bench).look()
    assert not seating_of(jaw.bench, jaw.line).anew
