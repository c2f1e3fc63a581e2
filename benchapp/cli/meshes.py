"""The design files that a case sheet names, looked at before the case is taken in."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from benchapp.actions.meshes import fault_of
from benchapp.core.faults import Fault, FileFaults
from benchapp.core.sheet import Sheet

Files = dict[tuple[str, str], Path]


def mesh_files(sheet: Sheet, beside: Path) -> Files:
    """Return the design files of a sheet by (jaw, part); FileFaults with every one that is not there or no mesh."""
    found: Files = {}
    faults = []
    for at, jaw in enumerate(sheet.jaws):
        for place, part in enumerate(jaw.parts):
            if part.mesh is None:
                continue
            file = beside.parent / part.mesh
            if fault := _fault(file):
                mend = "Name an STL, OBJ or 3MF file beside the sheet"
                faults.append(Fault(f"jaws[{at}].parts[{place}].mesh", fault, mend))
            found[jaw.jaw, part.part] = file
        both = {file.resolve() for (of, _part), file in found.items() if of == jaw.jaw}
        if len(both) == 1 and sum(1 for of, _part in found if of == jaw.jaw) > 1:
            faults.append(Fault(f"jaws[{at}].parts", "base and arch name the same file", "Name the file of each part"))
    if faults:
        raise FileFaults(beside.name, faults)
    return found


def _fault(file: Path) -> str:
    if not file.is_file():
        return f"there is no file {file.name} beside the sheet"
    return fault_of(file).rstrip(".")


def of_jaws(files: Files, jaws: list[dict[str, Any]]) -> Iterator[tuple[str, str, Path]]:
    """Give (code of the jaw, part, file) for each file, by the jaws as they were taken in."""
    codes = {jaw["jaw"]: jaw["code"] for jaw in jaws}
    for (jaw, part), file in files.items():
        yield codes[jaw], part, file
