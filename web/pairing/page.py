"""Where the pages of pairing lie."""

from __future__ import annotations

from pathlib import Path

STATIC = Path(__file__).parent.parent / "static"
PAIR_PAGE = STATIC / "pair.html"
DEVICES_PAGE = STATIC / "devices.html"
