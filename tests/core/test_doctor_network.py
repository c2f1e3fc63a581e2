"""What the doctor finds in the lab's network, by tables: every level of every check, and the edges of each limit."""

import pytest

from benchapp.core import doctor_network as doctor
from benchapp.core.doctor import DAY

NOW = 1_800_000_000_000
LAN = doctor.Network("bench.lan", 8321, 8322)
HERE, ELSEWHERE, NOWHERE = ("10.0.0.5",), ("10.0.0.9",), ()


def holds(ends: int, begins: int = NOW, names: tuple[str, ...] = ("bench.lan",), fault: str = "") -> doctor.Certificate:
    """Return a certificate that ends and begins at these moments."""
    return doctor.Certificate(begins, ends, names, fault)


def test_the_file_of_the_network() -> None:
    """A file that cannot be used is wrong, and what is wrong with it is said."""
    assert doctor.on_network(LAN).level == "ok"
    found = doctor.on_network(doctor.Network("", 0, 0, "name is missing"))
    assert found.level == "wrong" and "name is missing" in found.words and "missing" not in found.outside


@pytest.mark.parametrize(("certificate", "level"), [
    (holds(NOW + 180 * DAY), "ok"), (holds(NOW + 180 * DAY - 1), "look"), (holds(NOW), "wrong"),
    (holds(NOW + 900 * DAY, NOW + 1), "wrong"), (holds(0, fault="cut short"), "wrong"),
])
def test_authority(certificate: doctor.Certificate, level: str) -> None:
    """An authority that ended, did not begin or cannot be read is wrong; its end is said half a year before."""
    assert doctor.on_authority(certificate, NOW).level == level


@pytest.mark.parametrize(("certificate", "level"), [
    (holds(NOW + 30 * DAY), "ok"), (holds(NOW + 30 * DAY - 1), "look"), (holds(NOW), "wrong"),
    (holds(NOW + 90 * DAY, NOW + 1), "wrong"), (holds(NOW + 90 * DAY, names=("bench.local",)), "wrong"),
    (holds(0, fault="cut short"), "wrong"),
])
def test_certificate(certificate: doctor.Certificate, level: str) -> None:
    """A certificate of another name, one that ended or did not begin is wrong; a month before its end it is said."""
    assert doctor.on_certificate(certificate, "bench.lan", NOW).level == level


@pytest.mark.parametrize(("way", "level", "words"), [
    (doctor.Way(HERE, True, ""), "ok", "leads to this PC"),
    (doctor.Way(ELSEWHERE, False, ""), "wrong", "10.0.0.9, which is not this PC"),
    (doctor.Way(NOWHERE, False, ""), "wrong", "enter it in the router"),
])
def test_name(way: doctor.Way, level: str, words: str) -> None:
    """A name that leads nowhere or to another machine is wrong; neither name nor address leaves the lab."""
    found = doctor.on_name(LAN, way)
    assert found.level == level and words in found.words
    assert "bench.lan" not in found.outside and "10.0.0" not in found.outside


def test_a_local_name_is_said_by_the_server() -> None:
    """A name under .local that leads nowhere asks for the server, not for the router."""
    found = doctor.on_name(doctor.Network("bench.local", 1, 2), doctor.Way(NOWHERE, False, ""))
    assert "start the server with --lan" in found.words and "router" not in found.words


@pytest.mark.parametrize(("answer", "running", "level"), [
    ("ours", True, "ok"), ("untrusted", True, "wrong"), ("", True, "wrong"), ("", False, "look"),
])
def test_way(answer: str, running: bool, level: str) -> None:
    """Only our server by our authority is a way; while none runs nothing was tried. Where to look is said."""
    found = doctor.on_way(LAN, doctor.Way(HERE, True, answer), running)
    assert found.level == level
    assert ("Windows" in found.words) == (answer == "ours" or (answer == "" and running))
