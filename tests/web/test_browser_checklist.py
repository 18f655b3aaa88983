"""At a checkpoint the page is the checklist, in Chromium: kept, seen by another phone, grey when lost."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Browser, Page, expect

from controller.live import Frame
from controller.record.observed import observations, photos
from tests.web import invented, invented_past
from tests.web.conftest import SIZES, Server
from tests.web.fake_controller import FakeController
from tests.web.test_pictures import photograph
from web.app import build_app
from web.serve import bind

pytestmark = [pytest.mark.browser, pytest.mark.wire]

SMALL = """
() => [...document.querySelectorAll(":is(.person, .more) :is(button, summary, a, label:has(input))")]
  .map((node) => [node.getBoundingClientRect(), node.textContent.trim()])
  .filter(([box]) => box.width > 0 && Math.min(box.width, box.height) < 48)
  .map(([box, text]) => [Math.min(box.width, box.height), text])
"""
SIDEWAYS = "document.documentElement.scrollWidth > innerWidth"


def at_the_stop(firing: int) -> Frame:
    scene: dict[str, Any] = dict(invented.checkpoint())
    scene |= {"firing": firing, "stage": {**scene["stage"], "index": 2}}
    return Frame(**scene)  # type: ignore[typeddict-item]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("checklist")
    invented_past.write(home / "record.db", 3, ticks=60, schedule=invented_past.WITH_A_STOP)
    return home


@pytest.fixture(scope="module")
def kiln(home: Path) -> Iterator[Server]:
    """The page's server with a record of three firings, and a controller."""
    listener = bind(0)
    app = build_app(home / "channel.sock", home / "record.db")
    running = uvicorn.Server(
        uvicorn.Config(app, log_config=None, access_log=False, timeout_graceful_shutdown=1)
    )
    with FakeController(home / "channel.sock") as controller:
        thread = threading.Thread(target=running.run, args=([listener],), daemon=True)
        thread.start()
        yield Server(f"http://127.0.0.1:{listener.getsockname()[1]}", controller)
        controller.die()
        running.should_exit = True
        thread.join(5)
        listener.close()


@pytest.fixture(scope="module")
def pages(browser: Browser) -> Iterator[dict[str, Page]]:
    """A phone and a desk for the whole file; a fault in their scripts fails the file's last test."""
    faults: list[str] = []
    found = {}
    for name, size in SIZES.items():
        page = browser.new_context(viewport=size, locale="en-GB").new_page()
        page.set_default_timeout(8000)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda said: faults.append(said.text) if "Content Security" in said.text else None)
        found[name] = page
    yield found
    for page in found.values():
        page.context.close()
    assert faults == []


def opened(page: Page, kiln: Server, firing: int) -> Page:
    kiln.controller.renew()
    kiln.controller.scene = at_the_stop(firing)
    page.goto(kiln.url)
    page.wait_for_selector("html[data-link=live] .ticks li")
    return page


def test_what_is_ticked_found_and_weighed_is_kept_and_seen_on_another_screen(
    pages: dict[str, Page], kiln: Server, home: Path
) -> None:
    phone = opened(pages["phone"], kiln, 1)
    expect(phone.locator(".checklist .label").first).to_have_text("0 of 3 ticked")
    phone.get_by_text("Cracks patched").click()
    expect(phone.locator("#person-unticked")).to_have_text("2 lines are not ticked.")
    phone.get_by_role("button", name="Add cracks").click()
    phone.get_by_role("button", name="Keep").first.click()
    expect(phone.locator("#answer")).to_contain_text("Say where: rim, cup")
    phone.get_by_role("button", name="One crack more").click()
    phone.locator("label.chip", has_text="Sprue").click()
    picture = {"name": "crack.png", "mimeType": "image/png", "buffer": photograph("PNG")}
    phone.locator(".photo-button input").set_input_files(picture)  # type: ignore[arg-type]
    assert phone.evaluate(SMALL) == []
    phone.get_by_role("button", name="Keep").first.click()
    expect(phone.locator(".crack")).to_contain_text("2 cracks at the sprue")
    phone.fill("#drained", "0,31")
    phone.locator(".drained-row .units label", has_text="kg").click()
    phone.locator(".drained-form .go").click()
    expect(phone.locator(".drained-kept")).to_contain_text("310 g, kept at")
    assert phone.evaluate(SIDEWAYS) is False
    expect(phone.locator("#abort")).to_be_in_viewport(ratio=1)
    (photo,) = photos(home / "record.db", 1)
    assert (photo.of, photo.stage, max(photo.width_px, photo.height_px)) == ("crack", 2, 1600)

    desk = opened(pages["desk"], kiln, 1)
    expect(desk.locator(".ticks input").nth(1)).to_be_checked()
    expect(desk.locator(".crack .thumbnail img")).to_have_js_property("complete", True)
    assert desk.locator(".crack img").evaluate("image => image.naturalHeight") == 320
    expect(desk.locator(".drained-kept")).to_contain_text("310 g")
    expect(desk.locator(".checklist")).to_be_in_viewport(ratio=0.8)
    assert desk.evaluate(SMALL) == []
    desk.get_by_role("button", name="Mark as patched").click()
    expect(phone.get_by_role("button", name="Patched", exact=True)).to_be_visible()  # it looks by itself
    assert [each.kind for each in observations(home / "record.db", 1)] == [
        "tick",
        "crack",
        "drained",
        "patched",
    ]


