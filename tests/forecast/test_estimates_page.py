"""The page of estimates names every estimate and every finding that the code makes."""

from __future__ import annotations

import re
from pathlib import Path

from controller.forecast.observer import Estimates
from controller.physics import mould

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "hardware_notes/estimates.md").read_text(encoding="utf-8")


def found_keys() -> set[str]:
    """The keys of all findings of the forecast and of the moulds, out of the code."""
    keys: set[str] = {"carbon in gypsum"}
    for name in ("kiln_findings.py", "shell_findings.py"):
        text = (ROOT / "controller/forecast" / name).read_text(encoding="utf-8")
        keys |= set(re.findall(r"Finding\(\s*\"([^\"]+)\"", text))
    for table in (mould.LIMITS, mould.CROSSINGS):
        keys |= {row.key for rows in table.values() for row in rows}
    return keys


def test_every_estimate_of_the_shell_is_on_the_page() -> None:
    missing = [name for name in Estimates._fields if f"`{name}`" not in PAGE]
    assert missing == []


def test_every_finding_is_on_the_page_and_nothing_else_is() -> None:
    table = PAGE.split("| finding |")[1]
    named = set(re.findall(r"`([a-z ]+)`", table))
    assert len(found_keys()) > 12
    assert named == found_keys()


def test_the_page_says_that_no_estimate_permits_heat_and_is_found_from_the_notes() -> None:
    assert "No estimate can permit heat" in PAGE
    assert "(estimates.md)" in (ROOT / "hardware_notes/README.md").read_text(encoding="utf-8")
