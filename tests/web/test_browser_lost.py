"""Never a stale number that looks live: what the page does when a word fails to come, in Chromium."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Page, expect

from tests.web import invented
from tests.web.conftest import Server
from tests.web.fake_controller import FakeController
from web.hub import Hub

pytestmark = [pytest.mark.browser, pytest.mark.wire]

SINCE = re.compile(r"^No word from the controller since \d{1,2}:\d\d:\d\d \(\d+\ss\)$")


# What a machine that is busy with other tests may take from a browser. The page's own promise is without it.
BUSY_S = 1.0
# When the page was lost, by the page's own clock: what the machine takes to tell us of it does not count.
WATCH = """() => {
  window.lostMs = null;
  new MutationObserver(() => {
    if (document.documentElement.dataset.link === "lost") window.lostMs ??= Date.now();
  }).observe(document.documentElement, { attributes: true });
}"""


@contextmanager
def lost(page: Page, within_s: float) -> Iterator[None]:
    """What is done here takes the controller away from the page, which must show it in time."""
    page.evaluate(WATCH)
    yield
    began_s = time.time()
    page.wait_for_selector("html[data-link=lost]", timeout=15_000)
    assert page.evaluate("window.lostMs") / 1000 - began_s < within_s + BUSY_S
    expect(page.locator("#state")).to_have_text(SINCE)
    expect(page.locator("#air")).to_have_css("text-decoration-line", "line-through")
    live, old = "rgb(19, 21, 23)", page.locator("#air").evaluate("node => getComputedStyle(node).color")
    assert old != live


def test_a_dead_controller_greys_the_numbers_at_once(sized_page: Page, server: Server) -> None:
    with lost(sized_page, within_s=1.0):
        server.controller.die()
    expect(sized_page.locator("#state")).to_contain_text("(2 s)")  # and the count goes on
    expect(sized_page.locator("#state")).to_be_in_viewport(ratio=1)


def test_a_silent_controller_is_lost_within_three_seconds(page: Page, server: Server) -> None:
    with lost(page, within_s=3.0):
        server.controller.silent = True
    expect(page.locator("#state-says")).to_contain_text("the controller does not")


def test_ticks_that_stand_still_are_lost_within_three_seconds(page: Page, server: Server) -> None:
    with lost(page, within_s=3.0):
        server.controller.still = True


def test_a_stream_without_a_word_is_lost_by_the_pages_own_watch(
    page: Page, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def say_nothing(hub: Hub) -> None:
        pass

    monkeypatch.setattr(Hub, "_tell_lost", say_nothing)
    with lost(page, within_s=3.6):
        server.controller.silent = True
    expect(page.locator("#state-says")).to_contain_text("This device hears nothing")


def test_a_device_without_a_network_says_so_at_once(page: Page, server: Server) -> None:
    with lost(page, within_s=1.0):
        server.controller.silent = True
        page.context.set_offline(True)


def test_what_was_stuck_on_its_way_is_taken_for_late(page: Page) -> None:
    """An event that comes three seconds slower than the quickest one is old news; drifting clocks are not."""
    late = page.evaluate(
        """async () => {
          const { Stream } = await import("/static/shared/stream.js");
          const now = performance.now();
          const stream = Object.create(Stream.prototype);
          Object.assign(stream, { quickestMs: Infinity, heardMs: now });
          return [stream.isLate(now - 500), stream.isLate(now - 3400), stream.isLate(now - 3600)];
        }"""
    )
    assert late == [False, False, True]


def test_the_page_finds_the_controller_again_by_itself(page: Page, server: Server) -> None:
    server.controller.die()
    page.wait_for_selector("html[data-link=lost]")
    with FakeController(
        server.controller.path, invented.changed(air={"c": 500.0, "fault": None, "age_s": 0.1})
    ):
        expect(page.locator("#air")).to_have_text("500")
        expect(page.locator("html")).to_have_attribute("data-link", "live")
        expect(page.locator("#air")).to_have_css("text-decoration-line", "none")
