"""The demo's lab has on its shelf what the protocols that ship ask for."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from benchapp.actions.cases import add_case
from benchapp.actions.jaws import line, protocol_of
from benchapp.core.sheet import read_sheet
from benchapp.paths import DEMO_CASES, PROTOCOLS
from benchapp.web.picks import shelf_of
from tests.web.clients import asked

SHIPPED = sorted(PROTOCOLS.glob("*.toml"))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_step_can_be_picked_with_the_demo_lab(path: Path, tmp_path: Path) -> None:
    """With every option of a shipped protocol each pick has a tile that is fit and goes with the others, filled in."""
    text = path.read_text("utf-8")
    options = tomllib.loads(text)["options"]
    sheet = (DEMO_CASES / "first-upper.toml").read_text("utf-8").replace("DEMO-2026-0017", "DEMO-2026-0018")
    sheet = sheet.replace("training = true", f"training = true\noptions = {options}")
    lab = (DEMO_CASES / "lab.toml").read_text("utf-8")
    with asked(tmp_path / "data", lab=lab) as (client, jaw), client.application.app_context():
        found = line(jaw.bench, add_case(jaw.bench, read_sheet("case.toml", sheet), text).jaws[0]["code"])
        on = {card["step"] for card in found.table["cards"]}
        steps = [step for step in protocol_of(jaw.bench, found).steps if step.id in on]
        picks = shelf_of(jaw.bench, found, steps).picks
    asked_for: list[dict[str, Any]] = [pick for of_step in picks.values() for pick in of_step]
    bare = [pick["title"] for pick in asked_for if not any(tile["pressed"] for tile in pick["tiles"])]
    assert len(asked_for) >= 5 and bare == []
