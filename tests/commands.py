"""Commands as people type them, in this process: a process of its own for each would only start Python anew."""

import contextlib
import io
import os
import subprocess
import sys

import pytest

from benchapp.cli import main
from benchapp.core.words import using


def command(*arguments: str, apart: bool = False) -> "subprocess.CompletedProcess[str]":
    """Run a benchapp command to its end; what it printed and its exit code. `apart` gives it a process of its own.

    Serving always gets one.
    """
    if apart or arguments[:1] == ("serve",):
        return subprocess.run(
            [sys.executable, "-m", "benchapp", *arguments], capture_output=True, text=True, encoding="utf-8",
            env=os.environ | {"PYTHONIOENCODING": "utf-8"}, check=False,
        )
    out, err, code = io.StringIO(), io.StringIO(), 0
    with (
        pytest.MonkeyPatch.context() as patch, using(None),
        contextlib.redirect_stdout(out), contextlib.redirect_stderr(err),
    ):
        patch.setattr(sys, "argv", ["benchapp", *arguments])
        try:
            main()
        except SystemExit as ended:
            code = int(ended.code or 0)
    return subprocess.CompletedProcess(["benchapp", *arguments], code, out.getvalue(), err.getvalue())
