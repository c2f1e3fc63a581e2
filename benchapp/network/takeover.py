"""The lab's network beside a backup: another PC that brings both back is the same PC to every tablet."""

from pathlib import Path

from benchapp.network.folder import read_authority, write_file
from benchapp.network.place import FILE, PLACE, NetworkFault, place_of, read_network

SECRET = ("ca.key", "leaf.key")
FILES = (FILE, "ca.pem", "leaf.pem", *SECRET)


def copy_network(data: Path, to: Path) -> Path | None:
    """Copy the network of a data folder into `to`, in the place of an older copy; None where the folder has none.

    The keys in the copy are readable by this user alone. FileFaults or NetworkFault where the network is not sound.
    """
    if read_network(data) is None:
        return None
    read_authority(data)
    return _copied(place_of(data).path, place_of(to).path)


def bring_network(copy: Path, data: Path) -> Path:
    """Bring a copied network into a data folder that has none; return where it lies.

    NetworkFault where `copy` holds no sound network, or the data folder has one already; nothing was changed then.
    """
    there = place_of(data).path
    if there.exists():
        raise NetworkFault(f"{there} is there already: move it away first, if the one of {copy} is the right one.")
    if read_network(copy.parent) is None or copy.name != PLACE:
        raise NetworkFault(f"{copy} holds no {FILE}: name the folder `{PLACE}` of the old PC's data folder or backup.")
    read_authority(copy.parent)
    return _copied(copy, there)


def _copied(here: Path, there: Path) -> Path:
    there.mkdir(parents=True, exist_ok=True, mode=0o700)
    for name in FILES:
        file = here / name
        if file.exists():
            write_file(there / name, file.read_bytes(), secret=name in SECRET)
    return there
