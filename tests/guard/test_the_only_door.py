"""Nothing but the guard can reach the heater: by what is imported, by what is called, by what holds it."""

from __future__ import annotations

import ast
import gc
import types
from pathlib import Path

from controller import assemble
from controller.clock import ManualClock
from controller.config import load_kiln
from controller.guard import LatchFile
from controller.wire.kiln_wire import open_wire

ROOT = Path(__file__).parents[2]
DEMO_KILN = ROOT / "controller/simulator/demo_kiln.toml"

# What switches heat, and the only files in which it is called: the guard, and the wire's own ladder.
SWITCHES = {"energise", "close_main", "write_coil", "write_registers"}
MAY_CALL = (
    "controller/replay.py",  # its heater is a memory of what was refused then
    "controller/guard/guard.py",
    "controller/wire/",
    "controller/simulator/",
    "controller/commands/fault.py",
)
# What hands out a heat output, and the only files that may ask for one: they pass it on to a guard.
MAKERS = {"open_wire", "wire_over", "HeatOutput", "BoardHeatOutput", "open_board"}
MAY_MAKE = ("controller/assemble.py", "controller/wire/")


def sources() -> list[tuple[str, ast.Module]]:
    """Every file of ours that may run beside a kiln."""
    paths = [*(ROOT / "controller").rglob("*.py"), *(ROOT / "web").glob("*.py")]
    assert len(paths) > 100
    return [(str(p.relative_to(ROOT)), ast.parse(p.read_text(encoding="utf-8"))) for p in paths]


def test_what_switches_heat_is_called_by_the_guard_and_the_wire_alone() -> None:
    callers = set()
    for name, tree in sources():
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and node.attr in SWITCHES and not name.startswith(MAY_CALL):
                callers.add(f"{name}:{node.lineno} {node.attr}")
    assert callers == set()


def test_a_heat_output_is_asked_for_only_where_it_goes_into_a_guard() -> None:
    askers = set()
    for name, tree in sources():
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and not name.startswith(MAY_MAKE):
                askers |= {f"{name}: {alias.name}" for alias in node.names if alias.name in MAKERS}
    assert askers <= MAY_ASK, askers - MAY_ASK


# Each with a reason: the guard's own protocol of the same name; bring-up, which makes a guard of its own.
MAY_ASK = {
    "controller/guard/__init__.py: HeatOutput",
    "controller/commands/commission.py: open_wire",
}


def test_in_a_controller_that_is_put_together_only_the_guard_holds_the_heat_output(tmp_path: Path) -> None:
    config = load_kiln(DEMO_KILN)
    clock = ManualClock()
    inputs, output = open_wire(config, clock.now_s)
    loop = assemble.tick_loop(config, output, LatchFile(tmp_path / "latches.json"), clock.now_s)
    holders = [h for h in gc.get_referrers(output) if not isinstance(h, types.FrameType)]
    assert any(h is vars(loop.guard) or h is loop.guard for h in holders)
    for holder in holders:
        assert holder is vars(loop.guard) or holder is loop.guard, type(holder)
    inputs.close()
