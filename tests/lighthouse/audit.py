"""One page judged by Lighthouse, a tool of its own that is no part of the project: scores and what cost them."""

import json
import shutil
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

CATEGORIES = {"accessibility": "accessibility", "best-practices": "best practices"}
TABLET = ["--form-factor=mobile", "--screenEmulation.mobile", "--screenEmulation.width=800",
          "--screenEmulation.height=1280", "--screenEmulation.deviceScaleFactor=1"]
DESK = ["--preset=desktop"]
PATIENCE_S = 180


class NoLighthouse(Exception):
    """The program is not there; the message says what to do."""


@dataclass
class Audit:
    """A page's scores of 100 by category; `lost` names each audit that was not passed, with the elements it names."""

    name: str
    scores: dict[str, int]
    lost: list[str] = field(default_factory=list)
    version: str = ""
    browser: str = ""


def program() -> str:
    """Return where the program is; NoLighthouse where it is nowhere on the PATH."""
    found = shutil.which("lighthouse")
    if found is None:
        raise NoLighthouse("There is no `lighthouse` on the PATH: `npm install -g lighthouse`; it needs node.")
    return found


def audit(name: str, address: str, port: int, look: list[str]) -> Audit:
    """Judge a page in the browser that listens at `port`, with all that its profile holds; AssertionError when it
    could not be judged."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "report.json"
        done = subprocess.run(
            [program(), address, f"--port={port}", f"--only-categories={','.join(CATEGORIES)}", "--output=json",
             f"--output-path={out}", "--quiet", "--disable-storage-reset", "--ignore-status-code",
             "--disable-full-page-screenshot", *look],
            capture_output=True, text=True, encoding="utf-8", timeout=PATIENCE_S, check=False,
        )
        assert out.exists(), (address, done.stdout[-2000:], done.stderr[-2000:])
        return read(name, json.loads(out.read_text("utf-8")))


def read(name: str, report: dict[str, Any]) -> Audit:
    """Read a report (JSON of Lighthouse 12); AssertionError when a page could not be judged."""
    assert "runtimeError" not in report, report["runtimeError"]
    found = Audit(name, {}, version=report["lighthouseVersion"], browser=report["environment"]["hostUserAgent"])
    for category in CATEGORIES:
        judged = report["categories"][category]
        assert judged["score"] is not None, (name, category)
        found.scores[category] = int(judged["score"] * 100 + 1e-6)  # 99.6 is not 100
        for one in judged["auditRefs"]:
            result = report["audits"][one["id"]]
            if one["weight"] and result["score"] is not None and result["score"] < 1:
                found.lost.append(f"{result['title']}: {'; '.join(_where(result))}")
    return found


def _where(result: dict[str, Any]) -> list[str]:
    """Return what an audit names: elements, addresses, messages."""
    items = (result.get("details") or {}).get("items", [])
    said = [item.get("node", {}).get("snippet") or item.get("description") or item.get("url") or str(item)
            for item in items]
    return [" ".join(str(one).split())[:200] for one in said[:5]]
