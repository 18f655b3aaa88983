"""The page on a real controller and a simulated kiln, in Chromium: through a checkpoint, and an abort."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect, sync_playwright

from controller.presence import read_code
from tests.processes.conftest import SCHEDULE, House, until

pytestmark = [pytest.mark.browser, pytest.mark.wire]

LAUNCH = [
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
# Starts hot enough to be at the checkpoint within seconds.
QUICK = SCHEDULE.replace('to = "80 C"', 'to = "40 C"').replace('"300 C/h"', '"1000 C/h"')


def test_a_person_sees_a_firing_through_a_checkpoint_and_aborts_it(house: House) -> None:
    house.config.write_text(
        house.config.read_text().replace('full_rate = "300 C/h"', 'full_rate = "1000 C/h"')
    )
    house.start("--port", str(house.page_port), name="run")
    assert house.ask("start", schedule=QUICK, name="quick.toml")["ok"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=LAUNCH)
        page = browser.new_page(viewport={"width": 390, "height": 844})
        page.goto(f"http://127.0.0.1:{house.page_port}/")
        _through_the_checkpoint(page, house)
        _abort(page, house)
        browser.close()
    until(lambda: house.record.firing(1).end_state == "aborted")
    asked = [(request.kind, request.by, request.accepted) for request in house.record.requests(1)]
    assert ("release", "page", False) in asked
    assert ("release", "page", True) in asked
    assert ("abort", "page", True) in asked


def _through_the_checkpoint(page: Page, house: House) -> None:
    expect(page.locator("#state")).to_have_text("You are needed", timeout=30_000)
    expect(page.locator("#person-says")).to_have_text("Look at it.")
    code = read_code(house.home) or ""
    page.fill("#person-code", f"{(int(code) + 1) % 10_000:04d}")
    page.click("#person-go")
    expect(page.locator("#person-answer")).to_contain_text("wrong code")
    page.fill("#person-code", code)
    page.click("#person-go")
    expect(page.locator("#state")).to_have_text("Running", timeout=10_000)
    expect(page.locator("#stage-name")).to_have_text("Soak")


def _abort(page: Page, house: House) -> None:
    box = page.locator("#abort").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    expect(page.locator("#state")).to_contain_text("Abort", timeout=10_000)
    page.mouse.up()
