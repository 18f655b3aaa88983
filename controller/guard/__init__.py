"""Whether heat: the interlocks as one table, the lease, the latches. Imports nothing else of ours."""

from controller.guard.guard import Carried, Grant, Guard, HeatOutput, watch_leases
from controller.guard.judge import ALL_WELL, Finding, Verdict, fresh_memory, judge
from controller.guard.latches import Latch, LatchFile
from controller.guard.memory import Memory
from controller.guard.rows import ROWS, Row
from controller.guard.sight import Given, Limits, Sight

__all__ = [
    "ALL_WELL",
    "ROWS",
    "Carried",
    "Finding",
    "Given",
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
