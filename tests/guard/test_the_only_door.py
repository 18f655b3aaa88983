"""Nothing but the guard can reach the heater: by what is imported, by what is named, by what holds it."""

from __future__ import annotations

import ast
import functools
import gc
import types
from collections.abc import Iterable
from pathlib import Path

from controller import assemble
from controller.clock import ManualClock
from controller.commissioning.rig import Bench, Rig
from controller.config import KilnConfig, load_kiln
from controller.guard import Guard, LatchFile
from controller.wire.kiln_wire import open_inputs, open_wire

ROOT = Path(__file__).parents[2]
DEMO_KILN = ROOT / "controller/simulator/demo_kiln.toml"

# What switches heat, and the only files in which it is named: the guard, and the wire's own ladder.
SWITCHES = {"energise", "close_main", "write_coil", "write_coils", "write_register", "write_registers"}
MAY_SWITCH = (
    "controller/replay.py",  # its heater is a memory of what was refused then
    "controller/seen.py",  # keeps which of a tick's commands failed, by their names
    "controller/guard/guard.py",
    "controller/wire/",
    "controller/simulator/",
    "controller/commands/fault.py",  # the simulated kiln's fault panel, a unit of its own: see below
)
# What hands out a heat output, and the only files that may name it: they pass it on to a guard.
MAKERS = {"open_wire", "wire_over", "HeatOutput", "ModbusHeatOutput", "BoardHeatOutput", "open_board"}
MAY_MAKE = {
    "controller/assemble.py",
    "controller/guard/__init__.py",  # the guard's own protocol of the same name
    "controller/guard/guard.py",
    "controller/commands/commission.py",  # gives the opener to bring-up, whose rig makes a guard: see below
}
# What speaks on a wire, and the only files that may import it.
LIBRARIES = {"pymodbus", "serial"}


@functools.cache
def sources() -> tuple[tuple[str, ast.Module], ...]:
    """Every file of ours that may run beside a kiln."""
    paths = [*(ROOT / "controller").rglob("*.py"), *(ROOT / "web").rglob("*.py")]
    paths = [path for path in paths if "node_modules" not in path.parts]
    assert len(paths) > 100
    return tuple((str(p.relative_to(ROOT)), ast.parse(p.read_text(encoding="utf-8"))) for p in paths)


def named(tree: ast.AST) -> Iterable[tuple[str, int]]:
    """Every name that a file uses, defines or imports, or spells out for `getattr`."""
    for node in ast.walk(tree):
        match node:
            case ast.Attribute(attr=name) | ast.Name(id=name) | ast.FunctionDef(name=name):
                yield name, node.lineno
            case ast.ImportFrom(names=names) | ast.Import(names=names):
                yield from ((alias.name.rpartition(".")[2], node.lineno) for alias in names)
            case ast.Constant(value=str() as name) if name.isidentifier():
                yield name, node.lineno


def test_what_switches_heat_is_named_in_the_guard_and_the_wire_alone() -> None:
    found = {
        f"{file}:{line} {name}"
        for file, tree in sources()
        for name, line in named(tree)
        if name in SWITCHES and not file.startswith(MAY_SWITCH)
    }
    assert found == set()


def test_a_heat_output_is_named_only_where_it_goes_into_a_guard() -> None:
    found = {
        file
        for file, tree in sources()
        for name, _ in named(tree)
        if name in MAKERS and not file.startswith("controller/wire/")
    }
    assert found == MAY_MAKE


def test_nothing_outside_the_wire_speaks_on_one() -> None:
    found = set()
    for file, tree in sources():
        for node in ast.walk(tree):
            modules = (
                [node.module or ""]
                if isinstance(node, ast.ImportFrom)
                else [alias.name for alias in node.names]
                if isinstance(node, ast.Import)
                else []
            )
            if LIBRARIES & {module.partition(".")[0] for module in modules}:
                found.add(file)
    own = {file for file in found if not file.startswith(("controller/wire/", "controller/simulator/"))}
    assert own == {"controller/commands/fault.py"}


def test_the_fault_command_writes_to_the_simulated_kiln_s_panel_and_nowhere_else() -> None:
    tree = dict(sources())["controller/commands/fault.py"]
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    writes = [one for one in calls if isinstance(one.func, ast.Attribute) and one.func.attr in SWITCHES]
    assert writes
    for write in writes:
        units = {word.arg: ast.unparse(word.value) for word in write.keywords}
        assert units["device_id"] == "Panel.number"


def reached(roots: Iterable[object], *, through_the_guard: bool) -> list[object]:
    """Every object that can be got at from `roots`, by references; not through code and modules."""
    seen: dict[int, object] = {}
    waiting = list(roots)
    while waiting:
        one = waiting.pop()
        if id(one) in seen or isinstance(one, type | types.ModuleType | types.CodeType):
            continue
        seen[id(one)] = one
        if isinstance(one, Guard) and not through_the_guard:
            continue
        if isinstance(one, types.FunctionType):  # what it closes over, not what its module holds
            waiting += [cell.cell_contents for cell in one.__closure__ or ()]
            continue
        waiting += gc.get_referents(one)
    return list(seen.values())


def switches(objects: Iterable[object]) -> list[object]:
    """Those that can energise a relay."""
    return [one for one in objects if hasattr(type(one), "energise")]


def kiln() -> KilnConfig:
    return load_kiln(DEMO_KILN)


def only_the_guard_holds_it(output: object, guard: Guard) -> None:
    holders = [h for h in gc.get_referrers(output) if not isinstance(h, types.FrameType)]
    assert any(h is vars(guard) or h is guard for h in holders)
    for holder in holders:
        assert holder is vars(guard) or holder is guard, type(holder)


def test_in_a_controller_that_is_put_together_only_the_guard_holds_the_heat_output(tmp_path: Path) -> None:
    config, clock = kiln(), ManualClock()
    inputs, output = open_wire(config, clock.now_s)
    loop = assemble.tick_loop(config, output, LatchFile(tmp_path / "latches.json"), clock.now_s)
    only_the_guard_holds_it(output, loop.guard)
    assert switches(reached([loop, inputs], through_the_guard=True)) == [output]
    everything = reached([loop, inputs], through_the_guard=False)
    assert len(everything) > 100
    assert switches(everything) == []
    inputs.close()


def test_in_bring_up_only_the_guard_holds_the_heat_output(tmp_path: Path) -> None:
    made = []

    def opener(config: KilnConfig, now: object) -> object:
        made.append(open_wire(config, now))  # type: ignore[arg-type]
        return made.pop()

    rig = Rig(Bench(kiln(), tmp_path, ManualClock(), None, opener), kiln())  # type: ignore[arg-type]
    try:
        (output,) = switches(reached([rig], through_the_guard=True))
        only_the_guard_holds_it(output, rig.loop.guard)
        assert switches(reached([rig], through_the_guard=False)) == []
    finally:
        rig.close()


def test_what_only_looks_holds_nothing_that_switches() -> None:
    inputs = open_inputs(kiln(), ManualClock().now_s)
    assert len(reached([inputs], through_the_guard=True)) > 100
    assert switches(reached([inputs], through_the_guard=True)) == []
    inputs.close()
