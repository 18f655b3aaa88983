"""A controller that is killed loses no tick older than one second."""

from __future__ import annotations

import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

from controller.record.queries import Record

WRITER = textwrap.dedent("""
    import sys, time
    from pathlib import Path
    from controller.record.journal import Journal
    from controller.record.rows import FiringRow, TickRow

    journal = Journal(Path(sys.argv[1])).start()
    firing = journal.open_firing(FiringRow(0.0, 0.0, "t", "", "", "k", "", "0", 1.0, True))
    for n in range(100_000):
        now = (time.monotonic(), time.time())
        row = TickRow(n, *now, "running", None, *[None] * 4, "", "", 0.0, False, 0.0, None, "", False)
        journal.tick(firing, row)
        print(n, row.mono_s, flush=True)
        time.sleep(0.005)
""")


def test_a_killed_controller_loses_no_tick_older_than_a_second(path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout is not None
        put = []
        for line in writer.stdout:
            n, mono_s = line.split()
            put.append((int(n), float(mono_s)))
            if put[-1][1] > put[0][1] + 1.6:
                break
        killed_s = time.monotonic()  # the same clock in both processes
        writer.send_signal(signal.SIGKILL)
    curve = Record(path).ticks(1)
    older = [n for n, mono_s in put if mono_s < killed_s - 1.0]
    assert len(older) > 20
    assert list(curve.n[: len(older)]) == older
    assert list(curve.n) == list(range(len(curve)))  # no hole before the last one either
