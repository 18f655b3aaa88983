"""`stokehold learn`: from a record to a model that the next firing's control begins with."""

from __future__ import annotations

import io
from contextlib import redirect_stdout
from dataclasses import replace
from pathlib import Path

import pytest

from controller import assemble
from controller.cli import main
from controller.clock import ManualClock
from controller.config import load_kiln
from controller.forecast.models import MODEL_NAME, load
from controller.home import RECORD_NAME
from controller.known_kiln import known_kiln, unknown_kiln
from controller.physics.grey import GreyKiln, at_rest, step, typical
from controller.record.journal import Journal
from controller.record.rows import FiringRow, TickRow

DEMO = Path(assemble.__file__).parent / "simulator" / "demo_kiln.toml"
KILN = typical(6500.0)._replace(chamber_j_per_k=26e3)


def record(
    home: Path, kiln: GreyKiln = KILN, hours: float = 2.0, power: str = "6500 W", upset: bool = False
) -> None:
    """Keep one firing of a kiln that is heated in pulses, more and more.

    `upset`: the record says the contrary of what was done.
    """
    start = FiringRow(
        1e9, 0.0, "one", "", "one.toml", "kiln", f'[heater]\npower = "{power}"\n', "1", 1.0, True
    )
    state, owed = at_rest(20.0), 0.0
    with Journal(home / RECORD_NAME, flush_every_s=0.01) as journal:
        firing = journal.open_firing(start)
        for n in range(int(hours * 900)):
            owed += 0.3 + 0.3 * n / (hours * 900)
            heat = owed >= 1.0
            owed -= heat
            t_s = 4.0 * n
            row = TickRow(
                n, t_s, 1e9 + t_s, "running", 0, 100.0, float(state.probe_c), None, None, "", "", 0.5,
                heat != upset, 12.0, True, "", False,
            )  # fmt: skip
            journal.tick(firing, row)
            state = step(state, kiln, kiln.power_w * heat, 4.0)
        journal.close_firing(firing, "complete", 1e9 + t_s)


@pytest.fixture(scope="module")
def learnt(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The home of a kiln that has been learnt from its one firing, and what was told."""
    home = tmp_path_factory.mktemp("learnt")
    record(home)
    with redirect_stdout(io.StringIO()) as told:
        assert main(["learn", "--home", str(home)]) == 0
    return home, told.getvalue()


def test_a_firing_is_learnt_from_and_the_next_control_begins_with_it(
    learnt: tuple[Path, str],
) -> None:
    config = load_kiln(DEMO)
    home, told = learnt
    assert "firing 1, 2.0 h" in told
    assert f"kept in {home / MODEL_NAME}" in told
    fitted = assemble.model(home, config)
    assert fitted is not None
    assert fitted.quick is not None
    assert f"tick by tick     thermocouple {fitted.quick.probe_s:.3g} s" in told
    assert fitted.quick.probe_s == pytest.approx(KILN.probe_s, rel=0.15)
    found = fitted.kiln
    # Without a thermocouple at the load, what is warmed is known in all, and its parts less.
    warmed = found.chamber_j_per_k + found.load_j_per_k + found.elements_j_per_k
    assert warmed == pytest.approx(KILN.chamber_j_per_k + KILN.load_j_per_k + KILN.elements_j_per_k, rel=0.1)
    plan = assemble.control_plan(config, fitted)
    assert plan.kiln == known_kiln(fitted.for_control)
    assert not plan.learns


def test_what_does_not_fit_is_refused_with_the_reason(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record(tmp_path, upset=True)
    assert main(["learn", "1", "--record", str(tmp_path / RECORD_NAME)]) == 1
    assert "burning plastic would have to account for" in capsys.readouterr().out
    assert load(tmp_path) is None
    assert (tmp_path / "models" / "firing-1.json").exists()


def test_a_record_that_does_not_say_the_power_is_one_clear_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record(tmp_path, hours=0.1, power="plenty")
    assert main(["learn", "--home", str(tmp_path)]) == 2
    assert capsys.readouterr().err == "firing 1: found no heater's power in its kiln's file, expected one\n"


def test_a_kiln_with_another_heater_since_then_is_not_controlled_by_the_old_model(
    learnt: tuple[Path, str], capsys: pytest.CaptureFixture[str]
) -> None:
    config = load_kiln(DEMO)
    home, _ = learnt
    changed = replace(config, heater=replace(config.heater, power_w=9000.0))
    assert assemble.model(home, changed) is None
    assert "fitted with 6500 W, and its file says 9000 W" in capsys.readouterr().err


@pytest.mark.parametrize("written", [b"{", b"\xff\xfe\0"])
def test_a_damaged_model_does_not_keep_the_controller_from_starting(
    written: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / MODEL_NAME).write_bytes(written)
    assert assemble.model(tmp_path, load_kiln(DEMO)) is None
    assert "the kiln's model is not used" in capsys.readouterr().err


def test_the_heat_is_off_before_the_model_is_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An earlier run of the program may have left the relay on: nothing in a file may keep it so."""
    done: list[str] = []

    class Output:
        def drop(self) -> None:
            done.append("drop")

        def open_main(self) -> None:
            done.append("open main")

    def fails(_home: Path) -> None:
        done.append("model")
        raise RuntimeError("nobody thought of this")

    monkeypatch.setattr(assemble, "open_wire", lambda _config, _now: (None, Output()))
    monkeypatch.setattr(assemble.models, "load", fails)
    with pytest.raises(RuntimeError):
        assemble.service(load_kiln(DEMO), tmp_path, ManualClock(), 1.0, lambda _code: None)
    assert done == ["drop", "open main", "model"]


def test_a_kiln_of_which_the_file_says_nothing_is_learnt_on_line() -> None:
    config = load_kiln(DEMO)
    bare = replace(config, control=replace(config.control, heat_capacity_j_per_k=None, loss_w_per_k=None))
    plan = assemble.control_plan(bare)
    assert plan.learns
    assert plan.kiln == unknown_kiln(bare.heater.power_w)
    assert assemble.control_plan(config).kiln is None
