"""`make mutate`: change the guard and the state table in small ways, one at a time; none may go unnoticed.

What was judged already, with these tests and this code, is kept in build/mutants.json and not judged again:
a run may be broken off and gone on with. `--survivors` judges only those that lived, whatever has changed;
that is for work on the tests, and a run without it says the last word. Mutants that no test can notice,
because they mean the same, are listed with the reason in equivalents.toml. Exit status 1 when another lives.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import time
import tomllib
from pathlib import Path

from rich.console import Console
from rich.table import Table

from tests.mutate.judge_one import UNCHANGED, start, suite_of
from tests.mutate.mutants import ROOT, TARGETS, Mutant, mutants

RESULTS = ROOT / "build/mutants.json"
EQUIVALENTS = Path(__file__).parent / "equivalents.toml"
SAVED_EVERY = 25
NICENESS = 5


def main(words: list[str]) -> int:
    """Judge what has not been judged; print the figures."""
    console = Console(width=140)
    os.nice(max(0, NICENESS - os.nice(0)))
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    began_s = time.monotonic()
    every = [mutant for file in TARGETS for mutant in mutants(file)]
    kept = _kept()
    if "--survivors" in words:
        kept["lived"] = {key: lived for key, lived in kept["lived"].items() if not lived}
    elif kept["of"] != _fingerprint():
        kept = {"of": _fingerprint(), "lived": {}, "seconds": 0.0}
    if not _all_live(
        [Mutant(file, UNCHANGED, 0, _text(file)) for file in {suite_of(f): f for f in TARGETS}.values()]
    ):
        console.print("the tests fail without any change; nothing can be said")
        return 2
    waiting = [mutant for mutant in every if _key(mutant) not in kept["lived"]]
    console.print(f"{len(every)} mutants, {len(waiting)} to be judged")
    _judge(waiting, kept, began_s, console)
    return _report(every, kept, console)


def _judge(waiting: list[Mutant], kept: dict, began_s: float, console: Console) -> None:  # type: ignore[type-arg]
    running: dict[int, Mutant] = {}
    at_once, done, before_s = int(os.environ.get("MUTATE_AT_ONCE", os.cpu_count() or 1)), 0, kept["seconds"]
    queue = list(reversed(waiting))
    while queue or running:
        while queue and len(running) < at_once:
            mutant = queue.pop()
            running[start(mutant)] = mutant
        pid, status = os.wait()
        kept["lived"][_key(running.pop(pid))] = status == 0
        done += 1
        kept["seconds"] = before_s + time.monotonic() - began_s
        if done % SAVED_EVERY == 0 or not (queue or running):
            _save(kept)
        if done % 100 == 0:
            console.print(f"  {done} of {len(waiting)} in {time.monotonic() - began_s:.0f} s")


def _all_live(unchanged: list[Mutant]) -> bool:
    for one in unchanged:
        start(one)
    ends = [os.wait()[1] for _ in unchanged]
    return not any(ends)


def _text(file: str) -> str:
    return (ROOT / file).read_text(encoding="utf-8")


def _report(every: list[Mutant], kept: dict, console: Console) -> int:  # type: ignore[type-arg]
    listed = {
        (one["file"], one["name"]) for one in tomllib.loads(EQUIVALENTS.read_text(encoding="utf-8"))["mutant"]
    }
    table = Table(title="Mutants of the guard and the state table")
    for heading in ("file", "mutants", "noticed", "equivalent", "survived"):
        table.add_column(heading, justify="left" if heading == "file" else "right")
    survivors, needless, totals = [], [], [0, 0, 0, 0]
    for file in TARGETS:
        mine = [mutant for mutant in every if mutant.file == file]
        lived = [mutant for mutant in mine if kept["lived"][_key(mutant)]]
        same = [mutant for mutant in lived if (file, mutant.name) in listed]
        survivors += [mutant for mutant in lived if mutant not in same]
        figures = len(mine), len(mine) - len(lived), len(same), len(lived) - len(same)
        totals = [total + figure for total, figure in zip(totals, figures, strict=True)]
        table.add_row(file, *map(str, figures))
    table.add_row("together", *map(str, totals), style="bold")
    needless = sorted(listed - {(m.file, m.name) for m in every if kept["lived"][_key(m)]})
    console.print(table)
    console.print(f"{kept['seconds']:.0f} s in all")
    for mutant in survivors:
        console.print(f"  survived: {mutant.file}:{mutant.line} {mutant.name}", markup=False)
    for file, name in needless:
        console.print(f"  listed as equivalent, and noticed or gone: {file} {name}", markup=False)
    return 1 if survivors or needless else 0


def _key(mutant: Mutant) -> str:
    return hashlib.sha256(f"{mutant.file}\n{mutant.source}".encode()).hexdigest()[:16]


def _fingerprint() -> str:
    files = (*TARGETS, "controller/alarms.py", "controller/plain.py", "hardware_notes/interlocks.md")
    paths = [ROOT / file for file in files]
    for room in ("guard", "firing", "docs", "faults"):
        paths += sorted((ROOT / "tests" / room).glob("*.py"))
    return hashlib.sha256(b"".join(path.read_bytes() for path in paths)).hexdigest()[:16]


def _kept() -> dict:  # type: ignore[type-arg]
    return json.loads(RESULTS.read_text()) if RESULTS.exists() else {"of": "", "lived": {}, "seconds": 0.0}


def _save(kept: dict) -> None:  # type: ignore[type-arg]
    RESULTS.parent.mkdir(exist_ok=True)
    new = RESULTS.with_suffix(".new")
    new.write_text(json.dumps(kept, indent=0) + "\n")
    new.replace(RESULTS)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
