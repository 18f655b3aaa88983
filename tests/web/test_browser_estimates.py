"""The estimates on the page, in Chromium: after what is measured, told as estimates, grey once old."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web import invented, invented_estimates
from tests.web.conftest import SIZES, Server, watched_page
from tests.web.fake_controller import FakeController
from web.estimates import renewal

pytestmark = [pytest.mark.browser, pytest.mark.wire]


@pytest.fixture(autouse=True)
def estimated(monkeypatch: pytest.MonkeyPatch) -> None:
    """The server estimates, and quickly anew."""
    monkeypatch.setattr(invented_estimates, "CHANGES", {})
    monkeypatch.setattr(renewal, "EVERY_S", 1.0)


def words(page: Page, selector: str) -> str:
    return " ".join(page.locator(selector).inner_text().split())


def test_estimates_come_after_the_first_frame_in_plain_words_with_their_bands(
    browser: Browser, server: Server
) -> None:
    for size in SIZES:
        page = watched_page(browser, server, SIZES[size])
        page.wait_for_selector("#estimates:not([hidden])")
        told = words(page, "#estimates")
        assert "Worked out, not measured." in told
        assert "Ready to pour in 8 h" in told
        assert re.search(r"in 8 h ?\S.* to \S.* Shell", told)
        assert "Shell’s core 352 °C 340 to 361, 25 K behind its face" in told
        assert "Water left hardly any at most 40 g" in told
        assert "Plastic left 140 g 60 g to 310 g" in told
        assert "Strength green: not fired yet" in told
        assert "Energy 13 kWh so far and 20 to 31 kWh to come" in told
        assert "the vent passes 1.2. Let 2.8 m3 an hour pass." in told
        assert "A mere note" not in told
        assert "Rests on: no job sheet: defaults." in told
        expect(page.locator("#key-core")).to_have_text("shell’s core, estimate")
        expect(page.locator("#key-band")).to_have_text("air to come, estimate")
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0
        page.context.close()


def test_what_is_old_is_struck_out_and_says_since_when(
    page: Page, controller_of: FakeController, monkeypatch: pytest.MonkeyPatch
) -> None:
    page.wait_for_selector("#estimates:not([hidden])")
    expect(page.locator("#estimates-age")).to_contain_text("Worked out at")
    assert page.locator("#estimates .num").first.evaluate(STRUCK) is False
    page.route("**/api/estimates", lambda route: route.abort())
    page.evaluate("window.realNow = Date.now; Date.now = () => window.realNow() + 120_000")
    expect(page.locator("#estimates")).to_have_class("estimates stale")
    expect(page.locator("#estimates-age")).to_contain_text("nothing newer since")
    assert page.locator("#estimates .num").first.evaluate(STRUCK) is True
    page.evaluate("Date.now = window.realNow")
    controller_of.scene = invented.idle()  # nothing is fired: nothing is estimated
    expect(page.locator("#estimates")).to_be_hidden()


STRUCK = "node => getComputedStyle(node).textDecorationLine === 'line-through'"


@pytest.fixture
def controller_of(server: Server) -> FakeController:
    return server.controller
