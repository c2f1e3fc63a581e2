"""A jaw with a seating check at the bench: a protocol that shows it, made-up reports, a server in this process."""

import hashlib
import json
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from werkzeug.serving import WSGIRequestHandler, make_server

from benchapp.actions.bench import Bench
from benchapp.actions.cases import add_case
from benchapp.actions.seating import meshes_of
from benchapp.core.sheet import read_sheet
from benchapp.seating.report import DEFINITIONS, SIDES
from benchapp.web.app import create_app
from tests.actions.worked import CASE, Worked
from tests.core.test_findings import report
from tests.core.test_protocol import DEFAULT
from tests.core.test_stops import place

TEETH = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
LIMITS = """[seating]
depth = { least = 0.3, most = 0.8, source = "lab" }
connector = { most = 8, source = "lab" }
gap = { least = 0.05, most = 0.3, source = "lab" }
cut = { leave = 2.0, kerf = 0.3, source = "cp" }
"""
_REASONS = """[[reasons]]
id = "as-ordered"
title = "As the clinic ordered it"
asked = ["finding"]
[[reasons]]
id = "tried-and-fits"
title = "Tried dry, and fits"
asked = ["finding"]
[[reasons]]
id = "designer-agrees"
title = "Agreed with the designer"
asked = ["finding"]

"""
_WAKES = """said = "a part is wrong", leads = "hold" },
  { id = "watch-filling", title = "Watch when filling", said = "to be watched when filling", of = "place", leads = "wakes", to = "fill-gaps" },
  { id = "watch-bubbles", title = "Watch for bubbles", said = "to be watched for bubbles", of = "place", leads = "wakes", to = "bubble-check" },
"""  # noqa: E501
_DROPS = """seating = "resin"
values = [
  { name = "resin-drops", title = "Resin, drops", unit = "", usual = 0, min = 0, max = 99, step = 1, breach = "note", source = "cp" },
]
"""  # noqa: E501


def _watching() -> str:
    """Return the protocol that ships with everything that it may say of a seating check, and limits of the lab."""
    text = re.sub(r"\[seating\]\n(?:\w+ = .*\n)*", "", DEFAULT)
    text = text.replace("# --- hazards", f"{LIMITS}\n# --- hazards", 1)
    if "watch-filling" in text:
        return text
    text = text.replace("# --- the work", f"{_REASONS}# --- the work", 1)
    text = text.replace('said = "a part is wrong", leads = "hold" },\n', _WAKES, 1)
    shows = {"part-check": 'seating = "answers"\nplaces = ["connector", "margin"]\n', "cut-back": 'seating = "cut"\n',
             "lay-out": _DROPS, "fill-gaps": 'seating = "fill"\n', "bubble-check": 'seating = "fill"\n'}
    for step, keys in shows.items():
        text = text.replace(f'id = "{step}"\n', f'id = "{step}"\n{keys}', 1)
    return text


WATCHING = _watching()


def good(**over: Any) -> dict[str, Any]:
    """Return the whole report of a jaw with nothing outside the limits; `over` as of `test_findings.report`."""
    seen = report(**({"row": TEETH, "resin_ml": 0.42} | over))
    for tooth in seen["teeth"]:
        tooth |= {
            "depth_max_mm": tooth["depth_median_mm"], "crest_depth_median_mm": 0.6, "bond_area_mm2": 30.0,
            "depth_by_side_mm": dict.fromkeys(SIDES, tooth["depth_median_mm"]), "gap_volume_ml": 0.03, "intervals": {},
        }
    for joint in seen["connectors"]:
        joint |= {"thickness_mm": 2.0, "relief_volume_ml": 0.001, "islands_mm2": [], "intervals": {}}
    meshes = {part: {"sha256": _hash(part), "triangles": 1200, "closed": True} for part in ("base", "arch")}
    return seen | {
        "jaw": "upper", "unit": "mm", "axis": [0.0, 0.0, 1.0], "axis_source": "given", "axis_spread_deg": 0.0,
        "leave_mm2": 2.0, "kerf_mm": 0.3, "intervals": {}, "warnings": [], "meshes": meshes,
        "definitions_version": DEFINITIONS, "nearest": place(11, "buccal", 0.08), "overlaps": [], "undercuts": [],
    }


def bad() -> dict[str, Any]:
    """Return the report of a jaw with three findings, places to watch, and connectors of every cut."""
    depths, gaps = {16: 0.95, 26: 0.9, 12: 0.2}, {24: 0.02, 11: 0.42}
    joints = {17: (9.5, 3.4, 4.6), 16: (7.0, 2.4, 4.4), 15: (1.9, 0.0, 3.6), 25: (9.1, 3.2, 4.6)}
    seen = good(depths=depths, gaps=gaps, joints=joints)
    seen["connectors"][4]["at_limit"] = True
    return seen


def worse() -> dict[str, Any]:
    """Return the report of a jaw with as many findings as can well stand together."""
    seen = bad()
    blocked = [place(16, "lingual", 0.2), place(15, "buccal", 0.1), place(15, "lingual", 0.32), place(21, None, 0.11)]
    return seen | {"goes_in": False, "undercut_width_mm": 0.32, "undercuts": blocked, "teeth": seen["teeth"][1:]}


def watching(jaw: Worked, order: str = "T-2026-0099") -> str:
    """Take a case in under the protocol of this module, and make it the jaw that is worked; return its code."""
    sheet = CASE.format(training="false", jaw="upper", teeth=list(TEETH)).replace("T-2026-0017", order)
    sheet = sheet.replace('allergy = "none stated"', 'allergy = "no"')
    jaw.opened = add_case(jaw.bench, read_sheet("case.toml", sheet), WATCHING)
    return jaw.code


def attach(jaw: Worked) -> list[str]:
    """Attach made-up design files to base and arch of the jaw; return the ids of the entries."""
    for part in ("base", "arch"):
        file = meshes_of(jaw.bench).path(_hash(part))
        file.parent.mkdir(exist_ok=True)
        file.write_bytes(part.encode())
    with jaw.bench.writing() as writer:
        return [
            jaw.bench.request(writer, "mesh", case=jaw.opened.code, jaw=jaw.code, data={
                "part": part, "revision": "B", "hash": _hash(part), "bytes": 84,
            }).event_id
            for part in ("base", "arch")
        ]


def check(jaw: Worked, seen: dict[str, Any] | None, of: list[str] | None = None) -> str:
    """Store a check of the jaw as it is stored when it came to its end, None as refused; return the entry's id."""
    of = of or attach(jaw)
    body = json.dumps(seen).encode() if seen else b""
    data = {"base": _hash("base"), "arch": _hash("arch"), "revision": "B", "key": "k", "of": of,
            "definitions": DEFINITIONS,
            "report": hashlib.sha256(body).hexdigest() if seen else ""}
    with jaw.bench.writing() as writer:
        if seen:
            writer.add_course(str(data["report"]), body)
        else:
            data["texts"] = {"1": jaw.bench.text(writer, "The base is no closed shape.")}
        return jaw.bench.request(writer, "seating", case=jaw.opened.code, jaw=jaw.code, data=data).event_id


def _hash(part: str) -> str:
    return hashlib.sha256(part.encode()).hexdigest()


class _Silent(WSGIRequestHandler):
    def log_request(self, *_about: Any) -> None:
        """Say nothing of what is asked."""


@contextmanager
def served(bench: Bench, key: str = "key") -> Iterator[str]:
    """Serve the application from a thread of this process; give its address."""
    server = make_server("127.0.0.1", 0, create_app(bench, key), threaded=True, request_handler=_Silent)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join(10)
        server.server_close()
