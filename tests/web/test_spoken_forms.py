"""What the desk answers to forms comes from the catalogue: refusals, faults, what was done, in a made-up language."""

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from benchapp.actions.badges import give_badge
from benchapp.actions.bench import Bench, Chance
from benchapp.actions.lab import people
from benchapp.actions.settings import zones
from benchapp.actions.shelf import last_entry
from benchapp.actions.stock import things
from benchapp.core.codes import spaced
from benchapp.store import folder
from benchapp.web.app import create_app
from tests.speech import data_of, speaking, unspoken
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk

UNITS = ("min",)
NAMES = ("Ö1", "Ö2", "Bond", "L-77", "L-78")


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    """A supervisor at the desk."""
    with desk(tmp_path / "data") as sitting:
        yield sitting


def addresses(at: Desk) -> dict[str, str]:
    """Return the pages of a lot, of a lamp and of the technician."""
    lamp, *_chamber, lot = things(at.jaw.bench)
    person = next(p.id for p in people(at.jaw.bench) if p.name == TECHNICIAN[0])
    return {"lot": f"/desk/materials/{lot.code}", "lamp": f"/desk/devices/{lamp.code}", "who": f"/desk/people/{person}"}


def heard(at: Desk, address: str, data: tuple[str, ...] = (), /, **form: Any) -> int:
    """Send a form in the made-up language and hold its answer to it, page after page; return the status."""
    with speaking():
        answer = at.client.post(address, data=form, follow_redirects=True)
    assert "⟦" in answer.text, answer.text[:400]
    assert unspoken(answer.text, [*data_of(at.jaw), *zones(), *UNITS, *data]) == [], address
    return answer.status_code


@pytest.mark.parametrize(("to", "form"), [
    ("/desk/people/new", {"name": "", "roles": "king", "until": "soon", "pin": "1"}),
    ("/desk/people/new", {"name": SUPERVISOR[0], "roles": "technician", "until": "2020-01-01"}),
    ("{who}", {"name": "x" * 81}),
    ("/desk/settings", {"name": "own_release", "value": "7"}),
    ("/desk/settings", {"name": "alarm_all", "value": "-1"}),
    ("/desk/settings", {"name": "csv_map", "value": "x" * 5000}),
    ("/desk/settings", {"name": "77", "value": "1"}),
    ("/desk/settings/lab", {"name": "", "address": "", "zone": "9"}),
    ("/desk/materials/new", {}),
    ("/desk/materials/new", {"name": "7", "kind": "9!", "lot": "8", "expiry": "77", "after_opening": "-"}),
    ("/desk/materials/new", {"name": "Bond pink, film ≤ 0.1 mm", "kind": "stain", "lot": "L-77",
                             "expiry": "2031-01-01"}),
    ("/desk/devices/new", {"name": "Lamp Plover", "kind": "lamp"}),
    ("{lot}/opened", {"day": "2099-01-01"}),
    ("{lot}/opened", {"day": "88"}),
    ("{lot}/block", {"reason": " "}),
    ("{lot}/edit", {"name": "5", "kind": "stain", "lot": "6", "expiry": "2031-01-01", "seen": "0"}),
    ("{lamp}/checked", {"day": ""}),
    ("{lamp}/checked", {"day": "2026-11-02", "due": "2026-11-01"}),
    ("{lamp}/checked", {"day": "2099-01-01"}),
])  # fmt: skip
def test_refusals(at: Desk, to: str, form: dict[str, str]) -> None:
    """What is wrong with a form, and how it is mended, is looked up: sentences, names of fields, hints."""
    kinds = ("king", "stain", "lamp", "bonding-resin", "own_release")
    assert heard(at, to.format(**addresses(at)), (*kinds, *form.values()), **form) == 422


def test_the_life_of_a_lot_and_of_a_lamp(at: Desk) -> None:
    """Whatever was done to a thing, its page says so, and how it stands, and its history, in looked-up words."""
    of, bench = addresses(at), at.jaw.bench
    lot, lamp = of["lot"], of["lamp"]
    for address, form in (
        (f"{lot}/opened", {"day": "2026-11-20"}), (f"{lot}/opened", {"closed": "1"}),
        (f"{lot}/spent", {}), (f"{lot}/spent", {"back": "1"}), (f"{lot}/spent", {"back": "1"}),
        (f"{lot}/block", {"reason": "Ö1"}), (f"{lamp}/checked", {"day": "2026-11-20", "due": "2026-11-24"}),
        (f"{lamp}/spent", {}), (f"{lamp}/spent", {"back": "1"}),
        ("/desk/devices/new", {"name": "Ö2", "kind": "handpiece", "band_low": "400", "band_high": "480"}),
    ):  # fmt: skip
        assert heard(at, address, NAMES, **form) == 200, address
    other = {"name": "Bond", "kind": "bonding-resin", "lot": "L-78", "expiry": "2026-11-25", "opened": "2026-11-23",
             "after_opening": "2", "band_low": "385", "band_high": "405", "seen": last_entry(bench, lot[-10:])}
    assert heard(at, f"{lot}/edit", NAMES, **other) == heard(at, f"{lot}/unblock", NAMES) == 200
    with speaking():
        for page in ("/desk/materials", "/desk/devices"):
            assert unspoken(at.get(page), [*data_of(at.jaw), *NAMES]) == []


