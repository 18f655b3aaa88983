"""`make pictures`: take the README's pictures from a demo that runs, with Debian's Chromium."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

from controller.channel_client import ChannelClient
from tests.docs.pages import ROOT

PICTURES = ROOT / "web" / "pictures"
PORT = 8391
CHROMIUM = {
    "executable_path": "/usr/bin/chromium",
    "args": [
        "--no-sandbox",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
    ],
}
PHONE = {"width": 390, "height": 844}
WIDE = {"width": 1280, "height": 800}


def main() -> None:
    """Run a demo, photograph the page on a phone while it burns out, and keep the report's picture."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "controller.cli", "demo", "--unattended"]
        demo = subprocess.Popen([*command, "--home", folder, "--port", str(PORT)])
        try:
            _photograph(Path(folder))
            assert demo.wait(900) == 0
        finally:
            demo.terminate()
        shutil.copy(Path(folder) / "report-1.png", PICTURES / "report.png")


def _photograph(home: Path) -> None:
    """Wait until the firing is well under way, then take the page."""
    client = ChannelClient(home / "channel.sock")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(**CHROMIUM)  # type: ignore[arg-type]
        page = browser.new_page(viewport=PHONE, device_scale_factor=2)  # type: ignore[arg-type]
        time.sleep(8.0)
        page.goto(f"http://127.0.0.1:{PORT}/")
        page.get_by_text("decompose", exact=False).first.wait_for(timeout=600_000)
        client.ask({"request": "acknowledge", "by": "pictures"})
        page.wait_for_timeout(8000)
        page.screenshot(path=str(PICTURES / "page-phone.png"))
        page.set_viewport_size(WIDE)  # type: ignore[arg-type]
        page.wait_for_timeout(1500)
        page.screenshot(path=str(PICTURES / "page-wide.png"))
        browser.close()


if __name__ == "__main__":
    main()
