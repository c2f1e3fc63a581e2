"""Sets the clock of a server under test ahead, by BENCHAPP_TEST_AHEAD_MS; Python reads this file at its start."""

import os
import time

_NS = int(os.environ.get("BENCHAPP_TEST_AHEAD_MS", "0")) * 1_000_000
_real, _real_ns = time.time, time.time_ns
time.time = lambda: _real() + _NS / 1e9
time.time_ns = lambda: _real_ns() + _NS