def test_people_come_and_go(at: Desk) -> None:
    """Taken on, changed, a PIN and a badge shown once, gone and back: all is told in looked-up words."""
    who = addresses(at)["who"]
    new = {"name": "Ana Noor", "roles": "technique-lead", "until": "2026-12-24"}
    assert heard(at, "/desk/people/new", ("Ana Noor",), **new) == 200
    for address, form in (
        (who, {"name": TECHNICIAN[0], "roles": "technician"}), (f"{who}/pin", {}), (f"{who}/badge/off", {}),
        (f"{who}/left", {}), (f"{who}/left", {}), (f"{who}/badge", {}), (f"{who}/back", {}), (f"{who}/back", {}),
        *[("/desk/settings", {"name": "own_release", "value": "1"})] * 2,
    ):  # fmt: skip
        assert heard(at, address, **form) in (200, 403, 409), address
    with speaking():
        at.client.post(f"{who}/badge")
        text = at.get(f"{who}/once")
    secret = text.split('data-once="badge">')[1].split("<")[0]
    assert unspoken(text, [*data_of(at.jaw), secret]) == []
    with speaking():
        assert unspoken(at.get("/desk/people"), [*data_of(at.jaw), "Ana Noor"]) == []


def test_the_door(at: Desk) -> None:
    """A wrong PIN, a wrong badge, another code, and the pause after too many are told in looked-up words."""
    ids = {p.name: p.id for p in people(at.jaw.bench)}
    struck = give_badge(at.jaw.bench, at.seat(), ids[TECHNICIAN[0]])
    give_badge(at.jaw.bench, at.seat(), ids[TECHNICIAN[0]])
    for badge in (at.jaw.code, "?", *[struck] * 6):
        assert heard(at, "/desk/signin", (spaced(struck),), badge=badge) in (403, 422, 429)
    for _n in range(6):
        assert heard(at, "/desk/signin", person=ids[TECHNICIAN[0]], pin="0") in (403, 429)


def test_printing(at: Desk) -> None:
    """A printer that fails, a folder that is not there, a file with faults: the pages say so in looked-up words."""
    page, file = f"/desk/print/{at.jaw.opened.code}", at.jaw.bench.store.path.parent / "printing.toml"
    known = ("no-such-program", str(file), "A4", "png-203", "Ö", "/9/8", "No such file or directory")
    file.write_text('format = 1\n[folder]\npath = "/9/8"\n[[printers]]\nname = "Ö"\nfile = "png-203"\n'
                    'command = ["no-such-program", "{file}"]\n', encoding="utf-8")
    assert heard(at, page, way="browser") == 422
    for way in ("printer-1", "folder", "gone"):
        assert heard(at, page, known, way=way, label=f"jaw-{at.jaw.code}") == 422
        assert heard(at, "/desk/printing/test", known, way=way) == 422
    file.write_text('format = 1\n[folder]\npath = "9"\n[[printers]]\nname = "Ö"\ncommand = ["a"]\n'
                    '[[printers]]\nname = "Ö"\ncommand = [" {file}"]\n', encoding="utf-8")
    places = ("folder.path", "printers[Ö].command", "printers[Ö]")
    assert heard(at, page, (*known, *places), way="browser") == 422


def test_a_new_data_folder(tmp_path: Path) -> None:
    """The set-up page and what is wrong with it are looked up."""
    ids = random.Random(3)
    folder.create(tmp_path / "new", "lab-of-the-tests")
    chance = Chance(lambda: f"id-{ids.getrandbits(64):016x}", ids.randbytes, ids.choice)
    with folder.open_for_writing(tmp_path / "new") as store, speaking():
        client = create_app(Bench(store, lambda: 1_795_507_200_000, chance, "0.1.0"), "key").test_client()
        shown, refused = client.get("/setup"), client.post("/setup", data={"pin": "1"})
    assert (shown.status_code, refused.status_code) == (200, 422)
    for page in (shown, refused):
        assert unspoken(page.text, zones()) == []
