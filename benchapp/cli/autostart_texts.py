"""What tells the system to start the server when somebody signs in to the PC: one text for each kind of system.

Sources: systemd.unit(5), systemd.service(5) and systemd.syntax(7); the Task Scheduler schema of Windows, of which
restartType was read at learn.microsoft.com and the rest is told from memory, as is launchd.plist(5). None of the three
needs an administrator.
"""

import plistlib
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

UNIT = "seat-and-cure.service"
LABEL = "local.seat-and-cure"
TASK = "Seat and Cure"
_SCHEMA = "http://schemas.microsoft.com/windows/2004/02/mit/task"


def command(python: str, data: str, lan: bool) -> list[str]:
    """Return the program and arguments that serve a data folder; both paths are whole."""
    return [python, "-m", "benchapp", "serve", "--data", data, *(["--lan"] if lan else [])]


def systemd_unit(arguments: Sequence[str], folder: str) -> str:
    """Return a user unit for Linux that starts `arguments` in `folder`, and again where it fails."""
    return f"""\
[Unit]
Description=Seat & Cure

[Service]
ExecStart={" ".join([_quoted(arguments[0]), *(_quoted(one).replace("$", "$$") for one in arguments[1:])])}
WorkingDirectory={folder.replace("%", "%%")}
Restart=on-failure
RestartSec=5

[Install]
WantedBy=default.target
"""


def _quoted(argument: str) -> str:
    """Quote one argument for systemd; variables are put in everywhere but in the program, so there $ stays single."""
    plain = argument.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    return f'"{plain}"'


def launchd_agent(arguments: Sequence[str], folder: str) -> str:
    """Return a property list for macOS that starts `arguments` in `folder`, and again where it fails."""
    return plistlib.dumps({
        "Label": LABEL, "ProgramArguments": list(arguments), "WorkingDirectory": folder, "RunAtLoad": True,
        "KeepAlive": {"SuccessfulExit": False}, "ThrottleInterval": 10, "ProcessType": "Interactive",
    }).decode()


def windows_task(arguments: Sequence[str], folder: str, user: str) -> str:
    """Return a task for Windows that starts `arguments` in `folder` when `user` signs in, and again where it fails."""
    root = ElementTree.Element("Task", {"version": "1.2", "xmlns": _SCHEMA})
    _child(_child(root, "RegistrationInfo"), "Description", "Seat & Cure: the server of the laboratory")
    trigger = _child(_child(root, "Triggers"), "LogonTrigger")
    _child(trigger, "Enabled", "true")
    _child(trigger, "UserId", user)
    principal = _child(_child(root, "Principals"), "Principal")
    principal.set("id", "Author")
    for name, value in (("UserId", user), ("LogonType", "InteractiveToken"), ("RunLevel", "LeastPrivilege")):
        _child(principal, name, value)
    settings = _child(root, "Settings")
    for name, value in (
        ("MultipleInstancesPolicy", "IgnoreNew"), ("DisallowStartIfOnBatteries", "false"),
        ("StopIfGoingOnBatteries", "false"), ("StartWhenAvailable", "true"), ("ExecutionTimeLimit", "PT0S"),
    ):
        _child(settings, name, value)
    again = _child(settings, "RestartOnFailure")
    _child(again, "Interval", "PT1M")
    _child(again, "Count", "3")
    actions = _child(root, "Actions")
    actions.set("Context", "Author")
    run = _child(actions, "Exec")
    _child(run, "Command", arguments[0])
    _child(run, "Arguments", subprocess.list2cmdline(arguments[1:]))
    _child(run, "WorkingDirectory", folder)
    ElementTree.indent(root)
    return '<?xml version="1.0" encoding="UTF-16"?>\n' + ElementTree.tostring(root, "unicode") + "\n"


@dataclass(frozen=True)
class Plan:
    """How a system is told: the file and its bytes, commands that make it known or forgotten, how to start it at once.

    Where `file` is None the bytes go to a file that the command names as `{file}` and that is thrown away after.
    """

    file: str | None
    content: bytes
    on: list[list[str]]
    off: list[list[str]]
    now: str


def plan(system: str, home: str, user: str, arguments: Sequence[str], folder: str) -> Plan | None:
    """Return how `system` (as platform.system() names it) is told; None for one that is not known."""
    if system == "Linux":
        control = ["systemctl", "--user"]
        return Plan(
            f"{home}/.config/systemd/user/{UNIT}", systemd_unit(arguments, folder).encode(),
            [[*control, "daemon-reload"], [*control, "enable", UNIT]], [[*control, "disable", UNIT]],
            f"systemctl --user start {UNIT}",
        )
    if system == "Darwin":  # what lies in that folder is started at the next sign-in by itself
        file = f"{home}/Library/LaunchAgents/{LABEL}.plist"
        return Plan(file, launchd_agent(arguments, folder).encode(), [], [], f"launchctl load {file}")
    if system == "Windows":
        return Plan(
            None, windows_task(arguments, folder, user).encode("utf-16"),
            [["schtasks", "/Create", "/TN", TASK, "/XML", "{file}", "/F"]],
            [["schtasks", "/Delete", "/TN", TASK, "/F"]],
            f'schtasks /Run /TN "{TASK}"',
        )
    return None


def _child(parent: ElementTree.Element, name: str, text: str = "") -> ElementTree.Element:
    made = ElementTree.SubElement(parent, name)
    made.text = text or None
    return made
