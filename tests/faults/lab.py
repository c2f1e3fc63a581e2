"""A filled lab for fault tests, made once and copied for each of them."""

import re
import shutil
from pathlib import Path

from benchapp import paths
from benchapp.actions.cases import add_case
from benchapp.core.sheet import read_sheet
from benchapp.serve import open_bench
from tests.live import DEMO, LiveLab


def make_lab(folder: Path) -> LiveLab:
    """Make a data folder with one jaw whose clocks run for seconds, so that a run need not wait for minutes."""
    protocol = (paths.PROTOCOLS / "green-splinted.toml").read_text("utf-8")
    quick = re.sub(r"(floors = \[\{ since = \"[a-z-]+\", )minutes = \d+, grace = \d+", r"\1seconds = 1", protocol)
    quick = quick.replace('"wet-sockets", minutes = 20, grace = 30', '"wet-sockets", seconds = 12')
    assert quick.count("seconds = 1, breach") == 5 and quick.count("seconds = 12, breach") == 1
    folder.mkdir(parents=True, exist_ok=True)
    lab = LiveLab(folder / "data")
    lab.run("lab", str(DEMO / "lab.toml"), "--data", str(lab.data))
    sheet = read_sheet("first-upper.toml", (DEMO / "first-upper.toml").read_text("utf-8"))
    with (bench := open_bench(lab.data)).store:
        lab.code = add_case(bench, sheet, quick, speed=3).jaws[0]["code"]
    # As if today's backup were made: one more process at every start would only cost time here.
    shutil.copy(lab.data / "bench.sqlite3", lab.data / "backups" / "daily-0.sqlite3")
    return lab


def copy_of(template: LiveLab, folder: Path) -> LiveLab:
    """Return a lab of its own with the same contents."""
    shutil.copytree(template.data, folder)
    return LiveLab(folder, code=template.code)
