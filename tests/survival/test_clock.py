"""The date and time may be set by a day either way: the kiln's own time does not move.

libfaketime stands in for the one who sets the clock; the monotonic clock is left alone, as it is when a
person or the network sets the date.
"""

from __future__ import annotations

import itertools
import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.processes.conftest import House, command, until
from tests.survival.help import frame

FOUND = sorted(Path("/usr/lib").glob("*/faketime/libfaketimeMT.so.1"))
pytestmark = [
    pytest.mark.wire,
    pytest.mark.timeout(120),
    pytest.mark.skipif(not FOUND, reason="needs Debian's package faketime"),
]


class Real(House):
    """A house in real time: at another speed the date is made from the monotonic clock and cannot be set."""

    def start_faked(self, clock: Path) -> subprocess.Popen[str]:
        """Start a controller whose date and time are moved by what stands in a file."""
        process = subprocess.Popen(
            command("controller", "--kiln", str(self.config), "--home", str(self.home)),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ
            | {
                "LD_PRELOAD": str(FOUND[0]),
                "FAKETIME_TIMESTAMP_FILE": str(clock),
                "FAKETIME_NO_CACHE": "1",
                "FAKETIME_DONT_FAKE_MONOTONIC": "1",
            },
        )
        self.processes.append(process)
        until(lambda: (self.home / "channel.sock").exists() and self.answers())
        return process


@pytest.fixture
def real(tmp_path: Path) -> Iterator[Real]:
    made = Real(tmp_path, speed=1.0)
    text = made.config.read_text()  # shorter ticks: the test waits for some of them in real time
    for key, slow, quick in (
        ("tick", "2 s", "0.5 s"),
        ("lease", "6 s", "1.5 s"),
        ("timeout", "300 ms", "200 ms"),
    ):
        assert f'{key} = "{slow}"' in text
        text = text.replace(f'{key} = "{slow}"', f'{key} = "{quick}"')
    made.config.write_text(text)
    try:
        yield made
    finally:
        made.end()


def test_a_clock_that_is_set_by_a_day_either_way_is_told_and_changes_nothing(
    real: Real, tmp_path: Path
) -> None:
    clock = tmp_path / "clock"
    clock.write_text("+0")
    controller = real.start_faked(clock)
    real.fire()
    until(lambda: frame(real)["state"] == "running")
    for moved in ("+1d", "-1d"):
        clock.write_text(moved)
        n = frame(real)["n"]
        until(lambda n=n: frame(real)["n"] > n + 2)  # type: ignore[misc]
        assert frame(real)["state"] == "running"
    # A restart between two dates: how long it took is known by the monotonic clock.
    controller.kill()
    controller.wait()
    (real.home / "channel.sock").unlink()
    clock.write_text("+1d")
    real.start_faked(clock)
    until(lambda: "interrupted" in {event.kind for event in real.record.events(1)})
    rows = list(real.record.rows(1))
    utc_s = [row.utc_s for _, row in rows]
    assert max(b - a for a, b in itertools.pairwise(utc_s)) > 86_000
    assert min(b - a for a, b in itertools.pairwise(utc_s)) < -86_000
    gaps_s = [b.mono_s - a.mono_s for (_, a), (_, b) in itertools.pairwise(rows)]
    assert min(gaps_s) > 0.0
    assert rows[-1][0] < 60.0
    told = [event for event in real.record.events(1) if event.fields.get("row") == "clock_stepped"]
    assert told
    (cut,) = (event for event in real.record.events(1) if event.kind == "interrupted")
    assert cut.fields["outage"].endswith(" s")  # not a day
