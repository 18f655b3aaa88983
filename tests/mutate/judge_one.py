"""One mutant on trial: a forked process in which its module is the changed one, and its tests."""

from __future__ import annotations

import importlib
import importlib.abc
import importlib.machinery
import inspect
import os
import resource
import sys
import types
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import pytest

from tests.mutate.mutants import ROOT, Mutant

GUARD = tuple(
    f"tests/guard/test_{name}.py"
    for name in ("look", "memory", "edges", "guard", "latches", "contract", "rows")
)
PAGES = "tests/docs/test_docs.py::test_a_page_says_what_the_table_says"
SUITES = {
    "controller/firing/states.py": ("tests/firing/test_states.py",),
    "controller/guard/rows.py": (PAGES, *GUARD),
}
# Processor time after which a process hangs in an endless loop: ten times what the whole suite takes.
HANGS_S = 120
# The name of a module that is tried as it is, to see that its tests are well.
UNCHANGED = "unchanged"


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
        """Sort what was collected; what was called directly has said its word."""
        if self._name != UNCHANGED:
            items[:] = [item for item in items if _needs_more(item)]
        items.sort(key=lambda item: self.rank(getattr(getattr(item, "callspec", None), "params", {})))

    def rank(self, given: dict[str, Any]) -> tuple[int, int]:
        """Return a test's place by what it is given."""
        scene = given.get("scene")
        if scene is None:
            return 1, 0
        from controller.guard import ROWS

        test = next(row.test.__name__ for row in ROWS if row.id == scene.row_id)
        near = self._name.startswith(f"{test}:") or f".{scene.row_id}:" in self._name
        return 0 if near else 2, scene.at_s


def _needs_more(item: pytest.Item) -> bool:
    """Whether a test needs more than its own parameters."""
    given = set(getattr(getattr(item, "callspec", None), "params", {}))
    return set(inspect.signature(item.obj).parameters) != given  # type: ignore[attr-defined]


def noticed_at_once(mutant: Mutant) -> bool:
    """Run the suite's tests that need nothing but their own parameters, by calling them.

    They are the same tests, without what surrounds them, in less time; those that need more are left out.
    """
    try:
        for _, test, given in sorted(_calls(mutant), key=lambda call: call[0]):
            test(**given)
    except Exception:
        return True
    return False


def _calls(mutant: Mutant) -> Iterator[tuple[tuple[int, int], Callable[..., None], dict[str, Any]]]:
    nearest = NearestFirst(mutant)
    for entry in suite_of(mutant.file):
        file, _, only = entry.partition("::")
        module = importlib.import_module(file.removesuffix(".py").replace("/", "."))
        for name, test in list(vars(module).items()):
            if not name.startswith(only or "test_"):
                continue
            sets: list[dict[str, Any]] = [{}]
            for mark in getattr(test, "pytestmark", []):
                names = mark.args[0].split(",") if isinstance(mark.args[0], str) else mark.args[0]
                values = [value if len(names) > 1 else (value,) for value in mark.args[1]]
                sets = [one | dict(zip(names, value, strict=True)) for one in sets for value in values]
            if set(inspect.signature(test).parameters) == set(sets[0]):
                yield from ((nearest.rank(given), test, given) for given in sets)


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
        status = 1
        if not noticed_at_once(mutant):
            told = ["-x", "--assert=plain", "-p", "pytest_timeout", *suite_of(mutant.file)]
            status = pytest.main(told, plugins=[NearestFirst(mutant)])
            status = 0 if status == pytest.ExitCode.NO_TESTS_COLLECTED else status
    finally:
        os._exit(int(status))
