"""What the server does besides answering."""

import os
import socket
from pathlib import Path

import pytest

from benchapp.serve import DAY_S, PortTaken, backup_due, backup_name, must_be_free


def test_a_backup_is_due_once_a_day(tmp_path: Path) -> None:
    """None there: due. One just made: not due, however often the server starts. A day later: due again."""
    assert backup_due(tmp_path, 10**12)
    file = tmp_path / "daily-20260101T000000Z.sqlite3"
    file.touch()
    os.utime(file, (10**9, 10**9))
    assert not backup_due(tmp_path, 10**12 + 1000)
    assert backup_due(tmp_path, 10**12 + round(DAY_S * 1000))


def test_names_of_backups_sort_by_time() -> None:
    """Two names made one after the other are in order."""
    first, second = backup_name("daily"), backup_name("daily")
    assert first <= second and first.startswith("daily-")


def test_a_port_in_use_is_refused_before_anything_is_served() -> None:
    """The remedy names a port."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(PortTaken, match=f"--port {port + 1}"):
            must_be_free("127.0.0.1", port)
