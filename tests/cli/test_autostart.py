"""Starting by itself: what each system is told, read back by its own reader, and what the command does."""

import configparser
import plistlib
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result

from benchapp.actions.bench import Refused
from benchapp.cli import autostart as shell
from benchapp.cli.autostart_texts import LABEL, TASK, UNIT, command, launchd_agent, plan, systemd_unit, windows_task
from benchapp.store.folder import create

NASTY = '/srv/la b/50%/$HOME/"q"/back\\slash/Ł'
ARGUMENTS = command("/opt/my python/bin/python", NASTY, lan=True)
# The Task Scheduler schema of Windows: restartType as read at learn.microsoft.com, the other elements from memory.
NAMESPACE = "{http://schemas.microsoft.com/windows/2004/02/mit/task}"


def test_the_command_that_is_started() -> None:
    """The same Python serves the folder, for the network only where that was asked."""
    assert command("py", "d", False) == ["py", "-m", "benchapp", "serve", "--data", "d"]
    assert command("py", "d", True)[-1] == "--lan"


def test_the_unit_is_read_back() -> None:
    """The unit's keys are those of systemd, and its command line gives every argument back, letter by letter."""
    reader = configparser.ConfigParser(interpolation=None, strict=True)
    reader.optionxform = str  # type: ignore[assignment,method-assign]
    reader.read_string(systemd_unit(ARGUMENTS, "/srv/50%"))
    assert {name: sorted(reader[name]) for name in reader.sections()} == {
        "Unit": ["Description"], "Service": ["ExecStart", "Restart", "RestartSec", "WorkingDirectory"],
        "Install": ["WantedBy"],
    }
    assert reader["Service"]["WorkingDirectory"] == "/srv/50%%"
    # Within double quotes POSIX shells and systemd take a backslash alike before a quotation mark or a backslash.
    words = [word.replace("%%", "%") for word in shlex.split(reader["Service"]["ExecStart"])]
    assert [words[0], *(word.replace("$$", "$") for word in words[1:])] == ARGUMENTS


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not on this machine")
def test_systemd_takes_the_unit(tmp_path: Path) -> None:
    """The system's own checker has nothing to say about the unit."""
    file = tmp_path / UNIT
    file.write_text(systemd_unit(command(sys.executable, str(tmp_path / "50% $HOME"), False), str(tmp_path)), "utf-8")
    assert complaints(file) == []
    file.write_text(file.read_text("utf-8").replace("Restart=on-failure", "Restart=perhaps"), "utf-8")
    assert complaints(file) != []


def complaints(file: Path) -> list[str]:
    """Return what systemd's own checker says of a unit."""
    checked = ["systemd-analyze", "verify", "--man=no", str(file)]
    done = subprocess.run(checked, capture_output=True, text=True, check=False)
    return [line for line in (done.stdout + done.stderr).splitlines() if file.name in line]


def test_the_agent_is_read_back() -> None:
    """The property list holds the arguments as they are, starts at sign-in and again after a failure."""
    found = plistlib.loads(launchd_agent(ARGUMENTS, NASTY).encode())
    assert found["ProgramArguments"] == ARGUMENTS and found["WorkingDirectory"] == NASTY
    assert (found["Label"], found["RunAtLoad"], found["KeepAlive"]) == (LABEL, True, {"SuccessfulExit": False})


def test_the_task_is_read_back() -> None:
    """The task has the documented elements, runs at the sign-in of one user without more rights, and has no end."""
    arguments = command("C:\\Program Files\\py\\python.exe", "C:\\La b & Co\\data", True)
    text = windows_task(arguments, "C:\\La b & Co\\data", "PC\\Łucja")
    root = ElementTree.fromstring(text.encode("utf-16"))
    assert root.tag == f"{NAMESPACE}Task" and root.get("version") == "1.2"
    assert [one.tag.removeprefix(NAMESPACE) for one in root] == [
        "RegistrationInfo", "Triggers", "Principals", "Settings", "Actions"]

    def said(path: str) -> str | None:
        return root.findtext("/".join(NAMESPACE + part for part in path.split("/")))

    assert said("Triggers/LogonTrigger/UserId") == said("Principals/Principal/UserId") == "PC\\Łucja"
    assert said("Principals/Principal/LogonType") == "InteractiveToken"
    assert said("Principals/Principal/RunLevel") == "LeastPrivilege"
    assert said("Settings/ExecutionTimeLimit") == "PT0S" and said("Settings/MultipleInstancesPolicy") == "IgnoreNew"
    assert (said("Settings/RestartOnFailure/Interval"), said("Settings/RestartOnFailure/Count")) == ("PT1M", "3")
    assert said("Settings/StopIfGoingOnBatteries") == said("Settings/DisallowStartIfOnBatteries") == "false"
    assert said("Actions/Exec/Command") == arguments[0]
    assert said("Actions/Exec/Arguments") == '-m benchapp serve --data "C:\\La b & Co\\data" --lan'
    actions, principal = root.find(f"{NAMESPACE}Actions"), root.find(f"{NAMESPACE}Principals/{NAMESPACE}Principal")
    assert actions is not None and principal is not None and actions.get("Context") == principal.get("id")


