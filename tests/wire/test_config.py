"""A kiln's file: what it says is what is read, and what it may leave out."""

import dataclasses

import pytest

from controller.config import ReaderConfig, WatchdogConfig, load_kiln, read_kiln
from controller.config.draft import keys_of
from controller.config.model import ControlConfig, GuardConfig, KilnConfig
from controller.guard.sight import Limits


def test_what_the_file_says_is_what_is_read(kiln, kiln_text) -> None:
    assert (kiln.name, kiln.simulated, kiln.ceiling_c) == ("A kiln for tests", False, 900.0)
    assert (kiln.tick_s, kiln.lease_s, kiln.full_rate_c_per_h) == (1.0, 3.0, 300.0)
    assert (kiln.buses["io"].port, kiln.buses["io"].timeout_s, kiln.buses["io"].retries) == (5020, 0.2, 0)
    assert list(kiln.readers) == ["air", "load", "limit"]
    assert (kiln.readers["air"].scale, kiln.readers["air"].fault_values) == (0.1, (32767.0,))
    assert (kiln.heater.power_w, kiln.heater.on, kiln.heater.off) == (6500.0, 1, 0)
    assert kiln.heater.watchdog.address == 10
    assert kiln.main_contactor.read_back.address == 1
    assert (kiln.contacts["door"].healthy, kiln.contacts["door"].bit) == (True, None)
    assert (kiln.control, kiln.guard) == (ControlConfig(), GuardConfig())
    assert (kiln.text, kiln.file) == (kiln_text, "kiln.toml")


def test_units_are_converted(kiln_text) -> None:
    text = kiln_text.replace('"900 C"', '"1500 F"\ntick = "500 ms"\nlease = "2.5 s"\nfull_rate = "540 F/h"')
    text += '[control]\ngain = "0.05 /K"\nheat_capacity = "40 kJ/K"\nloss = "7.5 W/K"\n'
    text += '[guard]\nunheated_rise = "36 F"\nunheated_settle = "4 min"\n'
    kiln = read_kiln(text, "kiln.toml")
    assert kiln.ceiling_c == pytest.approx(815.5556, abs=1e-3)
    assert (kiln.tick_s, kiln.lease_s) == (0.5, 2.5)
    assert kiln.full_rate_c_per_h == pytest.approx(300.0)
    assert (kiln.control.gain_per_k, kiln.control.heat_capacity_j_per_k) == (0.05, 40_000.0)
    assert kiln.control.loss_w_per_k == 7.5
    assert (kiln.guard.unheated_rise_k, kiln.guard.unheated_settle_s) == (pytest.approx(20.0), 240.0)


def test_what_may_be_left_out_changes_nothing() -> None:
    reader = ReaderConfig(role="air", bus="io", function="input", address=0)
    assert reader.line_c == (1.0, 0.0)
    assert (reader.unit, reader.type, reader.order, reader.fault_values) == (1, "int16", "big", ())
    assert (reader.lowest_c, reader.highest_c) == (-50.0, 1372.0)
    watchdog = WatchdogConfig(address=0)
    assert (watchdog.type, watchdog.order, watchdog.scale_ms) == ("uint16", "big", 1.0)


def test_two_inputs_may_share_an_address(kiln_text) -> None:
    read_kiln(kiln_text.replace("address = 1", "address = 0", 1), "kiln.toml")


def test_a_file_is_read_from_disk_with_its_text(tmp_path, kiln_text) -> None:
    path = tmp_path / "kiln.toml"
    path.write_text(kiln_text)
    kiln = load_kiln(path)
    assert (kiln.text, kiln.file) == (kiln_text, str(path))


@pytest.mark.parametrize("cls", [ControlConfig, GuardConfig])
def test_every_default_lies_within_its_own_limits(kiln_text, cls) -> None:
    section = {ControlConfig: "control", GuardConfig: "guard"}[cls]
    units = {
        "_s": "s",
        "_k": "K",
        "_c": "C",
        "_per_k": "/K",
        "_j_per_k": "J/K",
        "_w_per_k": "W/K",
        "_k_per_min": "K/min",
    }
    lines = []
    for name, key in keys_of(cls).items():
        default = getattr(cls(), key.field)
        if default is not None:
            lines.append(f'{name} = "{default} {units[key.kind.suffix]}"')
    kiln = read_kiln(f"{kiln_text}[{section}]\n" + "\n".join(lines), "kiln.toml")
    assert getattr(kiln, section) == cls()
    assert len(lines) >= 6


def test_the_file_may_set_every_number_of_the_guard_and_leaves_it_where_it_is_not_set() -> None:
    kiln = Limits(ceiling_c=900.0)
    from_the_file = {"ceiling_c", "lease_s", "longest_firing_s"}  # these stand at the top of a kiln's file
    numbers = {
        f.name: getattr(kiln, f.name) for f in dataclasses.fields(Limits) if f.name not in from_the_file
    }
    assert dataclasses.asdict(GuardConfig()) == numbers


def test_a_kiln_cannot_be_changed(kiln) -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        kiln.ceiling_c = 2000.0


def test_every_key_of_the_top_is_a_field() -> None:
    assert set(keys_of(KilnConfig)) == {
        *("name", "simulated", "ceiling", "tick", "lease", "longest_firing", "full_rate", "main_contactor"),
        *("tariff", "relay_life"),
    }
