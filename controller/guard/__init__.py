"""Whether heat: the interlocks as one table, the lease, the latches. Imports nothing else of ours."""

from controller.guard.guard import Grant, Guard, HeatOutput, watch_leases
from controller.guard.judge import ALL_WELL, Finding, Verdict, fresh_memory, judge
from controller.guard.latches import Latch, LatchFile
from controller.guard.rows import ROWS, Row
from controller.guard.sight import Limits, Memory, Sight

__all__ = [
    "ALL_WELL",
    "ROWS",
    "Finding",
    "Grant",
    "Guard",
    "HeatOutput",
    "Latch",
    "LatchFile",
    "Limits",
    "Memory",
    "Row",
    "Sight",
    "Verdict",
    "fresh_memory",
    "judge",
    "watch_leases",
]
