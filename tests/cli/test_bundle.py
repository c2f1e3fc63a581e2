"""The bundle for whoever helps: what is in it, and that nothing of a person, a case or a secret is."""

import json
import shutil
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner

from benchapp.actions.desk import Seat
from benchapp.actions.lab import people
from benchapp.actions.settings import change
from benchapp.cli.doctor import doctor
from benchapp.core.bundle import Known, bundle
from benchapp.core.doctor import Finding
from tests.actions.worked import CASE, LAB, worked
from tests.live import free_port

MARK = "Zzplanted"
HEAD = "2026-11-24T08:00:00.000Z"


def planted(data: Path) -> list[str]:
    """Make a lab in which every place that takes words holds the mark; return what must not leave it beside that."""
    lab = LAB
    for name in ("Pracownia Żółw, invented", "Łukasz Wiśniewski", "Зоя Ким", "Lamp Plover", "Wharf 3", "L-77"):
        lab = lab.replace(name, f"{MARK} {name}")
    case = CASE
    for name in ("Żuraw 17", "Практика", "T-2026-0017", "light 2", "P-118"):
        case = case.replace(name, f"{MARK} {name}")
    with worked(data, lab=lab, case=case) as jaw:
        boss = next(person for person in people(jaw.bench) if "supervisor" in person.roles)
        change(jaw.bench, Seat(boss), "csv_map", json.dumps({MARK: MARK}))
        with jaw.bench.store.writing() as writer:
            writer.park(1, "T000000000", f"{MARK}: odd", MARK.encode())
            writer.add_tablet("T123456789", f"{MARK}-token", jaw.now[0])
        code = jaw.code
    (data / "printing.toml").write_text(f'format = 1\n[folder]\npath = "/{MARK}"\nfile = "labels"\n', "utf-8")
    (data / "local-key").write_text(MARK, "utf-8")
    (data / "lock").write_text(f"1\nhttp://{MARK}.example:1\n", "utf-8")
    network = data / "network"
    network.mkdir()
    (network / "network.toml").write_text(f'name = "{MARK}.invalid"\nport = 1\nsetup_port = 2\n', "utf-8")
    for file in ("ca.pem", "leaf.pem", "leaf.key", f"{MARK}.pem"):
        (network / file).write_text(MARK, "utf-8")
    log = data / "logs"
    log.mkdir(exist_ok=True)
    lines = [
        MARK, f"{HEAD} INFO server-start version={MARK}", f"{HEAD} ERROR {MARK.lower()} id=4F7K2M",
        f'{HEAD} ERROR script-error file=page line=3 says="{MARK}"', f"{HEAD} INFO backup {MARK}",
        f"{HEAD} ERROR script-error file=/static/js/{MARK}.js", f"{HEAD} INFO server-start version=0.1.0 port=8321",
    ]
    (log / "server.log").write_text("\n".join(lines), "utf-8")
    (log / f"{MARK}.log").write_text(MARK, "utf-8")
    backups = data / "backups"
    backups.mkdir(exist_ok=True)
    shutil.copy(data / "bench.sqlite3", backups / f"{MARK}.sqlite3")
    with closing(sqlite3.connect(data / "bench.sqlite3")) as connection:
        hashes = [row[0] for row in connection.execute("SELECT hash FROM secret UNION SELECT hash FROM journal")]
        holders = [row[0] for row in connection.execute("SELECT holder FROM secret UNION SELECT id FROM texts")]
    return [code, *hashes, *holders]


def test_nothing_of_a_person_is_in_it(tmp_path: Path) -> None:
    """With the mark in every name, text, file name, key and log line none of it is in the zip; the rest is."""
    data = tmp_path / MARK / "data"
    secret = planted(data)
    file = tmp_path / "out.zip"
    done = CliRunner().invoke(doctor, ["--data", str(data), "--port", str(free_port()), "--bundle", str(file)])
    assert done.exit_code == 1 and MARK in done.output, done.output  # the lab itself is told names
    with zipfile.ZipFile(file) as made:
        texts = {name: made.read(name).decode() for name in made.namelist()}
    whole = "".join([*texts, *texts.values()]).lower() + file.read_bytes().decode("latin-1").lower()
    for word in (MARK, "ukasz", "wharf", "uraw", "plover", str(tmp_path), *secret):
        assert word.lower() not in whole, word
    assert len(secret) > 10
    assert json.loads(texts["counts.json"])["kinds"]["case"] == 1
    assert json.loads(texts["settings.json"])["settings"] == {
        "own_release": "0", "numbers": "fdi", "alarm_all": "5", "idle_lock": "10", "csv_map": "set",
        "drops_per_ml": "0", "seating_axis": "z"}
    assert {"python", "sqlite", "flask"} <= json.loads(texts["versions.json"]).keys()
    findings = {one["check"]: one["level"] for one in json.loads(texts["findings.json"])}
    assert findings["database"] == "ok" and findings["authority"] == "wrong"
    assert texts["server.log"].splitlines() == [
        f"{HEAD} ERROR script-error file=page line=3", f"{HEAD} INFO server-start version=0.1.0 port=8321",
        "(5 lines of another form were left out)",
    ]


def test_a_folder_that_cannot_be_opened_still_gives_one(tmp_path: Path) -> None:
    """Without a database the bundle has findings and versions, and the kind of error instead of its words."""
    file = tmp_path / "out.zip"
    where = ["--data", str(tmp_path / MARK), "--port", str(free_port())]
    done = CliRunner().invoke(doctor, [*where, "--bundle", str(file)])
    assert done.exit_code == 1 and file.exists()
    with zipfile.ZipFile(file) as made:
        first = json.loads(made.read("findings.json"))[0]
    assert first == {"check": "database", "level": "wrong", "words": "…", "about": "FolderMissing"}


def test_a_file_that_is_there_stays(tmp_path: Path) -> None:
    """A file of that name is not written over."""
    file = tmp_path / "out.zip"
    file.write_text("mine", "utf-8")
    done = CliRunner().invoke(doctor, ["--data", str(tmp_path / "none"), "--bundle", str(file)])
    assert "already: name another one" in str(done.exception)
    assert file.read_text("utf-8") == "mine" and list(tmp_path.iterdir()) == [file]


@pytest.mark.parametrize(("settings", "kinds"), [({"numbers": MARK, "alarm_all": MARK, MARK: MARK}, {MARK: 3})])
def test_what_is_not_known_is_only_counted(settings: dict[str, str], kinds: dict[str, int]) -> None:
    """A value that is not one of ours and a kind of a newer version are told without their words."""
    made = bundle(Known([Finding("x", "ok", f"a {MARK} b", (MARK,))], {}, settings, kinds=kinds | {"case": 2}))
    assert MARK not in "".join(made.values())
    assert json.loads(made["counts.json"])["kinds"] == {"case": 2, "of a newer version": 3}
