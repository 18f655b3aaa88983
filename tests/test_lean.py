"""What a process does not need, it does not load: a start takes no longer than it must."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = {
    "alembic",
    "fastapi",
    "hypothesis",
    "matplotlib",
    "numpy",
    "plotext",
    "pymodbus",
    "rich",
    "scipy",
    "sqlalchemy",
}


@pytest.mark.parametrize(
    ("modules", "may"),
    [
        # The controller: the wire and the record. Principle 4: it never fits, plots or serves.
        ("controller.assemble, controller.channel, controller.watchdog", {"pymodbus", "sqlalchemy"}),
        ("controller.simulator.process", {"pymodbus"}),
        ("controller.cli; controller.cli.build_parser()", set()),
    ],
)
def test_a_process_loads_nothing_heavy_that_it_does_not_need(modules: str, may: set[str]) -> None:
    code = f"import sys, {modules}\nprint(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=30, check=True
    )
    assert HEAVY & set(done.stdout.split()) == may
