"""Run every benchmark: `python -m tests.bench [NAME ...]`. Prints a table, writes build/bench.json."""

from __future__ import annotations

import importlib
import json
import os
import sys
from pathlib import Path

# Before numpy is imported anywhere: on small matrices more threads only wait for one another, and on a busy
# computer they make a fit take several times as long.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# One module a subject; each has `measure() -> dict[str, float]`. The keys are names that never change.
SUBJECTS = (
    "core",
    "wire",
    "latency",
    "thermocouple",
    "physics",
    "control",
    "forecast",
    "web",
    "page",
)
RESULTS = Path("build/bench.json")


def main(names: list[str]) -> int:
    """Measure the named subjects (all of them by default); keep what other runs measured."""
    results: dict[str, float] = json.loads(RESULTS.read_text()) if RESULTS.exists() else {}
    for name in names or SUBJECTS:
        measured = importlib.import_module(f"tests.bench.{name}").measure()
        for key, value in measured.items():
            print(f"{key:36} {value:12.4g}", flush=True)
        results |= measured
        RESULTS.parent.mkdir(exist_ok=True)  # kept at once: what comes next may take long, and be broken off
        RESULTS.write_text(json.dumps(results, indent=1, sort_keys=True) + "\n")
    print(f"written to {RESULTS}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
