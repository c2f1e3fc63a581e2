"""The one name of the PC: which names tablets could use, and what is made of them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.network.names import MOST, NameFault, authority_of, local_name, names_of, read_name


@pytest.mark.parametrize(("typed", "name"), [
    ("bench.lan", "bench.lan"), (" Bench.LAN. ", "bench.lan"), ("bench", "bench"),
    ("lab-2.home.arpa", "lab-2.home.arpa"),
    ("bench.local", "bench.local"), ("3d.lan", "3d.lan"),  # RFC 1123 2.1: a label may begin with a digit
])
def test_a_name_is_taken(typed: str, name: str) -> None:
    """Names by RFC 1123 are taken, in small letters and without the point of the root."""
    assert read_name(typed) == name


@pytest.mark.parametrize("typed", [
    "", " ", ".", "192.168.1.5", "[::1]", "::1", "bench.5", "localhost", "bench.localhost", "-bench.lan", "bench-.lan",
    "bench..lan", "be nch.lan", "bench_1.lan", "bänch.lan", "https://bench.lan", "bench.lan:8321", "a" * 64 + ".lan",
    "a." * 30 + "lan", "bench.lan/x", "bench.lan\n.x", "*.lan",
])
def test_a_name_is_refused_with_its_remedy(typed: str) -> None:
    """What tablets could not use is refused, and the words say what to write instead."""
    with pytest.raises(NameFault, match=r"Write (a|one)"):
        read_name(typed)


@given(st.text(max_size=80))
def test_any_text_is_a_name_or_refused(typed: str) -> None:
    """Whatever is typed gives a short ASCII name that reads back as itself, or a refusal."""
    try:
        name = read_name(typed)
    except NameFault:
        return
    assert name.isascii() and 0 < len(name) <= MOST and read_name(name) == name


def test_what_is_made_of_a_name() -> None:
    """The name under `local` is that of the first label, no name stands twice, and 443 is not written."""
    assert local_name("bench.home.arpa") == "bench.local" == local_name("bench.local")
    assert names_of("bench.local") == ("bench.local", "localhost")
    assert (authority_of("bench.lan", 443), authority_of("bench.lan", 8321)) == ("bench.lan", "bench.lan:8321")
