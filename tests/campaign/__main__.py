"""`make campaign`: faults on many kilns, then kills at many moments. Tables, and build/campaign.json.

CAMPAIGN_KILNS: how many kilns are drawn (30). CAMPAIGN_KILLS: how often the controller is killed (200); the
page and both are killed a quarter as often. A part may be named: `python -m tests.campaign faults`.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path
from typing import Any

from rich.console import Console

from tests import compiled

RESULTS = Path("build/campaign.json")
PARTS = ("faults", "survival")


def main(names: list[str]) -> int:
    """Run the named parts (all by default); exit status 1 when a promise was broken."""
    console = Console(width=140)
    for name in names or PARTS:
        if name == "faults" and not compiled.is_compiled() and (folder := compiled.tree()) is not None:
            compiled.run(folder, "tests.campaign", name)  # thousands of firings; it keeps its figures
            continue
        console.print(f"{name}, at {time.strftime('%H:%M')}")
        keep(faults(console) if name == "faults" else survival(console))
    if compiled.is_compiled():
        return 0  # whoever asked for it judges
    console.print(f"written to {RESULTS}")
    return 1 if broken(kept()) else 0


def kept() -> dict[str, Any]:
    """All figures so far."""
    figures: dict[str, Any] = json.loads(RESULTS.read_text()) if RESULTS.exists() else {}
    return figures


def keep(measured: dict[str, Any]) -> None:
    """Add figures to those of other runs."""
    figures = kept() | measured
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(json.dumps(figures, indent=1, sort_keys=True) + "\n")


def faults(console: Console) -> dict[str, Any]:
    """Faults and healthy firings."""
    from tests.campaign.faults import campaign

    return campaign(int(os.environ.get("CAMPAIGN_KILNS", "30")), console)


def survival(console: Console) -> dict[str, Any]:
    """Kills."""
    from tests.campaign.survival import survival

    return {"survival": survival(int(os.environ.get("CAMPAIGN_KILLS", "200")), console)}


def broken(figures: dict[str, Any]) -> bool:
    """Whether a promise was broken: an unsafe or untold end, a false trip, a row untried, a kill."""
    kills = figures.get("survival", {}).values()
    return bool(
        figures.get("faults_unsafe")
        or figures.get("false_trips")
        or figures.get("rows_never_tried")
        or figures.get("pairs_beyond_software_untold")
        or any(one["broken"] for one in kills)
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
