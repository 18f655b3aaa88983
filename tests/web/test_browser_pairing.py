"""Pairing in Chromium on a phone: the way in, what a watcher is offered, shut out at once, inert names."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
import uvicorn
from playwright.sync_api import Browser, Page, expect

from controller.pairing.offer import Role, make_offer
from controller.record.devices import devices
from controller.record.journal import write_note
from controller.record.write_devices import revoke_device
from tests.web import invented_past
from tests.web.conftest import PHONE
from tests.web.fake_controller import FakeController
from web.app import build_app
from web.network import Network
from web.serve import bind, settings

pytestmark = [pytest.mark.browser, pytest.mark.wire]

# Loopback's network, but no name of the kiln's own computer: a browser here is a stranger until it is paired.
AFAR = "127.0.0.2"


class Kiln(NamedTuple):
    """A page on a network, its home folder, and the controller behind it."""

    url: str
    home: Path
    controller: FakeController

    def offer(self, name: str, role: Role) -> tuple[str, str]:
        """Make an offer at the console; return its code and its link."""
        _, code, link = make_offer(self.home, name, role, time.monotonic())
        return code, link


@pytest.fixture(scope="module")
def kiln(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kiln]:
    home = tmp_path_factory.mktemp("home")
    invented_past.write(home / "record.db", firings=1, ticks=60)
    app = build_app(home / "channel.sock", home / "record.db", network=Network(frozenset({AFAR})))
    listener = bind(0, AFAR)
    running = uvicorn.Server(settings(app))
    running.config.timeout_graceful_shutdown = 1
    with FakeController(home / "channel.sock") as controller:
        thread = threading.Thread(target=running.run, args=([listener],), daemon=True)
        thread.start()
        yield Kiln(f"http://{AFAR}:{listener.getsockname()[1]}", home, controller)
        controller.die()
        running.should_exit = True
        thread.join(5)
        listener.close()


@pytest.fixture
def phone(browser: Browser) -> Iterator[Page]:
    """A phone that has never been here, and whose page may have no fault and breach no policy."""
    faults: list[str] = []
    with browser.new_context(viewport=PHONE, locale="en-GB") as context:
        context.set_default_timeout(8000)
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda said: faults.append(said.text) if "Content Security" in said.text else None)
        yield page
    assert faults == []


def test_a_phone_is_paired_by_typing_the_digits_and_then_watches(phone: Page, kiln: Kiln) -> None:
    code, _ = kiln.offer("Ben's phone", "watcher")
    phone.goto(f"{kiln.url}/firings/1")
    expect(phone.get_by_role("heading")).to_have_text("Pair this device with the kiln")
    for part in (".strip", ".bar", "#abort"):  # a stranger is shown nothing of the kiln
        expect(phone.locator(part)).to_be_hidden()
    phone.fill("#pair-code", "123")
    phone.click("#pair-go")
    expect(phone.locator("#pair-answer")).to_contain_text("eight digits")
    phone.fill("#pair-code", f"{(int(code) + 1) % 10**8:08d}")
    phone.click("#pair-go")
    expect(phone.locator("#pair-answer")).to_contain_text("wrong code (4 tries left)")
    phone.fill("#pair-code", f"{code[:4]} {code[4:]}")
    phone.keyboard.press("Enter")
    expect(phone.locator("#past")).to_contain_text("Printed PLA")  # it goes on to where it was going
    [cookie] = phone.context.cookies()
    assert (cookie["httpOnly"], cookie["sameSite"], cookie["name"][:9]) == (True, "Strict", "stokehold")
    assert phone.evaluate("document.cookie") == ""
    phone.goto(kiln.url)
    phone.wait_for_selector("html[data-link=live][data-role=watcher]")
    expect(phone.locator("#watches")).to_be_visible()
    expect(phone.locator("#devices-link")).to_be_hidden()
    phone.click("#hold")
    expect(phone.locator("#answer")).to_have_text("hold: done")
    assert kiln.controller.asked[-1] == {"request": "hold", "by": "page: Ben's phone"}
    phone.wait_for_selector("html[data-state=held]")
    expect(phone.locator("#resume")).to_be_hidden()
    expect(phone.locator("#abort")).to_be_enabled()
    _looks_ahead(phone, kiln)
    revoke_device(
        kiln.home / "record.db", devices(kiln.home / "record.db")[-1].number, "console", time.time()
    )
    expect(phone.get_by_role("heading")).to_have_text("Pair this device with the kiln")


def _looks_ahead(phone: Page, kiln: Kiln) -> None:
    """A watcher sees a schedule drawn and held against the kiln, and what is looked at before a start."""
    phone.goto(f"{kiln.url}/schedules/printed-pla-silica-shell")
    phone.wait_for_selector("html[data-link=live][data-role=watcher]")
    expect(phone.locator(".plan-kiln")).to_have_text("This kiln can do it.")
    expect(phone.locator("#save-name")).to_be_hidden()
    phone.locator("[data-key='stage.1.for']").evaluate("node => { node.value = '45'; }")
    phone.locator("[data-key='stage.1.for']").dispatch_event("input")
    expect(phone.locator(".plan-words")).to_contain_text("One mistake")
    phone.goto(f"{kiln.url}/start")
    phone.locator(".pick").first.click()
    phone.get_by_role("button", name="Next").click()
    expect(phone.locator("h1")).to_have_text("What is to come?")
    phone.evaluate("location.hash = 'look'")
    expect(phone.locator(".looks .tick").first).to_be_visible()
    expect(phone.locator(".watchers-only")).to_be_visible()
    expect(phone.locator("#start-go")).to_be_hidden()


def test_a_picture_s_link_pairs_once_and_leaves_no_trace(phone: Page, kiln: Kiln) -> None:
    _, link = kiln.offer("Ada's phone", "operator")
    phone.goto(f"{kiln.url}/pair#{link}")
    assert phone.url == f"{kiln.url}/pair"
    expect(phone.locator("#pair-code")).to_be_hidden()
    phone.click("#pair-go")
    phone.wait_for_selector("html[data-link=live][data-role=operator]")
    assert phone.url == f"{kiln.url}/"
    phone.goto("about:blank")
    phone.goto(f"{kiln.url}/pair#{link}")  # paired already, with a picture's link once more
    expect(phone.locator("#abort")).to_be_in_viewport(ratio=1)
    expect(phone.locator("#air")).to_have_text("409 °C")
    phone.context.clear_cookies()
    phone.goto("about:blank")
    phone.goto(f"{kiln.url}/pair#{link}")
    expect(phone.locator("#abort")).to_be_hidden()
    phone.click("#pair-go")
    expect(phone.locator("#pair-answer")).to_contain_text("no pairing is open")
    expect(phone.locator("#pair-code")).to_be_visible()


def test_script_in_names_and_notes_is_shown_and_never_run(phone: Page, kiln: Kiln) -> None:
    name = "<img src=x onerror=owned=1>"
    nasty = '<script>window.owned=1</script><img src=x onerror="window.owned=1"><svg onload=window.owned=1>'
    _, link = kiln.offer(name, "operator")
    phone.goto(f"{kiln.url}/pair#{link}")
    phone.click("#pair-go")
    phone.wait_for_selector("html[data-role=operator]")
    write_note(kiln.home / "record.db", 1, f"page: {name}", nasty, time.time())
    phone.click("#devices-link")
    mine = phone.locator("li.device", has_text="this device")
    expect(phone.locator("#abort")).to_be_in_viewport(ratio=1)
    expect(phone.locator("#air")).to_have_text("409 °C")
    expect(mine.locator("b")).to_have_text(f"{name} (this device)")
    phone.goto(f"{kiln.url}/firings/1")
    expect(phone.locator("#past")).to_contain_text(nasty)
    expect(phone.locator("#past")).to_contain_text(name)
    assert phone.locator("main img, main script, li.device img").count() == 0
    assert phone.evaluate("window.owned") is None
    phone.goto(f"{kiln.url}/devices")
    mine.get_by_role("button").click()
    expect(phone.locator("#revoke-title")).to_have_text(f"Shut out {name} (this device)?")
    phone.click("#revoke-now")
    expect(phone.get_by_role("heading")).to_have_text("Pair this device with the kiln")
    assert [each.paired for each in devices(kiln.home / "record.db") if each.name == name] == [False]
