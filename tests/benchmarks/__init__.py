"""Benchmarks: ratios to a named floor measured in the same run; never part of a pass or a fail of the tests."""
