"""Timings, run by hand: `python -m tests.bench.judging`, `…recording`. A clock asserts nothing."""
