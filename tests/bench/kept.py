"""A long measurement that can be broken off: each kiln's row is kept as soon as it is done.

The rows stand in a folder of build/ named after what they were measured with: the text of the measuring
module and of all of ours that it imports, of the schedules, and the versions of the libraries that compute. A
row is read again only while all that is the same to the letter; older folders are left where they are.
"""

from __future__ import annotations

import ast
import hashlib
import json
import os
from collections.abc import Callable, Iterator, Sequence
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from typing import TypeVar

from controller.plain import from_plain, to_plain

Row = TypeVar("Row", bound=tuple[object, ...])

ROOT = Path(__file__).resolve().parents[2]
FOLDER = Path("build/bench")
OURS = ("controller", "tests")
LIBRARIES = ("numpy", "scipy", "simple-pid")


def fingerprint(module: str, root: Path = ROOT) -> str:
    """Return the print of everything that a module's rows depend on."""
    found = hashlib.sha256()
    for path in sorted(imported(module, root) | set(root.glob("profiles/*.toml"))):
        found.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    for library in LIBRARIES:
        found.update(f"{library} {version(library)}\n".encode())
    return found.hexdigest()[:16]


def imported(module: str, root: Path) -> set[Path]:
    """Return the files of a module of ours and of all of ours that it imports, and those import."""
    files: set[Path] = set()
    waiting, seen = [module], set()
    while waiting:
        name = waiting.pop()
        if name in seen or name.partition(".")[0] not in OURS:
            continue
        seen.add(name)
        waiting.append(name.rpartition(".")[0])  # a package's own file runs first
        place = root.joinpath(*name.split("."))
        path = place / "__init__.py" if place.is_dir() else place.with_suffix(".py")
        if path.exists():
            files.add(path)
            waiting += _imports(ast.parse(path.read_text("utf-8")))
    return files


def _imports(tree: ast.Module) -> list[str]:
    """Return what a file imports anywhere; of `from a import b` both a and a.b, which may be a module."""
    names: list[str] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names += [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
    return names


def jobs() -> int:
    """Return how many processes are to compute at once: BENCH_JOBS, or one."""
    return max(1, int(os.environ.get("BENCH_JOBS", "1")))


def rows(
    name: str,
    kind: type[Row],
    measure: Callable[[int], Row],
    seeds: Sequence[int],
    folder: Path | None = None,
) -> Iterator[tuple[Row, bool]]:
    """Yield each seed's row, and whether it was kept from before; first those that were.

    `measure` is called in processes of its own where there are more than one (`jobs`), so it is a function
    of a module.
    """
    folder = folder or FOLDER / f"{name}-{fingerprint(f'tests.bench.{name}')}"
    folder.mkdir(parents=True, exist_ok=True)
    missing = []
    for seed in seeds:
        kept = folder / f"{seed}.json"
        if kept.exists():
            yield from_plain(kind, json.loads(kept.read_text("utf-8"))), True
        else:
            missing.append(seed)
    for seed, row in _measured(measure, missing):
        half = folder / f"{seed}.part"
        half.write_text(json.dumps(to_plain(row)), "utf-8")
        half.replace(folder / f"{seed}.json")  # whole, or not there
        yield row, False


def _measured(measure: Callable[[int], Row], seeds: list[int]) -> Iterator[tuple[int, Row]]:
    if jobs() == 1 or len(seeds) < 2:
        for seed in seeds:
            yield seed, measure(seed)
        return
    with get_context("spawn").Pool(jobs()) as pool:
        yield from pool.imap_unordered(_Numbered(measure), seeds)


class _Numbered:
    """Calls a measurement, and says of which seed the row is."""

    def __init__(self, measure: Callable[[int], Row]) -> None:
        self._measure = measure

    def __call__(self, seed: int) -> tuple[int, Row]:
        return seed, self._measure(seed)
