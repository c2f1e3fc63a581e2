"""What runs by itself in the whole lab, for every page that rings or warns."""

from dataclasses import asdict
from typing import Any

from flask import Blueprint

from benchapp.actions.due import due
from benchapp.actions.lab import lab_of
from benchapp.actions.settings import setting
from benchapp.web.app import the_bench
from benchapp.web.tablets import known_tablet

views = Blueprint("due", __name__)


@views.get("/due.json")
def running() -> dict[str, Any]:
    """List the clocks that run by themselves: {due: [...], all: ms after which everybody hears, zone, now}."""
    known_tablet()
    bench = the_bench()
    return {
        "due": [asdict(one) for one in due(bench)], "all": int(setting(bench, "alarm_all")) * 60_000,
        "zone": lab_of(bench).zone, "now": bench.clock(),
    }
