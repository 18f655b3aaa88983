"""What a person does on the page, in Chromium: hold, release with the code, and above all abort."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web import invented
from tests.web.conftest import PHONE, Server
from tests.web.fake_controller import CODE

pytestmark = [pytest.mark.browser, pytest.mark.wire]

ABORT = {"request": "abort", "by": "page"}


def kinds(server: Server) -> list[str]:
    return [request["request"] for request in server.controller.asked]


def test_hold_is_one_tap_and_resume_needs_the_code(page: Page, server: Server) -> None:
    page.click("#hold")
    expect(page.locator("#state")).to_have_text("On hold")
    expect(page.locator("#answer")).to_have_text("hold: done")
    expect(page.locator("#hold")).to_be_hidden()
    page.click("#resume")
    page.fill("#code-input", CODE)
    page.keyboard.press("Enter")
    expect(page.locator("#state")).to_have_text("Running")
    expect(page.locator("#code-dialog")).to_be_hidden()
    assert server.controller.asked == [
        {"request": "hold", "by": "page"},
        {"request": "restart", "by": "page", "presence": CODE},
    ]


def test_only_what_the_state_accepts_is_offered(page: Page, server: Server) -> None:
    expect(page.locator("#hold")).to_be_enabled()
    expect(page.locator("#release")).to_be_hidden()
    expect(page.locator("#start")).to_be_hidden()
    server.controller.scene = invented.idle()
    expect(page.locator("#hold")).to_be_disabled()
    expect(page.get_by_role("link", name="Start a firing")).to_be_visible()
    expect(page.locator("#abort")).to_be_enabled()


def test_a_checkpoint_shows_its_message_and_is_released_with_the_code(
    sized_page: Page, server: Server
) -> None:
    page = sized_page
    server.controller.scene = invented.checkpoint()
    expect(page.locator("#state")).to_have_text("You are needed")
    expect(page.locator("#person-says")).to_have_text(invented.SAYS)
    expect(page.locator("#person-says")).to_be_in_viewport(ratio=1)
    expect(page.locator(".person-waited")).to_have_text("It has waited 13 min. The chamber is at 151 °C.")
    expect(page.locator("#person-air")).to_be_in_viewport(ratio=1)
    assert page.locator("#person-code").get_attribute("inputmode") == "numeric"
    expect(page.get_by_label("The code on the kiln’s own screen").first).to_be_visible()
    page.fill("#person-code", "12")
    page.click("#person-go")
    expect(page.locator("#person-answer")).to_contain_text("four digits")
    assert kinds(server) == []
    page.fill("#person-code", "1234")
    page.click("#person-go")
    expect(page.locator("#person-answer")).to_contain_text("wrong code (4 tries left)")
    page.fill("#person-code", CODE)
    page.click("#person-go")
    expect(page.locator("#state")).to_have_text("Running")
    expect(page.locator("#person")).to_be_hidden()
    assert kinds(server) == ["release", "release"]


def test_a_code_being_typed_is_left_alone_by_new_frames(page: Page, server: Server) -> None:
    server.controller.scene = invented.checkpoint()
    expect(page.locator("#person-code")).to_be_visible()
    page.locator("#person-code").press_sequentially("47", delay=150)
    page.wait_for_timeout(400)
    page.locator("#person-code").press_sequentially("11", delay=150)
    expect(page.locator("#person-code")).to_have_value(CODE)
    expect(page.locator("#person-code")).to_be_focused()


def press_abort(page: Page, ms: int) -> None:
    box = page.locator("#abort").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.wait_for_timeout(ms)
    page.mouse.up()


def test_abort_is_one_press_held_for_a_second(sized_page: Page, server: Server) -> None:
    press_abort(sized_page, 1150)
    expect(sized_page.locator("#state")).to_have_text("Aborted")
    expect(sized_page.locator("#answer")).to_have_text("abort: done")
    expect(sized_page.locator("#abort-dialog")).to_be_hidden()
    assert server.controller.asked == [ABORT]


def test_a_tap_does_not_abort_but_asks(page: Page, server: Server) -> None:
    press_abort(page, 300)
    expect(page.locator("#abort-dialog")).to_be_visible()
    page.click("#abort-back")
    assert kinds(server) == []
    press_abort(page, 300)
    page.click("#abort-now")
    expect(page.locator("#state")).to_have_text("Aborted")
    assert server.controller.asked == [ABORT]


def test_a_press_that_slides_off_does_nothing(page: Page, server: Server) -> None:
    box = page.locator("#abort").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 20, box["y"] + 20)
    page.mouse.down()
    page.mouse.move(box["x"] + 20, box["y"] - 200)
    page.wait_for_timeout(1200)
    page.mouse.up()
    assert kinds(server) == []
    expect(page.locator("#abort-dialog")).to_be_hidden()


@pytest.mark.parametrize("key", ["Enter", "Space"])
def test_the_keyboard_alone_aborts(page: Page, server: Server, key: str) -> None:
    page.reload()
    page.wait_for_selector("html[data-link=live]")
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab") if not page.locator("#abort").evaluate(
        "n => n === document.activeElement"
    ) else None
    expect(page.locator("#abort")).to_be_focused()
    page.keyboard.down(key)
    page.wait_for_timeout(1150)
    page.keyboard.up(key)
    expect(page.locator("#state")).to_have_text("Aborted")
    assert server.controller.asked == [ABORT]


def test_a_screen_readers_click_asks_in_words(page: Page, server: Server) -> None:
    page.locator("#abort").evaluate("button => button.click()")
    dialog = page.get_by_role("dialog", name="Abort the firing?")
    expect(dialog).to_be_visible()
    page.get_by_role("button", name="Abort now").press("Enter")
    expect(page.locator("#state")).to_have_text("Aborted")
    assert server.controller.asked == [ABORT]


def test_abort_works_without_the_stream(browser: Browser, server: Server) -> None:
    with browser.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.route("**/api/live", lambda route: route.abort())
        page.goto(server.url)
        page.wait_for_selector("html[data-link=lost]")
        press_abort(page, 1150)
        expect(page.locator("#answer")).to_have_text("abort: done")
    assert server.controller.asked == [ABORT]


def test_abort_works_beside_the_question_for_a_code(page: Page, server: Server) -> None:
    page.click("#hold")
    page.click("#resume")
    expect(page.locator("#code-dialog")).to_be_visible()
    press_abort(page, 1150)
    expect(page.locator("#state")).to_have_text("Aborted")
    assert kinds(server) == ["hold", "abort"]


def test_an_abort_that_does_not_get_through_is_tried_again_and_says_so(page: Page, server: Server) -> None:
    tries: list[int] = []

    def away_once(route: Any) -> None:
        tries.append(1)
        route.abort() if len(tries) < 2 else route.continue_()

    page.route("**/api/requests/abort", away_once)
    press_abort(page, 1150)
    expect(page.locator("#answer")).to_contain_text("use its emergency stop")
    expect(page.locator("#answer")).to_have_text("abort: done")
    assert server.controller.asked == [ABORT]


def test_an_alarm_is_acknowledged(page: Page, server: Server) -> None:
    server.controller.scene = invented.alarm()
    page.get_by_role("button", name="Acknowledge").click()
    expect(page.get_by_role("button", name="Acknowledge")).to_have_count(0)
    assert server.controller.asked == [{"request": "acknowledge", "by": "page", "alarm": "door"}]


def test_an_alarm_is_shelved_for_half_an_hour_and_shown_again_and_a_trip_is_not(
    page: Page, server: Server
) -> None:
    server.controller.scene = invented.alarm()
    shelve = page.get_by_role("button", name="Shelve 30 min")
    shelve.click()
    expect(page.locator("#quiet-alarms")).to_contain_text("Shelved for another 30 min")
    expect(page.locator("html")).not_to_have_attribute("data-tone", "alarm")
    page.get_by_role("button", name="Show again").click()
    expect(page.locator("html")).to_have_attribute("data-tone", "alarm")
    asked = {"request": "shelve", "by": "page", "alarm": "door"}
    assert server.controller.asked == [asked | {"minutes": 30}, asked | {"minutes": 0}]
    server.controller.scene = invented.tripped()
    expect(page.get_by_role("button", name="Clear the trip")).to_be_visible()
    expect(shelve).to_have_count(0)


def test_a_trip_is_cleared_with_the_code_and_the_firing_reset(page: Page, server: Server) -> None:
    server.controller.scene = invented.tripped()
    page.get_by_role("button", name="Clear the trip").click()
    page.fill("#code-input", CODE)
    page.click("#code-go")
    expect(page.locator("#answer")).to_have_text("clear: done")
    expect(page.locator("#result-says")).to_have_text("The firing was aborted after 2 h 16 min.")
    page.click("#reset")
    expect(page.locator("#state")).to_have_text("Idle")
    assert kinds(server) == ["clear", "reset"]


def test_what_warms_is_not_offered_while_the_controller_is_lost(page: Page, server: Server) -> None:
    server.controller.scene = invented.checkpoint()
    expect(page.locator("#person-go")).to_be_enabled()
    server.controller.die()
    expect(page.locator("#person-go")).to_be_disabled()
    expect(page.locator("#abort")).to_be_enabled()
