"""The locks are whole: they are installed as they stand, so what one lacks would be lacking at a run."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
INSTALLS = [line for line in (ROOT / "Makefile").read_text("utf-8").splitlines() if ".lock" in line]


def test_what_is_installed_lacks_nothing_and_nothing_is_of_another_version() -> None:
    asked = subprocess.run(
        [sys.executable, "-m", "pip", "check"], capture_output=True, text=True, check=False
    )
    assert asked.returncode == 0, asked.stdout + asked.stderr


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-dev.lock"])
def test_a_lock_is_installed_as_it_stands(name: str) -> None:
    installs = [line for line in INSTALLS if "pip install" in line and line.endswith(f"-r {name}")]
    assert len(installs) == 1
    assert "--no-deps" in installs[0]
    assert "--require-hashes" in installs[0]
