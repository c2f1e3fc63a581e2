"""Design files and their check in a real browser, with the server's own check of a small pair."""

from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import BrowserContext, expect

from tests.live import LiveLab
from tests.seating.made import small
from tests.seating.pairs import stl
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw
from tests.web.hands import at_desk
from tests.web.test_staff_screens import sound


def test_files_are_attached_and_checked(
    tablet: Callable[..., BrowserContext], lab: LiveLab, new_jaw: NewJaw, tmp_path: Path
) -> None:
    """A refused file stays chosen and says why; both attached by keyboard, the check runs, may be left, and is told."""
    code = new_jaw()
    for part, mesh in zip(("base", "arch"), small(), strict=True):
        (tmp_path / f"{part}.stl").write_bytes(stl(mesh))
    (tmp_path / "no.stl").write_bytes(b"<html>" * 99)
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
        page.wait_for_selector(f"#check-{code} >> text=/Base|Arch/", timeout=60_000)
        page.screenshot(path=f"/tmp/desk-{part}.png", full_page=True)
    check = page.locator(f"#check-{code}")
    expect(check).to_have_attribute("data-moves", "")
    sound(page, "it runs")
    page.goto(f"{lab.address}/desk/today")
    page.go_back()
    expect(check).to_have_attribute("data-check", "done", timeout=60_000)
    expect(check).to_contain_text("of resin")
    page.set_viewport_size({"width": LANDSCAPE[0], "height": LANDSCAPE[1]})
    sound(page, "told")
    page.goto(f"{lab.address}/desk/jaw/{code}/files")
    expect(page.locator("[data-hash]")).to_have_count(2)
    sound(page, "both attached")
