"""The heart of the loop as machine code, for those who run a thousand firings: the same source, by mypyc.

A kiln is always run by the plain source, which costs a few dozen microseconds in each second. Only the bench
and the campaign of faults use this, in a copy of the house under build/. The copy is made anew when the
source changes; the bench compares what both make of a firing, to the bit, each time it measures.

Where there is no C compiler, or Python's headers are missing, everything runs on the plain source; that is
slower and otherwise the same, and is said.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import sysconfig
from pathlib import Path

HOUSE = Path(__file__).parent.parent
BUILD = HOUSE / "build" / "compiled"
# What runs in every tick: the guard, the core, the control, and the plant with its physics.
HEART = (
    "controller/tick.py",
    "controller/guard/*.py",
    "controller/firing/*.py",
    "controller/schedule/leading.py",
    "controller/control/*.py",
    "controller/physics/kiln.py",
    "controller/physics/matter.py",
    "controller/physics/parameters.py",
    "controller/simulator/plant.py",
    "controller/simulator/sensors.py",
)
COPIED = ("controller", "web", "profiles", "tests", "pyproject.toml")
# No fused multiplications: the same bits on every processor, as Python gives them.
FLAGS = "-O2 -ffp-contract=off"
SETUP = """
import sys
from setuptools import setup
from mypyc.build import mypycify
files, sys.argv = sys.argv[1:], ["setup", "-q", "build_ext", "--inplace"]
setup(name="heart", packages=[], ext_modules=mypycify(files, opt_level="2"))
"""


def sources(house: Path = HOUSE) -> list[str]:
    """Return the files that are compiled, from the house's root."""
    found = [path for pattern in HEART for path in sorted(house.glob(pattern)) if path.name != "__init__.py"]
    return [path.relative_to(house).as_posix() for path in found]


def lacking() -> str:
    """Say what is missing on this machine for compiling; empty: nothing is."""
    if shutil.which(os.environ.get("CC", "cc")) is None and shutil.which("gcc") is None:
        return "there is no C compiler"
    headers = Path(sysconfig.get_path("include")) / "Python.h"
    return "" if headers.exists() else "Python's headers are not installed"


def fingerprint(house: Path = HOUSE) -> str:
    """Return a name that changes with what is compiled, and with Python."""
    digest = hashlib.sha256(f"{sys.version} {FLAGS} {SETUP}".encode())
    for name in sources(house):
        digest.update(name.encode() + (house / name).read_bytes())
    return digest.hexdigest()[:16]


def tree(house: Path = HOUSE, build: Path = BUILD) -> Path | None:
    """Return the folder that holds the compiled heart, made if need be; None where it cannot be, told why."""
    why = lacking()
    made = build / fingerprint(house)
    if not why and not (made / "ready").exists():
        print(f"compiling {len(sources(house))} files of the heart: about a minute, once", file=sys.stderr)
        shutil.rmtree(build, ignore_errors=True)
        copy(house, made)
        why = compile_heart(made)
    if why:
        print(f"{why}: on the plain source, which is slower", file=sys.stderr)
        return None
    (made / "ready").touch()
    copy(house, made)
    return made


def copy(house: Path, made: Path) -> None:
    """Copy the house as it is now beside what is compiled."""
    left = shutil.ignore_patterns("__pycache__", "node_modules", "vendor", "*.so")
    for name in COPIED:
        if (house / name).is_dir():
            shutil.copytree(house / name, made / name, ignore=left, dirs_exist_ok=True)
        elif (house / name).exists():
            shutil.copy2(house / name, made / name)


def compile_heart(made: Path) -> str:
    """Compile in place; return why it failed, or nothing."""
    done = subprocess.run(
        [sys.executable, "-c", SETUP, *sources(made)],
        cwd=made,
        env=os.environ | {"CFLAGS": f"{os.environ.get('CFLAGS', '')} {FLAGS}".strip()},
        check=False,
        capture_output=True,
        text=True,
    )
    last = (done.stderr or done.stdout).strip().splitlines()
    return "" if done.returncode == 0 else f"the heart could not be compiled ({last[-1] if last else '?'})"


def run(folder: Path | None, module: str, *args: str, capture: bool = False) -> str:
    """Run a module of the house, compiled where `folder` is given; return what it printed if captured.

    Raises CalledProcessError when it fails.
    """
    surroundings = os.environ | {"PYTHONPATH": str(folder or HOUSE)}
    command = [sys.executable, "-P", "-m", module, *args]
    done = subprocess.run(
        command, check=True, env=surroundings, text=True, stdout=subprocess.PIPE if capture else None
    )
    return done.stdout or ""


def is_compiled() -> bool:
    """Whether this process runs the compiled heart."""
    from controller import tick

    return not str(tick.__file__).endswith(".py")
