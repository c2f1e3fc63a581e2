"""Another PC takes over: the backup and the network beside it, and every tablet finds the PC that it knows."""

import stat
import sys
from pathlib import Path

import pytest

from benchapp.network.folder import why_renew
from benchapp.network.place import NetworkFault, place_of
from benchapp.network.takeover import FILES, SECRET, bring_network, copy_network
from tests.live import LiveLab
from tests.network.test_folder import NETWORK, NOW, made


def test_a_network_is_carried_over(tmp_path: Path) -> None:
    """Every file comes back byte for byte, keys for the user alone, and the certificate serves there."""
    old, new = made(tmp_path / "old"), tmp_path / "new"
    new.mkdir()
    copied = copy_network(old, tmp_path / "stick")
    assert copied is not None
    bring_network(copied, new)
    for name in FILES:
        assert (place_of(new).path / name).read_bytes() == (place_of(old).path / name).read_bytes()
        if name in SECRET and sys.platform != "win32":
            assert stat.S_IMODE((place_of(new).path / name).stat().st_mode) == 0o600
    assert why_renew(new, NETWORK, ["192.168.1.20"], NOW) == ""


def test_nothing_is_written_over(tmp_path: Path) -> None:
    """A folder that has a network keeps it; a folder without one has nothing to copy; what is no network is named."""
    old, new = made(tmp_path / "old"), made(tmp_path / "new")
    before = {file: file.read_bytes() for file in place_of(new).path.iterdir()}
    with pytest.raises(NetworkFault, match="is there already"):
        bring_network(place_of(old).path, new)
    assert {file: file.read_bytes() for file in place_of(new).path.iterdir()} == before
    assert copy_network(tmp_path / "none", tmp_path / "stick") is None
    with pytest.raises(NetworkFault, match=r"holds no network\.toml"):
        bring_network(tmp_path / "none" / "network", tmp_path / "other")


def test_backup_and_restore_carry_it(tmp_path: Path) -> None:
    """The commands copy it beside the backup and bring it back; another folder of it is named with --network."""
    lab = LiveLab(tmp_path / "data").fill()
    made(lab.data)
    copies = tmp_path / "copies"
    assert "keep that folder as you keep keys" in lab.run("backup", "--data", str(lab.data), "--to", str(copies)).stdout
    (backup,) = copies.glob("*.sqlite3")
    told = lab.run("restore", str(backup), "--data", str(tmp_path / "new")).stdout
    assert "this PC is the old one to every tablet" in told
    key = place_of(lab.data).authority_key.read_bytes()
    assert place_of(tmp_path / "new").authority_key.read_bytes() == key
    (copies / "network").rename(tmp_path / "network")
    alone = lab.run("restore", str(backup), "--data", str(tmp_path / "alone")).stdout
    assert "No network came with it" in alone and not place_of(tmp_path / "alone").path.exists()
    named = ("--data", str(tmp_path / "named"), "--network", str(tmp_path / "network"))
    lab.run("restore", str(backup), *named)
    assert place_of(tmp_path / "named").authority_key.read_bytes() == key
