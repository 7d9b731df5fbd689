"""Timings, run by hand: `python -m tests.bench.judging`. Nothing here is asserted by a clock."""
