"""The design files of a jaw's parts: attached at the desk or with the case sheet, each to its part's revision."""

from pathlib import Path
from shutil import copyfile

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.desk import Seat, store
from benchapp.actions.jaws import JawLine, line
from benchapp.actions.seating import meshes_of
from benchapp.core.mesh_shape import ENDS, MOST_BYTES, shape_fault
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.seating_line import PARTS, MeshFile, meshes
from benchapp.core.words import _
from benchapp.store.engine import on_disk
from benchapp.store.journal import Writer
from benchapp.store.meshes import digest_of

__all__ = ["MAY", "MOST_BYTES", "WrongFile", "attach", "attach_copy", "check_again", "coming", "must_take"]

MAY = ("technician", "supervisor")


class WrongFile(Refused):
    """The file cannot be the design file of this part; nothing was attached."""

    status = 422


def coming(bench: Bench) -> Path:
    """Return a place for a file that is coming; whoever asked removes it when nothing comes of it."""
    return meshes_of(bench).unfinished(bench.chance.new_id())


def must_take(found: JawLine, part: str) -> None:
    """Raise Refused where a jaw takes no file of this part any more."""
    if part not in PARTS:
        raise Refused(_("A part is the base or the arch. Choose one."))
    if found.state["ended"] == "scrap":
        raise Refused(_("The jaw is scrapped as a whole: no file is attached to it any more."))
    if found.release is not None:
        raise Refused(_("The jaw is released: its record says which files it was made from."))


def attach(bench: Bench, seat: Seat | None, code: str, part: str, file: Path) -> str:
    """Attach a file that came whole to the design revision of a part, and return its SHA-256.

    The file is moved into the data folder. WrongFile says why it cannot be taken, Refused why the jaw takes none;
    `seat` is None where a command on the PC does it.
    """
    found = line(bench, code)
    must_take(found, part)
    if fault := fault_of(file):
        raise WrongFile(fault)
    name = digest_of(file)
    other = meshes(found.seating, found.jaw)["arch" if part == "base" else "base"]
    if other is not None and other.hash == name:
        raise WrongFile(_("Base and arch are the same file. Choose the file of the {part}.", part=_(PART_WORDS[part])))
    size = file.stat().st_size
    meshes_of(bench).keep(file)
    with bench.store.writing() as writer:
        _note(bench, writer, seat, line(bench, code), part, name, size)
    return name


def attach_copy(bench: Bench, code: str, part: str, file: Path) -> str:
    """Attach a copy of a file of this PC, by a command; return its SHA-256."""
    place = coming(bench)
    try:
        with on_disk(place):
            copyfile(file, place)
        return attach(bench, None, code, part, place)
    finally:
        place.unlink(missing_ok=True)


def fault_of(file: Path) -> str:
    """Say what is wrong with the shape of a file, "" where it can be an STL, an OBJ or a 3MF."""
    size = file.stat().st_size
    with file.open("rb") as stream:
        start = stream.read(ENDS)
        stream.seek(max(0, size - ENDS))
        return shape_fault(size, start, stream.read())


def check_again(bench: Bench, seat: Seat, code: str) -> None:
    """Ask for a check anew of the same files: by what the settings and this version say now."""
    with bench.store.writing() as writer:
        found = line(bench, code)
        must_take(found, PARTS[0])
        files = [file for file in meshes(found.seating, found.jaw).values() if file]
        if len(files) < len(PARTS):
            raise Refused(_("A check needs the files of both parts, in one design revision."))
        last: MeshFile = files[-1]
        _note(bench, writer, seat, found, last.part, last.hash, last.size)


def _note(
    bench: Bench, writer: Writer, seat: Seat | None, found: JawLine, part: str, name: str, size: int
) -> None:
    revision = next(one["revision"] for one in found.jaw["parts"] if one["part"] == part)
    data = {"part": part, "revision": revision, "hash": name, "bytes": size}
    keys = {"case": found.case["code"], "jaw": found.code, "data": data}
    if seat is None:
        bench.request(writer, "mesh", **keys)
    else:
        store(bench, writer, seat, "mesh", **keys)
