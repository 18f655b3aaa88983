"""The demo kiln's configuration is one that the controller reads, and it says what the kiln is."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.config import load_kiln
from controller.errors import UsageError
from controller.physics.parameters import KilnParameters
from controller.simulator.process import DEMO_PORT, demo_config, write_config


def test_the_controller_reads_it_and_finds_the_kiln_at_its_port(tmp_path: Path) -> None:
    write_config(tmp_path / "kiln.toml", 12345)
    kiln = load_kiln(tmp_path / "kiln.toml")
    assert kiln.simulated
    assert kiln.buses["main"].port == 12345
    assert set(kiln.readers) == {"air", "load", "limit", "enclosure"}
    assert set(kiln.contacts) == {"door", "emergency_stop", "extraction", "key"}
    assert kiln.heater.power_w == KilnParameters().rated_power_w
    assert kiln.heater.watchdog is not None


def test_only_the_port_differs_from_the_file_as_shipped() -> None:
    shipped, other = demo_config(DEMO_PORT).splitlines(), demo_config(1).splitlines()
    changed = [(a, b) for a, b in zip(shipped, other, strict=True) if a != b]
    assert [(a.split()[:3], b.split()[:3]) for a, b in changed] == [
        (["port", "=", "5020"], ["port", "=", "1"])
    ]


def test_a_kind_of_setting_is_explained_where_it_first_appears() -> None:
    """A person is to adapt this file line by line."""
    explained: set[str] = set()
    for line in demo_config(DEMO_PORT).splitlines():
        key, equals, rest = line.partition(" = ")
        if equals and not line.startswith("#"):
            assert key in explained or "# " in rest, f"{key} is not explained"
            explained.add(key)
    assert len(explained) > 25


def test_a_file_that_cannot_be_written_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"kiln.toml: found 'No such file or directory', expected"):
        write_config(tmp_path / "nowhere" / "kiln.toml", 1)
