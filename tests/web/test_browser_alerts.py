"""Calling a person on the page itself, in Chromium: sound, a waking screen, and bad news about messages."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from controller.live import CUT_SHORT
from tests.web import invented
from tests.web.conftest import PHONE, Server, wait_for, watched_page
from web.alerts import service
from web.alerts.settings import Recipient, Settings
from web.alerts.watch import Read
from web.app import STATIC

pytestmark = [pytest.mark.browser, pytest.mark.wire]

# Counts every tone that the page makes, and gives it a screen that can be kept on.
LISTEN = """() => {
  window.tones = 0;
  if (!window.Plain) window.Plain = window.OscillatorNode;
  window.OscillatorNode = class extends window.Plain {
    constructor(...all) { super(...all); window.tones += 1; }
  };
  window.locks = [];
  Object.defineProperty(navigator, "wakeLock", { configurable: true, value: { request: async () => {
    const lock = new EventTarget();
    const release = () => { lock.released = true; lock.dispatchEvent(new Event("release")); };
    Object.assign(lock, { released: false, release });
    window.locks.push(lock);
    return lock;
  } } });
}"""
# A browser as on a phone: no sound before the page was tapped. What a test asks of a page counts as a tap
# here, so the rule is put in by hand.
UNTIL_TAPPED = """
  let tapped = false, resumed = false;
  window.addEventListener("pointerdown", () => { tapped = true; }, { capture: true });
  window.AudioContext = class extends window.AudioContext {
    get state() { return resumed ? super.state : "suspended"; }
    async resume() {
      if (!tapped) throw new DOMException("not tapped", "NotAllowedError");
      resumed = true;
      await super.resume();
      this.dispatchEvent(new Event("statechange"));
    }
  };
