"""A simulated week of a lab against a real server; `python -m tests.week` runs it whole."""
