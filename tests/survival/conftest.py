"""A house of real processes, as in tests/processes."""

from __future__ import annotations

from tests.processes.conftest import house, slow_house

__all__ = ["house", "slow_house"]