"""
QUIET = (
    """() => { for (const node of document.querySelectorAll(".switch[aria-checked=true]")) node.click(); }"""
)


def tones(page: Page) -> int:
    return int(page.evaluate("window.tones"))


@pytest.fixture
def listening(page: Page) -> Any:
    page.wait_for_selector(".switch")
    page.evaluate(LISTEN)
    page.evaluate(QUIET)
    yield page
    page.evaluate(QUIET)


def sound(page: Page) -> Any:
    return page.locator(".switch").nth(0)


def screen(page: Page) -> Any:
    return page.locator(".switch").nth(1)


def test_it_is_silent_until_a_viewer_turns_it_on_and_then_calls_until_somebody_has_seen_it(
    listening: Page, server: Server
) -> None:
    page = listening
    expect(sound(page)).to_have_text("Soundoff")
    server.controller.scene = invented.checkpoint()
    expect(page.locator("#state")).to_have_text("You are needed")
    page.wait_for_timeout(300)
    assert tones(page) == 0
    expect(page.locator(".seen-box")).to_be_hidden()
    sound(page).click()
    expect(sound(page)).to_have_text("Soundon")
    expect(sound(page)).to_have_attribute("aria-checked", "true")
    wait_for(lambda: tones(page) >= 2)
    button = page.locator("#seen-it")
    expect(button).to_be_in_viewport(ratio=1)
    box = button.bounding_box()
    assert box is not None
    assert box["height"] >= 48
    button.click()
    expect(page.locator(".seen-box")).to_be_hidden()
    heard = tones(page)
    page.wait_for_timeout(2700)  # the next call would have come
    assert tones(page) == heard
    assert page.evaluate("localStorage.getItem('stokehold.seen')") == '["person/12/4"]'


def test_a_trip_calls_anew_and_an_acknowledged_one_does_not(listening: Page, server: Server) -> None:
    page = listening
    sound(page).click()
    wait_for(lambda: tones(page) == 2)
    server.controller.scene = invented.tripped()
    wait_for(lambda: tones(page) == 5)
    page.locator(".alarm-buttons button", has_text="Acknowledge").first.click()
    expect(page.locator(".seen-box")).to_be_hidden()


def test_a_lost_controller_calls(browser: Browser, server: Server) -> None:
    page = watched_page(browser, server, PHONE)
    page.wait_for_selector(".switch")
    page.evaluate(LISTEN)
    sound(page).click()
    wait_for(lambda: tones(page) == 2)
    page.clock.install()
    server.controller.silent = True
    page.wait_for_selector("html[data-link=lost]")
    page.clock.run_for(9_000)
    assert tones(page) == 2  # a network that is away for a moment calls nobody
    for _ in range(
        40
    ):  # what looks was set going by the browser's own clock, so it is given some of that too
        page.clock.run_for(1_000)
        page.wait_for_timeout(250)
        if tones(page) >= 4:
            break
    assert tones(page) >= 4
    expect(page.locator(".seen-box")).to_be_visible()
    page.context.close()


def test_the_choice_is_remembered_and_the_page_says_when_the_browser_keeps_it_silent(
    listening: Page, server: Server
) -> None:
    page = listening
    sound(page).click()
    other = page.context.new_page()
    other.add_init_script(UNTIL_TAPPED)
    other.goto(server.url)
    expect(sound(other)).to_have_attribute("aria-checked", "true")
    expect(sound(other)).to_have_text("Soundon, once you tap this page")
    other.mouse.click(200, 300)
    expect(sound(other)).to_have_text("Soundon")
    other.close()


def test_the_screen_is_kept_on_and_asked_for_again_when_the_page_is_seen_again(listening: Page) -> None:
    page = listening
    screen(page).click()
    expect(screen(page)).to_have_text("Keep the screen onon")
    page.evaluate("window.locks[0].release()")
    expect(screen(page)).to_have_text("Keep the screen onon, but not granted")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(screen(page)).to_have_text("Keep the screen onon")
    assert page.evaluate("window.locks.length") == 2
    screen(page).click()
    expect(screen(page)).to_have_text("Keep the screen onoff")
    assert page.evaluate("window.locks[1].released")


def test_messages_that_could_not_be_sent_are_told_and_seeing_it_stops_them(
    listening: Page, server: Server, tmp_path: Path
) -> None:
    page, watch = listening, server.alerts
    assert watch is not None
    assert service.knows("json://127.0.0.1:9")  # the library is loaded before anybody waits for it
    try:
        read = Read(Settings(to=(Recipient("Ada", ("json://127.0.0.1:9/a-token?cto=0.2",)),)), "", "")
        watch.look = lambda: None  # type: ignore[method-assign]
        watch._use(read)
        server.controller.scene = invented.checkpoint()
        told = page.locator(".trouble")
        wait_for(watch.sender.troubles, within_s=15.0)
        expect(told).to_contain_text("Alerts could not be sent since ", timeout=20_000)
        expect(told).to_contain_text("Ada: A Connection error")
        assert "token" not in told.inner_text()
        page.locator("#seen-it").click()
        wait_for(lambda: all(matter.acknowledged for matter in watch.state.matters))
        expect(page.locator(".seen-box")).to_be_hidden()
    finally:
        watch._use(Read())


def test_what_calls_is_asked_for_again_when_it_did_not_come(browser: Browser, server: Server) -> None:
    context = browser.new_context(viewport=PHONE, locale="en-GB")
    page, faults, asked = context.new_page(), [], []

    def once_lost(route: Route) -> None:
        asked.append(route.request.url)
        route.abort() if len(asked) == 1 else route.continue_()

    page.on("pageerror", lambda error: faults.append(str(error)))
    page.route("**/calling.js", once_lost)
    for place in ("", "/firings"):
        asked.clear()
        page.goto(server.url + place)
        page.wait_for_selector(".seen-box", state="attached")
        assert len(asked) == 2
    context.close()
    assert faults == []


def test_a_device_that_may_not_look_any_more_does_not_break_the_page(
    browser: Browser, server: Server
) -> None:
    context = browser.new_context(viewport=PHONE, locale="en-GB")
    page, faults = context.new_page(), []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.route(
        "**/api/alerts",
        lambda route: route.fulfill(status=401, json={"ok": False, "says": "pair this device"}),
    )
    with page.expect_response("**/api/alerts"):
        page.goto(server.url)
    page.wait_for_selector(".seen-box", state="attached")
    page.evaluate("() => new Promise((done) => setTimeout(done, 50))")
    context.close()
    assert faults == []


def test_the_page_and_its_server_know_a_firing_cut_short_by_the_same_words() -> None:
    calls = (STATIC / "calling" / "calls.js").read_text()
    assert f'const CUT_SHORT = "{CUT_SHORT.partition(".")[0]}";' in calls


def test_the_page_can_be_put_on_the_home_screen_without_a_worker_that_keeps_old_readings(
    page: Page,
) -> None:
    devtools = page.context.new_cdp_session(page)
    manifest = devtools.send("Page.getAppManifest")
    assert manifest["errors"] == []
    assert manifest["url"].endswith("/static/manifest.webmanifest")
    found = devtools.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [error["errorId"] for error in found] == ["in-incognito"]  # the test's own browser window
    assert page.evaluate("navigator.serviceWorker.getRegistrations().then((all) => all.length)") == 0
