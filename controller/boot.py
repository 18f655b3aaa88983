"""Which start of the computer this is: within one, its monotonic clock runs on and can be compared."""

from __future__ import annotations

from pathlib import Path

BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


def boot() -> str:
    """Return which start of the computer this is; empty where that cannot be told."""
    try:
        return BOOT_ID.read_text(encoding="ascii").strip()
    except OSError:
        return ""
