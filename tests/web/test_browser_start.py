"""A start in four steps, and schedules being changed, in Chromium, on a phone and a desk."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from controller.schedule.index import profile
from tests.web import invented
from tests.web.conftest import PHONE, SIZES, Server
from tests.web.fake_controller import CODE
from tests.web.test_browser_now import CONTRASTS, INKED_PIXELS
from tests.web.test_browser_past import SIDEWAYS, SMALL

pytestmark = [pytest.mark.browser, pytest.mark.wire]

PLA = profile("printed-pla-silica-shell").read_text()
LASTS_S = 42_480.0
AXE = Path(__file__).parents[2] / "web" / "node_modules" / "axe-core" / "axe.min.js"


def banded(value: float, width: float) -> dict[str, float]:
    return {"low": value - width, "typical": value, "high": value + width}


def forecast(asked: dict[str, Any]) -> dict[str, Any]:
    """An invented forecast, in the shape of /api/forecast: ready after 11 h 40 min."""
    start = asked["pour_at_utc_s"] - LASTS_S if "pour_at_utc_s" in asked else time.time()
    row = {"kind": "hold", "air_c": 800.0, "core_c": 790.0, "says": "Pour.", "if_nobody_comes": "It goes on."}
    return {
        "ok": True,
        "says": "",
        "kiln": {"says": "Shed kiln", "model": "typical"},
        "job": {"says": "PLA", "told": []},
        "start_utc_s": start,
        "ready_s": banded(42_000.0, 1800.0),
        "ready_utc_s": banded(start + 42_000.0, 1800.0),
        "end_utc_s": banded(start + 44_000.0, 1800.0),
        "furnace": {
            "lights_utc_s": banded(start + 38_880.0, 1800.0),
            "metal": "silicon bronze",
            "metal_kg": banded(3.4, 1.0),
            "pour_c": 1093.0,
        },
        "rows": [
            row | {"name": "pour", "begins_s": banded(42_000.0, 1800.0), "ends_s": banded(44_000.0, 1800.0),
                   "begins_utc_s": start + 42_000.0, "person": True},
        ],
        "energy_kwh": banded(38.0, 6.0),
        "findings": [
            {"severity": "stop", "says": "The kiln reaches 700 C.", "remedy": "Mend the door.", "key": "x"}
        ],
        "curves": {"air": [[0.0, 20.0], [44_000.0, 815.0]], "core": [[0.0, 20.0], [44_000.0, 790.0]],
                   "band": [[0.0, 20.0, 20.0], [44_000.0, 790.0, 830.0]]},
    }  # fmt: skip


@pytest.fixture(scope="module")
def window(browser: Browser) -> Iterator[Page]:
    """One window for the whole file; a fault in its scripts fails the file's last test."""
    faults: list[str] = []
    page = browser.new_context(viewport=PHONE, locale="en-GB", timezone_id="UTC").new_page()
    page.set_default_timeout(8000)
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: faults.append(said.text) if "Content Security" in said.text else None)
    yield page
    page.context.close()
    assert faults == []


@pytest.fixture
def page(window: Page, server: Server) -> Page:
    """The window, on a phone, nothing running."""
    server.controller.scene = invented.idle()
    window.unroute_all()
    window.set_viewport_size(PHONE)
    return window


def looks_right(page: Page) -> None:
    """On a phone and a desk nothing runs off the side, is too small for a glove or too pale for the sun."""
    for size in ("desk", "phone"):
        page.set_viewport_size(SIZES[size])
        page.wait_for_function(f"() => !({SIDEWAYS})")
        assert page.evaluate(SMALL) == []
        assert [each for each in page.evaluate(CONTRASTS) if each[0] < 4.5] == []
    page.evaluate(AXE.read_text())
    found = page.evaluate("async () => (await axe.run({resultTypes: ['violations']})).violations")
    assert [(each["id"], [node["html"][:200] for node in each["nodes"]]) for each in found] == []


def test_a_start_goes_in_four_steps_from_the_main_page(page: Page, server: Server) -> None:
    asked = list[dict[str, Any]]()

    def answer(route: Route) -> None:
        asked.append(json.loads(route.request.post_data or ""))
        route.fulfill(json=forecast(asked[-1]))

    page.route("**/api/forecast", answer)
    server.controller.lacking = "not commissioned: the leads were never checked"
    page.goto(server.url)
    page.get_by_role("link", name="Start a firing").click()
    expect(page.locator(".pick .small-line")).to_have_count(5)
    looks_right(page)
    page.locator(".pick", has_text="printed-pla-silica-shell").click()
    _the_job(page)
    _what_is_to_come(page, asked)
    _the_list(page)
    page.wait_for_url(server.url + "/")
    assert page.evaluate("localStorage.getItem('stokehold.sheet')") is None
    start = server.controller.asked[-1]
    assert start == {
        "request": "start",
        "by": "page",
        "presence": CODE,
        "schedule": PLA,
        "name": "printed-pla-silica-shell.toml",
        "ticked": ["vent", "limit"],
        "reachable": "Ada, 12",
        "attended": True,
        "job": '[pattern]\nmass = "17.5 oz"\n\n[shell]\ncoats = 9\n\n[metal]\nmetal = "tin bronze"\n',
    }
    assert asked[-1]["job"] == start["job"]


