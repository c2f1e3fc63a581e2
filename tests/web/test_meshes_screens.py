"""Design files and their check in a real browser; what comes of the check was kept before, so that nobody waits."""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import BrowserContext, expect

from benchapp.background import Checks
from benchapp.core.seating_line import asked
from tests.actions.checked import stl, told
from tests.actions.worked import UPPER
from tests.live import LiveLab
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw
from tests.web.hands import at_desk
from tests.web.test_staff_screens import sound


def keep_result(data: Path, base: bytes, arch: bytes) -> None:
    """Keep the report of two files in a data folder, as its process would."""
    names = {part: hashlib.sha256(file).hexdigest() for part, file in (("base", base), ("arch", arch))}
    checks = Checks(data / "seating")
    checks.folder.mkdir(exist_ok=True)
    key = checks.named(names["base"], names["arch"], asked("upper", UPPER, "z", 2.0, 0.3))
    (checks.folder / f"{key}.json").write_text(json.dumps({"report": told(names), "faults": []}))


def test_files_are_attached_and_checked(
    tablet: Callable[..., BrowserContext], lab: LiveLab, new_jaw: NewJaw, tmp_path: Path
) -> None:
    """A refused file stays chosen and says why; both attached by keyboard, the check may be left, and is told."""
    code = new_jaw()
    keep_result(lab.data, stl("base"), stl("arch"))
    for name, data in (("base", stl("base")), ("arch", stl("arch")), ("no", b"<html>" * 99)):
        (tmp_path / f"{name}.stl").write_bytes(data)
    page = at_desk(tablet(PORTRAIT), lab, f"/desk/jaw/{code}/files")
    sound(page, "no file yet")
    page.set_input_files("#file-base", tmp_path / "no.stl")
    page.press("[data-part=base] button", "Enter")
    expect(page.locator("[data-part=base] .faults")).to_contain_text("That is no STL file")
    assert page.input_value("#file-base").endswith("no.stl")
    sound(page, "refused")
    for part in ("base", "arch"):
        page.goto(f"{lab.address}/desk/jaw/{code}/files")
        page.set_input_files(f"#file-{part}", tmp_path / f"{part}.stl")
        page.press(f"[data-part={part}] button", "Enter")
        page.wait_for_url(f"**/desk/case/*#jaw-{code}")
    page.goto(f"{lab.address}/desk/today")
    page.go_back()
    check = page.locator(f"#check-{code}")
    expect(check).to_have_attribute("data-seating", "done", timeout=30_000)
    expect(check).to_contain_text("of resin")
    sound(page, "told")
    page.set_viewport_size({"width": LANDSCAPE[0], "height": LANDSCAPE[1]})
    page.goto(f"{lab.address}/desk/jaw/{code}/files")
    expect(page.locator("[data-hash]")).to_have_count(2)
    sound(page, "both attached")
