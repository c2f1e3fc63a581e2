"""How often chance is asked: enough in every run of the tests, as often as it deserves by `python -m tests --many`."""

import os

MANY = "BENCHAPP_MANY"  # set for the processes of the tests by `--many`


def count(usual: int, many: int) -> int:
    """Return how often something is tried in this run."""
    return many if os.environ.get(MANY) else usual