def _the_job(page: Page) -> None:
    expect(page.locator("h1")).to_have_text("What is fired?")
    expect(page.get_by_text("If not told: about 400 g (150 to 1000)")).to_be_visible()
    page.get_by_label("Mass, as printed", exact=True).fill("17,5")
    page.get_by_label("Unit of: Mass, as printed").select_option("oz")
    page.get_by_label("Metal", exact=True).select_option("tin bronze")
    _is_kept_and_can_be_emptied(page)
    coats = page.get_by_label("Coats")
    coats.fill("99")
    page.get_by_role("button", name="Next").click()
    expect(page.locator("#job-shell-coats-mistake")).to_have_text(
        "found 99, expected a whole number from 1 to 40"
    )
    expect(coats).to_be_focused()
    looks_right(page)
    coats.fill("9")
    page.get_by_role("button", name="Next").click()


def _is_kept_and_can_be_emptied(page: Page) -> None:
    """Loaded anew, the sheet is as it was left, with its age; emptied, it stays empty."""
    mass, unit = (
        page.get_by_label("Mass, as printed", exact=True),
        page.get_by_label("Unit of: Mass, as printed"),
    )
    told = page.evaluate("localStorage.getItem('stokehold.sheet')")
    kept = page.locator(".sheet-kept")
    for age_s, expected in ((7200, "17,5"), (8 * 86400, ""), (-60, "")):
        older = json.loads(told) | {"at_ms": (time.time() - age_s) * 1000}
        page.evaluate("text => localStorage.setItem('stokehold.sheet', text)", json.dumps(older))
        page.reload()
        page.locator(".pick", has_text="printed-pla-silica-shell").click()
        expect(mass).to_have_value(expected)
        if expected:
            expect(unit).to_have_value("oz")
            expect(page.get_by_label("Metal", exact=True)).to_have_value("tin bronze")
            expect(kept).to_contain_text("Filled in before, and kept on this device: 2 h ago.")
            looks_right(page)
            page.get_by_role("button", name="Empty the sheet").click()
            expect(mass).to_have_value("")
            assert page.evaluate("localStorage.getItem('stokehold.sheet')") is None
        else:
            expect(kept).to_be_hidden()
    mass.fill("17,5")
    unit.select_option("oz")
    page.get_by_label("Metal", exact=True).select_option("tin bronze")


def _what_is_to_come(page: Page, asked: list[dict[str, Any]]) -> None:
    expect(page.locator("h1")).to_have_text("What is to come?")
    expect(page.locator(".moments li")).to_contain_text(
        ["It starts", "Light the melting furnace", "Ready to pour", "You are needed", "It ends"]
    )
    expect(page.locator(".moments")).to_contain_text(
        "3.4 kg of silicon bronze (2.4 to 4.4), to pour at 1093 °C"
    )
    expect(page.locator(".finding-stop")).to_contain_text("The kiln reaches 700 C.")
    expect(page.get_by_role("button", name="Go on all the same")).to_be_visible()
    page.wait_for_selector(".ahead-plot canvas")
    assert page.locator(".ahead-plot canvas").evaluate(INKED_PIXELS) > 2000
    looks_right(page)
    page.get_by_label("Pour at a time").check()
    page.get_by_label("Pour at", exact=True).fill(
        time.strftime("%Y-%m-%dT18:00", time.gmtime(time.time() + 2 * 86400))
    )
    page.keyboard.press("Tab")
    expect(page.locator(".come-back")).to_contain_text("Nothing starts by itself")
    expect(page.locator(".come-back .title")).to_contain_text("Come back at")
    expect(page.locator(".come-back .title")).to_contain_text("6:12")
    assert (asked[-1]["pour_at_utc_s"] % 86400, asked[-1]["schedule"]) == (18 * 3600, PLA + "\n")
    page.get_by_role("button", name="Start now all the same").click()


