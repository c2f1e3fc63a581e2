"""The design files of a data folder: each lies under the SHA-256 of its bytes, whole and synced, and never changes.

Its ending is that of its format, which its bytes tell; whoever looks for a file by its hash need not know the ending.
"""

import hashlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from benchapp.core.mesh_shape import ENDS, format_of
from benchapp.store.engine import on_disk, sync_file, sync_folder

ENDINGS = (".stl", ".obj", ".3mf")
CHUNK = 1 << 20
STALE_S = 3600.0  # longer than a file takes that is still coming
Progress = Callable[[int, int], None]


class Meshes:
    """The folder `meshes` of a data folder, or of a place with backups."""

    def __init__(self, beside: Path) -> None:
        self.folder = beside / "meshes"

    def path(self, name: str) -> Path:
        """Return where the file with this SHA-256 lies, whether it is there or not."""
        every = [self.folder / (name + ending) for ending in ENDINGS]
        return next((file for file in every if file.is_file()), every[0])

    def there(self, name: str) -> bool:
        """Tell whether the file is there; what lies there is whole."""
        return self.path(name).is_file()

    def names(self) -> list[str]:
        """Return the names of all files, sorted."""
        return sorted(file.stem for ending in ENDINGS for file in self.folder.glob("*" + ending))

    def unfinished(self, name: str) -> Path:
        """Return a place for a file that is still coming; `name` is nobody else's."""
        with on_disk(self.folder):
            self.folder.mkdir(parents=True, exist_ok=True)
        return self.folder / f"{name}.new"

    def keep(self, unfinished: Path) -> str:
        """Put a file that came whole under its name, durably; return the name. Raises DiskFull or NotWritable."""
        name = digest_of(unfinished)
        with on_disk(unfinished):
            sync_file(unfinished)
            unfinished.replace(self.folder / (name + _ending(unfinished)))
            sync_folder(self.folder)
        return name

    def sweep(self, now: float) -> None:
        """Remove what never came whole and did not grow for an hour before `now` (seconds since the epoch)."""
        for file in self.folder.glob("*.new"):
            with suppress(OSError):
                if now - file.stat().st_mtime > STALE_S:
                    file.unlink()

    def copy_to(self, other: "Meshes", names: Iterable[str]) -> list[str]:
        """Copy those of `names` that are here and not there; return the ones that are here not or not as named."""
        missing = []
        for name in sorted(set(names)):
            if other.there(name):
                continue
            unfinished = other.unfinished(name)
            if not self.there(name) or not _copied(self.path(name), unfinished, name):
                missing.append(name)
                unfinished.unlink(missing_ok=True)
                continue
            other.keep(unfinished)
        return missing

    def wrong(self, names: Iterable[str], progress: Progress | None = None) -> Iterator[tuple[str, bool]]:
        """Yield each of `names` that is not as it was kept: (name, whether it is there at all)."""
        every = sorted(set(names))
        for done, name in enumerate(every, 1):
            if not self.there(name):
                yield name, False
            elif digest_of(self.path(name)) != name:
                yield name, True
            if progress is not None:
                progress(done, len(every))


def _ending(file: Path) -> str:
    """Return the ending of a file's format."""
    with file.open("rb") as stream:
        return f".{format_of(file.stat().st_size, stream.read(ENDS))}"


def digest_of(file: Path) -> str:
    """Return the SHA-256 of a file, hexadecimal, without holding it in memory."""
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _copied(source: Path, target: Path, name: str) -> bool:
    """Copy a file; tell whether its bytes have the SHA-256 that it is named by."""
    found = hashlib.sha256()
    with source.open("rb") as old, on_disk(target), target.open("wb") as new:
        while chunk := old.read(CHUNK):
            found.update(chunk)
            new.write(chunk)
    return found.hexdigest() == name