def test_none_found_is_said_and_can_be_taken_back(pages: dict[str, Page], kiln: Server) -> None:
    phone = opened(pages["phone"], kiln, 2)
    phone.get_by_role("button", name="No cracks found").click()
    expect(phone.locator(".crack")).to_contain_text("Looked: no cracks")
    phone.get_by_role("button", name="Take back: Looked: no cracks").click()
    expect(phone.get_by_role("button", name="No cracks found")).to_be_visible()


def test_a_tick_that_did_not_get_through_is_no_tick(pages: dict[str, Page], kiln: Server) -> None:
    phone = opened(pages["phone"], kiln, 3)
    phone.route("**/observations", lambda route: route.abort())
    phone.route("**/checklist?*", lambda route: route.abort())  # nor is it read again meanwhile
    phone.get_by_text("Door shut").click()
    expect(phone.locator("#answer")).to_contain_text("did not get through")
    expect(phone.locator(".ticks input").nth(2)).not_to_be_checked()
    phone.unroute_all()


def test_without_a_list_the_message_and_the_release_are_still_there(
    pages: dict[str, Page], kiln: Server
) -> None:
    phone = pages["phone"]
    kiln.controller.renew()
    kiln.controller.scene = at_the_stop(77)
    phone.goto(kiln.url)
    expect(phone.locator(".checklist-says")).to_contain_text("there is no firing 77")
    expect(phone.locator("#person-says")).to_have_text(invented.SAYS)
    expect(phone.locator("#person-go")).to_be_enabled()


def test_with_the_controller_lost_nothing_on_the_list_can_be_changed(
    pages: dict[str, Page], kiln: Server
) -> None:
    phone = opened(pages["phone"], kiln, 3)
    kiln.controller.silent = True
    phone.wait_for_selector("html[data-link=lost]")
    expect(phone.locator(".ticks input").first).to_be_disabled()
    expect(phone.get_by_role("button", name="Add cracks")).to_be_disabled()
    expect(phone.locator("#abort")).to_be_enabled()
    kiln.controller.silent = False
    expect(phone.locator(".ticks input").first).to_be_enabled()


def test_a_note_and_a_stop_are_under_more_and_the_stop_asks_first(
    pages: dict[str, Page], kiln: Server
) -> None:
    phone = pages["phone"]
    kiln.controller.renew()
    phone.goto(kiln.url)
    phone.wait_for_selector("html[data-link=live][data-state=running]")
    phone.locator("#more summary").click()
    phone.fill("#note-text", "The fan rattles.")
    phone.get_by_role("button", name="Keep the note").click()
    expect(phone.locator("#note-text")).to_have_value("")
    phone.get_by_role("button", name="Stop the firing …").click()
    expect(phone.locator("#stop-dialog")).to_contain_text("cannot be taken up again")
    expect(phone.locator("#stop-back")).to_be_focused()
    assert (
        phone.evaluate(
            "document.elementFromPoint(...(({left, top}) => [left + 9, top + 9])"
            "(document.getElementById('abort').getBoundingClientRect())).closest('button').id"
        )
        == "abort"
    )  # nothing lies over it
    assert [request["request"] for request in kiln.controller.asked] == ["note"]
    phone.keyboard.press("Escape")
    phone.get_by_role("button", name="Stop the firing …").click()
    phone.get_by_role("button", name="Stop it").click()
    expect(phone.locator("#answer")).to_have_text("stop: done")
    assert kiln.controller.asked[0] == {"request": "note", "by": "page", "text": "The fan rattles."}
    assert kiln.controller.asked[1] == {"request": "stop", "by": "page"}
