"""Runs one after another in one process: browser and filled lab are made once, each run gets its own copy."""

import atexit
import os
import tempfile
import threading
from multiprocessing import parent_process
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from tests.browser import browser_args, sure_browser
from tests.faults.lab import copy_of, make_lab
from tests.faults.walk import Ran, Walk

_here: dict[str, Any] = {}


def _process() -> dict[str, Any]:
    """Return this process's browser and filled lab, made at the first run in it."""
    if not _here:
        threading.Thread(target=_end_with_parent, daemon=True).start()
        folder = tempfile.TemporaryDirectory(prefix="walks-")
        playwright = sync_playwright().start()
        _here.update(
            folder=folder, playwright=playwright, lab=make_lab(Path(folder.name) / "template"),
            browser=playwright.chromium.launch(executable_path=sure_browser(), args=browser_args()))
        atexit.register(playwright.stop)
    return _here


def _end_with_parent() -> None:
    """Whoever stops the sweep stops its processes too: the run in hand would otherwise go on by itself."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(3)


def one_run(seed: int) -> Ran:
    """Do the run of a seed in this process."""
    here = _process()
    with tempfile.TemporaryDirectory(prefix=f"walk-{seed}-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        return Walk(seed, here["browser"], copy_of(here["lab"], folder / "data"), folder).run()