def _the_list(page: Page) -> None:
    answer = page.locator("#start-answer")
    expect(page.locator(".looks .tick")).to_contain_text(["The vent is open", "The independent limit is on"])
    expect(page.locator(".prefire")).to_contain_text("the leads were never checked")
    looks_right(page)
    page.fill("#start-code", CODE)
    page.check("input[value=vent]")
    page.click("#start-go")
    expect(answer).to_have_text("Not ticked yet: The independent limit is on.")
    page.check("input[value=limit]")
    page.click("#start-go")
    expect(answer).to_contain_text("Not ticked yet: I stay at the kiln")
    page.check("input[value=attended]")
    page.click("#start-go")
    expect(answer).to_contain_text("who can be reached")
    page.fill("#reachable", "Ada, 12")
    page.fill("#start-code", "0000")
    page.click("#start-go")
    expect(answer).to_contain_text("wrong code (4 tries left)")
    page.fill("#start-code", CODE)
    page.keyboard.press("Enter")


def test_without_a_forecast_a_start_goes_on_and_the_way_back_leads_a_step_back(
    page: Page, server: Server
) -> None:
    page.route(
        "**/api/forecast", lambda route: route.fulfill(status=503, json={"ok": False, "says": "too many ask"})
    )
    page.goto("about:blank")
    page.goto(server.url + "/start#look")
    expect(page.locator("h1")).to_have_text("Which schedule?")  # nothing is chosen yet
    page.locator(".pick").first.click()
    page.get_by_role("button", name="Next").click()
    expect(page.locator(".ahead-says")).to_have_text("There is no forecast: too many ask")
    page.get_by_role("button", name="Go on without a forecast").click()
    expect(page.locator("h1")).to_have_text("Look, and start")
    page.go_back()
    expect(page.locator("h1")).to_have_text("What is to come?")
    page.get_by_role("link", name="Back").click()
    expect(page.locator("h1")).to_have_text("What is fired?")


def test_while_a_firing_runs_the_abort_is_in_reach_and_no_start_is_sent(page: Page, server: Server) -> None:
    page.goto(server.url + "/start")
    page.locator(".pick").first.click()
    expect(page.locator("h1")).to_have_text("What is fired?")
    page.evaluate("window.location.hash = 'look'")
    expect(page.locator(".looks")).to_be_visible()
    expect(page.locator("#abort")).to_be_hidden()
    expect(page.locator(".step-runs")).to_be_hidden()
    server.controller.scene = invented.running()
    expect(page.locator("#abort")).to_be_in_viewport(ratio=1)
    expect(page.locator(".step-runs")).to_contain_text("A start is not possible now")
    page.click("#start-go")
    expect(page.locator("#start-answer")).to_contain_text("A start is not possible now")
    assert "start" not in [one["request"] for one in server.controller.asked]


def with_prefire(page: Page, status: int) -> None:
    """Let the server refuse to say whether this kiln can do it."""
    page.route(
        "**/prefire", lambda route: route.fulfill(status=status, json={"ok": False, "says": "too hot"})
    )


def test_a_schedule_is_changed_as_a_table_with_its_curve_following_and_saved(
    page: Page, server: Server
) -> None:
    page.set_viewport_size(SIZES["desk"])
    name = "otter-left"
    page.goto(server.url + "/schedules")
    expect(page.locator(".past-row .small-line").nth(4)).to_be_visible()
    looks_right(page)
    page.locator("a[href='/schedules/printed-pla-silica-shell']").click()
    plot = page.locator(".ahead-plot")
    expect(page.locator(".plan-words")).to_contain_text(
        "about 11 h 48 min, up to 816 °C, you are needed 2 times"
    )
    expect(page.locator(".plan-kiln")).to_have_text("This kiln can do it.")
    for status, words in ((409, "This kiln cannot do it: too hot"), (403, "")):
        with_prefire(page, status)
        with page.expect_response("**/prefire"):
            page.reload()
        expect(page.locator(".plan-kiln")).to_have_text(words)
    page.unroute("**/prefire")
    page.locator(".stage-line", has_text="dry through").click()
    minutes = page.locator("[data-key='stage.1.for']")
    minutes.fill("45")
    expect(page.locator(".plan-words")).to_contain_text("One mistake")
    expect(minutes).to_have_attribute("aria-invalid", "true")
    expect(page.locator(".field-for:has([aria-invalid=true]) .field-mistake")).to_contain_text(
        'found "45", without a unit'
    )
    expect(page.get_by_role("button", name="Save", exact=True)).to_be_disabled()
    looks_right(page)
    minutes.fill("2 h 45 min")
    expect(page.locator(".plan-words")).to_contain_text("about 13 h 48 min")
    expect(plot).to_have_attribute(
        "aria-label",
        "Planned curve: about 13 h 48 min, up to 816 °C, you are needed 2 times".replace(
            " h 48", "\u00a0h\u00a048"
        )
        .replace("48 min", "48\u00a0min")
        .replace("816 °C", "816\u00a0°C"),
    )
    page.route("**/api/forecast", lambda route: route.fulfill(json=forecast({})))
    page.get_by_label("Forecast it on this kiln").check()
    expect(page.locator(".foresee-ready")).to_contain_text(
        "Ready to pour after about 11\u00a0h\u00a040\u00a0min"
    )
    expect(plot).to_have_attribute("data-points", "2")
    page.get_by_role("button", name="File").click()
    expect(page.locator(".file-text")).to_have_value(
        PLA.replace('for = "45 min"\nband', 'for = "2 h 45 min"\nband', 1)
    )
    page.fill("#save-name", name)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator(".saving .answer")).to_have_text(f"Saved as {name}.toml.")
    expect(page).to_have_url(f"{server.url}/schedules/{name}")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator(".saving .answer")).to_contain_text("Save over it?")
    page.get_by_role("button", name="Save over it").click()
    expect(page.locator(".saving .answer")).to_have_text(f"Saved as {name}.toml.")
    _is_renamed_and_deleted(page, server, name)


