"""The PC's certificate is made anew in time, while nobody works with wet resin; its clock is handed in."""

import random
from pathlib import Path

from benchapp.actions.wet import wet_now
from benchapp.network.certificates import days_left
from benchapp.network.folder import read_leaf
from benchapp.network.place import place_of
from benchapp.network.renewal import Renewal
from tests.actions.worked import worked
from tests.network.test_folder import DAY, NETWORK, NOW, made


def at(data: Path, now: int, quiet: bool = True, addresses: tuple[str, ...] = ("192.168.1.20",)) -> str:
    """Look at a moment (UTC ms) whether a new certificate is due, and return why one was made."""
    chance = random.Random(now).randbytes
    return Renewal(data, NETWORK, lambda: now, chance, lambda: list(addresses), lambda: quiet).look()


def test_a_clock_that_goes_on(tmp_path: Path) -> None:
    """Nothing is made for 366 days; then once, and for another year nothing again."""
    made(tmp_path)
    first = read_leaf(tmp_path)
    assert [at(tmp_path, NOW + day * DAY) for day in (0, 200, 366)] == ["", "", ""]
    assert read_leaf(tmp_path) == first
    assert [at(tmp_path, NOW + day * DAY) for day in (367, 367, 700)] == ["ends", "", ""]
    assert days_left(read_leaf(tmp_path), NOW + 367 * DAY) == 396


def test_it_waits_for_a_quiet_moment(tmp_path: Path) -> None:
    """While a wet window runs nothing is made, until the certificate is about to end; then tablets come first."""
    made(tmp_path)
    assert [at(tmp_path, NOW + day * DAY, quiet=False) for day in (367, 380, 393)] == ["", "", ""]
    assert at(tmp_path, NOW + 394 * DAY, quiet=False) == "ends"


def test_another_address_can_wait(tmp_path: Path) -> None:
    """A new address gets a certificate, but never in a wet window: tablets ask by the name."""
    made(tmp_path)
    assert at(tmp_path, NOW, quiet=False, addresses=("10.9.9.9",)) == ""
    assert at(tmp_path, NOW, addresses=("10.9.9.9",)) == "addresses"
    assert at(tmp_path, NOW, addresses=("192.168.1.20",)) == ""


def test_a_fault_is_told_and_looked_at_again(tmp_path: Path) -> None:
    """An authority that is gone is told each time; once it is back the certificate is made."""
    made(tmp_path)
    authority = place_of(tmp_path).authority
    kept, said, turns = authority.read_bytes(), [], iter(range(4))
    authority.unlink()

    def wait(_seconds: float) -> bool:
        turn = next(turns)
        if turn == 2:
            authority.write_bytes(kept)
        return turn == 3

    Renewal(
        tmp_path, NETWORK, lambda: NOW + 380 * DAY, random.Random(1).randbytes, lambda: [], lambda: True
    ).keep(wait, said.append)
    assert ["ca.pem" in words for words in said] == [True, True, False] and "(ends)" in said[2]


def test_the_fold_says_when_resin_is_wet(tmp_path: Path) -> None:
    """A whole jaw through: it is named as long as the step that is on is a wet one, also on hold, and else never."""
    with worked(tmp_path / "data") as jaw:
        wet = {card["step"]: bool(card["wet"]) for card in jaw.line.table["cards"]}
        seen = []
        while not jaw.line.state["ended"]:
            seen.append(wet[jaw.line.state["now"]])
            assert wet_now(jaw.bench) == ([jaw.code] if seen[-1] else [])
            if seen[-1] and seen.count(True) == 1:
                jaw.fact("hold", 0, picks={"reason": "ask-the-clinic"})
                assert wet_now(jaw.bench) == [jaw.code]
                jaw.fact("resume", 0)
            jaw.main()
        assert set(seen) == {True, False} and wet_now(jaw.bench) == []
