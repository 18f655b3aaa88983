"""Benchmarks: `make bench` runs them all, prints a table and writes build/bench.json."""