def _is_renamed_and_deleted(page: Page, server: Server, name: str) -> None:
    to, says = page.get_by_label("Another name for it"), page.locator(".keeping .answer")
    expect(to).to_have_value(name)
    to.fill("wax-silica-shell")
    page.get_by_role("button", name="Rename").click()
    expect(says).to_contain_text("which is built in")
    to.fill("otter-right")
    page.get_by_role("button", name="Rename").click()
    expect(page).to_have_url(f"{server.url}/schedules/otter-right")
    expect(to).to_have_value("otter-right")
    looks_right(page)
    page.get_by_role("button", name="Delete …").click()
    expect(page.locator("#delete-title")).to_have_text("Delete otter-right?")
    page.get_by_role("button", name="Go back").click()
    expect(page.locator("dialog[open]")).to_have_count(0)
    page.get_by_role("button", name="Delete …").click()
    page.get_by_role("button", name="Delete it").click()
    expect(page).to_have_url(f"{server.url}/schedules")
    expect(page.locator(".past-row")).to_have_count(5)
    page.goto(f"{server.url}/schedules/printed-pla-silica-shell")
    expect(page.locator(".plan-kiln")).not_to_be_empty()
    expect(page.get_by_role("button", name="Delete …")).to_be_hidden()


def test_stages_are_added_turned_moved_and_taken_out_and_the_file_says_the_same(
    page: Page, server: Server
) -> None:
    page.goto(server.url + "/schedules?new")
    file = page.locator(".file-text")
    page.locator(".add-stage").get_by_role("button", name="hold").click()
    page.locator("[data-key='stage.1.for']").fill("1 h")
    page.locator("[data-key='stage.1.kind']").select_option("ramp")
    page.locator("[data-key='stage.1.to']").fill("200 C")
    page.locator("[data-key='stage.1.rate']").fill("full")
    page.locator("[data-key='stage.1.kind']").select_option("hold")
    expect(page.locator("[data-key='stage.1.for']")).to_have_value("1 h")
    page.get_by_role("button", name="Copy").last.click()
    expect(page.locator(".stage-line .name")).to_have_text(["warm up", "hold", "hold 2"])
    page.get_by_role("button", name="Move stage 3 up").press("Enter")
    expect(page.locator(".stage-line .name")).to_have_text(["warm up", "hold 2", "hold"])
    page.locator("[data-key='stage.1.name']").fill("<b>soak</b>")
    page.locator(".stage-line").first.click()
    page.get_by_role("button", name="Remove").last.click()
    expect(page.locator(".plan-words")).to_contain_text("2 h 20 min".replace(" ", "\u00a0"))
    page.get_by_role("button", name="File").click()
    expect(file).to_have_value(
        'title = "A schedule of your own"\n\n[[stage]]\nkind = "ramp"\nname = "warm up"\nto = "100 C"\n'
        'rate = "60 C/h"\n'
        '\n[[stage]]\nkind = "hold"\nname = "<b>soak</b>"\nfor = "1 h"\n'
    )
    file.fill('title = "x"\n[[stage]]\nkind = \n')
    page.get_by_role("button", name="Line 3").click()
    expect(file).to_be_focused()
    assert file.evaluate("node => node.value.slice(node.selectionStart, node.selectionEnd)") == "kind = "
    expect(page.get_by_role("button", name="Table")).to_be_disabled()
