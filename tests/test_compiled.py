"""The compiled heart: the same files, found, copied and compiled; without a compiler, the plain source."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests import compiled

needs_compiler = pytest.mark.skipif(bool(compiled.lacking()), reason=compiled.lacking())


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A house with one room and one file in it."""
    room = tmp_path / "house" / "controller" / "guard"
    room.mkdir(parents=True)
    for folder in (room, room.parent):
        (folder / "__init__.py").write_text("")
    (room / "one.py").write_text("def twice(x: float) -> float:\n    return 2.0 * x\n")
    return tmp_path / "house"


def test_what_is_compiled_is_the_heart_and_nothing_that_waits_or_serves() -> None:
    rooms = {name.rpartition("/")[0] for name in compiled.sources()}
    assert rooms == {
        "controller",
        "controller/control",
        "controller/firing",
        "controller/guard",
        "controller/physics",
        "controller/schedule",
        "controller/simulator",
    }
    assert "controller/tick.py" in compiled.sources()
    assert not any(name.endswith("__init__.py") for name in compiled.sources())


def test_a_changed_source_is_compiled_anew(house: Path) -> None:
    before = compiled.fingerprint(house)
    assert compiled.fingerprint(house) == before
    (house / "controller" / "guard" / "one.py").write_text(
        "def twice(x: float) -> float:\n    return x + x\n"
    )
    assert compiled.fingerprint(house) != before


@needs_compiler
@pytest.mark.timeout(240)  # a compiler on a busy computer takes its time
def test_the_copy_runs_machine_code_and_the_house_goes_on_with_its_source(
    house: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = compiled.tree(house, tmp_path / "build")
    assert made is not None, capsys.readouterr().err
    ask = "import controller.guard.one as one; print(one.__file__[-3:], one.twice(21.0))"
    command = [sys.executable, "-P", "-c", ask]
    said = subprocess.run(command, env={"PYTHONPATH": str(made)}, capture_output=True, check=True)
    assert said.stdout.split() == [b".so", b"42.0"]
    assert not list(house.rglob("*.so"))
    (house / "controller" / "new.py").write_text("")
    assert compiled.tree(house, tmp_path / "build") == made
    assert (made / "controller" / "new.py").exists()


def test_where_it_cannot_be_compiled_the_reason_is_told(
    house: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(compiled.shutil, "which", lambda _name: None)
    assert compiled.tree(house, tmp_path / "build") is None
    assert capsys.readouterr().err == "there is no C compiler: on the plain source, which is slower\n"


@needs_compiler
def test_a_source_that_cannot_be_compiled_is_told_with_the_reason(
    house: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (house / "controller" / "guard" / "one.py").write_text("def twice(x: float) -> float:\n    return ''\n")
    assert compiled.tree(house, tmp_path / "build") is None
    assert "could not be compiled (" in (told := capsys.readouterr().err)
    assert "Incompatible return value" in told


def test_these_tests_run_the_plain_source() -> None:
    assert not compiled.is_compiled()
