"""One mutant on trial: a forked process in which its module is the changed one, and its tests."""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import os
import resource
import sys
import types
from collections.abc import Sequence

import pytest

from tests.mutate.mutants import ROOT, Mutant

GUARD = tuple(f"tests/guard/test_{name}.py" for name in ("memory", "edges", "guard", "contract", "rows"))
PAGES = "tests/docs/test_docs.py::test_a_page_says_what_the_table_says"
SUITES = {
    "controller/firing/states.py": ("tests/firing/test_states.py",),
    "controller/guard/rows.py": (PAGES, *GUARD),
}
# Processor time after which a process hangs in an endless loop: ten times what the whole suite takes.
HANGS_S = 120


def suite_of(file: str) -> tuple[str, ...]:
    """Return the tests that must notice a change of a file."""
    return SUITES.get(file, GUARD)


class Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module from a source of its own."""

    def __init__(self, mutant: Mutant) -> None:
        self._mutant = mutant
        self._module = mutant.file.removesuffix(".py").replace("/", ".")

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: types.ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """Answer for the one module only."""
        if fullname != self._module:
            return None
        return importlib.machinery.ModuleSpec(fullname, self, origin=str(ROOT / self._mutant.file))

    def exec_module(self, module: types.ModuleType) -> None:
        """Run the changed source."""
        module.__file__ = str(ROOT / self._mutant.file)
        exec(compile(self._mutant.source, module.__file__, "exec"), vars(module))


class NearestFirst:
    """Puts the tests that name what was changed before all others, and quick scenes before slow ones."""

    def __init__(self, mutant: Mutant) -> None:
        self._name = mutant.name

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Sort what was collected."""
        items.sort(key=self._rank)

    def _rank(self, item: pytest.Item) -> tuple[int, int]:
        from controller.guard import ROWS

        scene = getattr(item, "callspec", None) and item.callspec.params.get("scene")  # type: ignore[attr-defined]
        if not scene:
            return 1, 0
        test = next(row.test.__name__ for row in ROWS if row.id == scene.row_id)
        near = self._name.startswith(f"{test}:") or f".{scene.row_id}:" in self._name
        return 0 if near else 2, scene.at_s


def start(mutant: Mutant) -> int:
    """Begin the trial in a process of its own; return its id. It ends with 0 when the mutant lives."""
    sys.stdout.flush()
    pid = os.fork()
    if pid:
        return pid
    status = 2
    try:
        resource.setrlimit(resource.RLIMIT_CPU, (HANGS_S, HANGS_S))
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, 1)
        os.dup2(nothing, 2)
        sys.meta_path.insert(0, Changed(mutant))
        suite = suite_of(mutant.file)
        status = pytest.main(
            ["-x", "--assert=plain", "-p", "pytest_timeout", *suite], plugins=[NearestFirst(mutant)]
        )
    finally:
        os._exit(int(status))