def test_a_plan_for_each_system_and_none_for_others() -> None:
    """Commands are lists of arguments; a system that is not known has no plan."""
    plans = {name: plan(name, "/home/x", "x", ARGUMENTS, "/srv") for name in ("Linux", "Darwin", "Windows")}
    for found in plans.values():
        assert found is not None and all(isinstance(word, str) for line in [*found.on, *found.off] for word in line)
    assert plan("Haiku", "/home/x", "x", ARGUMENTS, "/srv") is None
    windows = plans["Windows"]
    assert windows is not None and windows.off == [["schtasks", "/Delete", "/TN", TASK, "/F"]]


class Told:
    """Stands where the system's commands would run, and keeps what they were told."""

    def __init__(self, code: int = 0) -> None:
        self.lines: list[list[str]] = []
        self.files: list[bytes] = []
        self.code = code

    def run(self, line: list[str], **how: object) -> "subprocess.CompletedProcess[str]":
        """Keep a command, and the file that it names."""
        assert "shell" not in how
        self.lines.append(line)
        self.files += [Path(word).read_bytes() for word in line if word.endswith(".xml")]
        return subprocess.CompletedProcess(line, self.code, "", "it said no")


def asked(patch: pytest.MonkeyPatch, home: Path, system: str, *words: str, code: int = 0) -> tuple[Result, Told]:
    """Run the command as if on `system`, with a home of its own."""
    told = Told(code)
    patch.setattr(shell.platform, "system", lambda: system)
    patch.setattr(shell.subprocess, "run", told.run)
    patch.setattr(shell.Path, "home", lambda: home)
    if system == "Linux":
        patch.setattr(shell.Path, "is_dir", lambda self: True)
    return CliRunner().invoke(shell.autostart, words), told


def test_on_and_off_under_linux(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On writes the unit and says how to undo it; off takes it away again, and stops no server."""
    data = create(tmp_path / "data", "lab").path
    done, told = asked(monkeypatch, tmp_path, "Linux", "on", "--data", str(data))
    unit = tmp_path / ".config" / "systemd" / "user" / UNIT
    assert done.exit_code == 0 and unit.is_file() and "benchapp autostart off" in done.output
    assert told.lines == [["systemctl", "--user", "daemon-reload"], ["systemctl", "--user", "enable", UNIT]]
    done, _ = asked(monkeypatch, tmp_path, "Linux", "show", "--data", str(data))
    assert "is there" in done.output and unit.read_text("utf-8") in done.output
    done, told = asked(monkeypatch, tmp_path, "Linux", "off")
    assert done.exit_code == 0 and not unit.exists() and told.lines == [["systemctl", "--user", "disable", UNIT]]


def test_on_under_windows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The task is handed over as a file in UTF-16, which is gone afterwards."""
    data = create(tmp_path / "data", "lab").path
    done, told = asked(monkeypatch, tmp_path, "Windows", "on", "--data", str(data))
    assert done.exit_code == 0, done.exception
    ((*words, file, force),) = told.lines
    assert words == ["schtasks", "/Create", "/TN", TASK, "/XML"] and force == "/F" and not Path(file).exists()
    assert told.files[0].startswith(b"\xff\xfe") and ElementTree.fromstring(told.files[0]).tag == f"{NAMESPACE}Task"


def test_what_cannot_be_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No folder, no network, a system that is not known and a command that fails each end in a sentence."""
    data = create(tmp_path / "data", "lab").path
    cases = [
        ("Linux", ["--data", str(tmp_path / "none")], 0, "There is no laboratory"),
        ("Linux", ["--data", str(data), "--lan"], 0, "has no network yet"),
        ("Haiku", ["--data", str(data)], 0, "Let its own start-up run"),
        ("Linux", ["--data", str(data)], 1, "it said no"),
    ]
    for system, words, code, said in cases:
        done, _ = asked(monkeypatch, tmp_path, system, "on", *words, code=code)
        assert isinstance(done.exception, Refused) and said in str(done.exception), (words, done.exception)
