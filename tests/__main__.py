"""Everything that CI asks, in one command: `python -m tests [--many] [arguments of pytest]`.

With `--many` chance is asked as often as it deserves, which takes some minutes more.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from tests.browser import NoBrowser, sure_browser, sure_program, whole_browser
from tests.counts import MANY

ROOT = Path(__file__).resolve().parent.parent
PYTEST = ("-n", "3", "--dist", "worksteal", "--durations", "10", "--durations-min", "0.5")


def main(arguments: list[str]) -> int:
    """Run all checks and then the tests; return 0 only if everything passed. pytest's own last line comes last."""
    try:
        print("browsers:", sure_browser(), whole_browser(), flush=True)
    except NoBrowser as missing:
        print(missing, file=sys.stderr)
        return 1
    sure_program("certutil", "libnss3-tools")  # without it the tests of trust say that they were skipped
    failed = {name: words for name, command in checks().items() if (words := _complaint(name, command))}
    if "--many" in arguments:
        os.environ[MANY] = "yes"
    rest = [one for one in arguments if one != "--many"]
    code, closing = _pytest([sys.executable, "-m", "pytest", *PYTEST, *rest])
    for name, words in failed.items():
        print(f"\n--- {name} failed ---\n{words}")
    print(f"\n{', '.join([*failed, *(['pytest'] if code else [])]) or 'nothing'} failed")
    print(closing, flush=True)
    return 1 if code or failed else 0


def checks() -> dict[str, list[str]]:
    """Return the checks besides the tests, by name: each a command that ends with 0 when all is well."""
    python = [sys.executable, "-m"]
    linter = shutil.which("lint-imports", path=str(Path(sys.executable).parent)) or "lint-imports"
    found = {
        "ruff": [*python, "ruff", "check", "."],
        "mypy": [*python, "mypy"],
        "lint-imports": [linter],
    }
    if (ROOT / "benchapp" / "devdocs.py").exists():
        found["devdocs"] = [*python, "benchapp.devdocs", "--check"]
        found["devwords"] = [*python, "benchapp.devwords", "--check"]
    return found


def _complaint(name: str, command: list[str]) -> str:
    """Run one check; return "" when it passed, else what it said."""
    print(f"{name} … ", end="", flush=True)
    try:
        done = subprocess.run(
            command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8",
            errors="replace", check=False,
        )
        code, words = done.returncode, done.stdout.strip()
    except OSError as error:
        code, words = 1, str(error)
    print("passed" if not code else f"FAILED\n{words}", flush=True)
    return "" if not code else words or f"it ended with {code} and said nothing"


def _pytest(command: list[str]) -> tuple[int, str]:
    """Run pytest with its words passed on as they come; return its exit code and its closing line."""
    closing = "pytest said nothing"
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8",
        errors="replace", env={name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
    ) as running:
        for line in running.stdout or ():
            print(line, end="", flush=True)
            closing = line.strip() or closing
    return running.returncode, closing


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
