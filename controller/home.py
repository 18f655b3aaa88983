"""Where Stokehold keeps what it must remember: one folder, with the record in it.

The folder is $STOKEHOLD_HOME; else $XDG_STATE_HOME/stokehold; else ~/.local/state/stokehold. An empty
variable counts as unset, and a relative $XDG_STATE_HOME is ignored (XDG Base Directory Specification).
"""

from __future__ import annotations

import os
from pathlib import Path

RECORD_NAME = "record.db"


def default_home() -> Path:
    """Return the folder; it need not exist yet."""
    if home := os.environ.get("STOKEHOLD_HOME"):
        return Path(home).expanduser()
    state = Path(os.environ.get("XDG_STATE_HOME", ""))
    if not state.is_absolute():
        state = Path.home() / ".local" / "state"
    return state / "stokehold"


def record_path(given: str | None = None) -> Path:
    """Return the record that a command was given, or else the one in the default home."""
    return Path(given).expanduser() if given else default_home() / RECORD_NAME
