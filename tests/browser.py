"""A browser for the tests: found on this computer, or else installed; never skipped in silence."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

# The shell without windows comes first: it does the same in three quarters of the processor's time.
SHELL = "chromium-headless-shell"
ON_PATH = (
    SHELL, "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "microsoft-edge",
    "microsoft-edge-stable", "msedge",
)
ELSEWHERE = (
    "/snap/bin/chromium",
    "/opt/google/chrome/chrome",
    "/opt/microsoft/msedge/msedge",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "~/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
)
WINDOWS_FOLDERS = ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")
WINDOWS_FILES = (
    "Google/Chrome/Application/chrome.exe", "Microsoft/Edge/Application/msedge.exe",
    "Chromium/Application/chrome.exe",
)
NONE_FOUND = (
    "No browser for the tests: install Chromium, Chrome or Edge, or set BENCHAPP_BROWSER to the path of one."
)


class NoBrowser(Exception):
    """There is no browser here, and none could be installed; the message says what to do."""


def find_browser(whole: bool = False) -> str | None:
    """Return the path of an installed Chromium, Chrome or Edge; None when there is none. The shell is no `whole` one.

    NoBrowser when BENCHAPP_BROWSER names something that is no program.
    """
    wished = os.environ.get("BENCHAPP_BROWSER")
    if wished:
        path = shutil.which(wished)
        if path is None:
            raise NoBrowser(f"BENCHAPP_BROWSER is {wished!r}, which is no program: name one, or leave it out.")
        return path
    found = (path for path in _candidates() if not (whole and Path(path).name == SHELL))
    return next((path for path in found if _starts(path)), None)


def sure_browser() -> str:
    """Return the path of a browser, installing one where none is found; NoBrowser when that fails too."""
    if os.environ.get("CI") and not os.environ.get("BENCHAPP_BROWSER") and not shutil.which(SHELL):
        _from_debian(SHELL)
    found = find_browser() or _playwright_browser()
    if found is None and _run(sys.executable, "-m", "playwright", "install", "chromium"):
        found = _playwright_browser()
    if found is None and (_from_debian(SHELL) or _from_debian("chromium")):
        found = find_browser()
    if found is None:
        raise NoBrowser(NONE_FOUND)
    return found


def whole_browser() -> str:
    """Return the path of a browser that has a camera too; NoBrowser when there is none."""
    found = find_browser(whole=True)
    if found is None and not os.environ.get("BENCHAPP_BROWSER") and _from_debian("chromium"):
        found = find_browser(whole=True)
    return found or sure_browser()


def sure_program(name: str, package: str) -> str | None:
    """Return the path of a program; where the project's own tests run on Debian it is installed, else None."""
    if os.environ.get("CI") and not shutil.which(name):
        _from_debian(package)
    return shutil.which(name)


def _from_debian(package: str) -> bool:
    """Install a package as root on Debian; tell whether that went well."""
    if not (_is_root() and shutil.which("apt-get")):
        return False
    _run("apt-get", "update", "-q")
    return _run("apt-get", "install", "-y", "-q", package)


def browser_args() -> list[str]:
    """Return the arguments for a headless browser that keeps to itself."""
    alone = [] if not _is_root() else ["--no-sandbox"]
    return [
        *alone, "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
        "--disable-component-update", "--disable-sync",
    ]


def _is_root() -> bool:
    return sys.platform != "win32" and os.geteuid() == 0


def _candidates() -> Iterator[str]:
    yield from filter(None, map(shutil.which, ON_PATH))
    yield from (str(Path(path).expanduser()) for path in ELSEWHERE)
    for folder in filter(None, map(os.environ.get, WINDOWS_FOLDERS)):
        yield from (str(Path(folder) / file) for file in WINDOWS_FILES)


def _starts(path: str) -> bool:
    """Tell whether a program is there and finds its libraries (on Windows it would open a window instead)."""
    if not Path(path).is_file():
        return False
    return sys.platform == "win32" or _run(path, "--version", seconds=60, loud=False)


def _playwright_browser() -> str | None:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        path = playwright.chromium.executable_path
    return path if _starts(path) else None


def _run(*command: str, seconds: float = 600, loud: bool = True) -> bool:
    """Run a command and tell whether it went well; a loud one says beforehand what it does."""
    if loud:
        print("looking for a browser:", *command[-4:], flush=True)
    quiet = {"PLAYWRIGHT_DOWNLOAD_CONNECTION_TIMEOUT": "10000", "DEBIAN_FRONTEND": "noninteractive"}
    try:
        done = subprocess.run(command, timeout=seconds, env=os.environ | quiet, capture_output=True, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0
