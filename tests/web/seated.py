"""A jaw with its seating check, served in a thread: a made pair that was really checked, its GLB, and a still picture.

What is shown is handed to the page as `SeatingPage`, so that no test waits for files to be attached and checked.
"""

import io
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Browser
from werkzeug.serving import BaseWSGIServer, WSGIRequestHandler, make_server

from benchapp.core.scales import Limits
from benchapp.seating.glb import glb_of
from benchapp.seating.report import as_json
from benchapp.web import seating as views
from benchapp.web.app import create_app
from benchapp.web.seating_page import Finding, SeatingPage
from tests.actions.worked import CASE, Worked, worked
from tests.browser import browser_args, whole_browser
from tests.seating.made import SMALL, checked

PLAN = f"teeth={SMALL}, fine=16"
# WebGL without a graphics card: SwiftShader, as Chromium brings it.
DRAWS = ("--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")


def small_seating(place: Path, **changed: Any) -> SeatingPage:
    """Return the check of six lower front teeth, with limits that two of them break, and its pictures in a folder."""
    found = checked(PLAN)
    solid, picture = place / "jaw.glb", place / "jaw.png"
    solid.write_bytes(glb_of(found))
    still = io.BytesIO()
    Image.new("RGB", (1600, 1000), (205, 214, 209)).save(still, "PNG")
    picture.write_bytes(still.getvalue())
    report = as_json(found.report)
    depths = sorted(tooth["depth_median_mm"] for tooth in report["teeth"])
    middle = (depths[3] + depths[4]) / 2
    what: dict[str, Any] = {
        "limits": {"depth": Limits(0.1, middle), "clearance": Limits(least=0.5)}, "drops": 2,
        "findings": (Finding("2 teeth deeper than is wanted"), Finding("Arch near base", "Tried, fits", "Somebody")),
        "cuts": {"42-41": "half"}, "solid": solid, "picture": picture,
    }  # fmt: skip
    return SeatingPage(report, **what | changed)


@contextmanager
def shown(place: Path, seating: SeatingPage) -> Iterator[Worked]:
    """Give a jaw of those teeth whose page shows this check."""
    case = CASE.replace("{teeth}", str(list(SMALL)))
    with pytest.MonkeyPatch.context() as patch, worked(place, jaw="lower", case=case) as jaw:
        patch.setattr(views, "page_of", lambda bench, found: seating)
        yield jaw


class _Quiet(WSGIRequestHandler):
    def log(self, *_: Any) -> None:
        """Say nothing: the tests' own output is enough."""


@dataclass
class Served:
    """An application of a jaw, answered by a thread; it can be stopped and begun again at the same port."""

    jaw: Worked
    port: int = 0
    server: BaseWSGIServer | None = None
    thread: threading.Thread = field(default_factory=threading.Thread)

    def start(self) -> "Served":
        """Answer from now on."""
        app = create_app(self.jaw.bench)
        self.server = make_server("127.0.0.1", self.port, app, threaded=True, request_handler=_Quiet)
        self.port = self.server.server_port
        self.thread = threading.Thread(target=self.server.serve_forever, daemon=True)
        self.thread.start()
        return self

    def stop(self) -> None:
        """Answer nothing any more."""
        if self.server:
            self.server.shutdown()
            self.server.server_close()
            self.thread.join()
            self.server = None

    def at(self, path: str) -> str:
        """Return an address of it."""
        return f"http://127.0.0.1:{self.port}{path}"


@contextmanager
def drawing(browser: Browser) -> Iterator[Browser]:
    """Give a browser that draws in three dimensions."""
    args = [one for one in browser_args() if one != "--disable-gpu"]
    opened = browser.browser_type.launch(executable_path=whole_browser(), args=[*args, *DRAWS])
    yield opened
    opened.close()
