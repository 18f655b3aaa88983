"""What the page shows, in Chromium: readable at arm's length, and complete in every state."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page, expect

from controller.live import Frame
from tests.web import invented
from tests.web.conftest import PHONE, Server
from tests.web.fake_controller import FakeController

pytestmark = [pytest.mark.browser, pytest.mark.wire]

Scene = Callable[[], Frame]
SCENES: tuple[Scene, ...] = (
    invented.idle,
    invented.running,
    invented.checkpoint,
    invented.alarm,
    invented.held,
    invented.pouring,
    invented.tripped,
    invented.complete,
)
FONT_PX = "node => parseFloat(getComputedStyle(node).fontSize)"
# Every visible text on its ground: the contrast of the two, after WCAG 2.2's definitions of relative
# luminance and contrast ratio.
CONTRASTS = """
() => {
  const parse = (text) => text.match(/[\\d.]+/g).map(Number);
  const light = ([r, g, b]) => [r, g, b].map((v) => v / 255)
    .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = (node) => {
    for (let at = node; at; at = at.parentElement) {
      const colour = parse(getComputedStyle(at).backgroundColor);
      if (colour.length < 4 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  const found = [];
  for (const node of document.querySelectorAll("body *")) {
    const own = [...node.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
    const box = node.getBoundingClientRect();
    if (!own || box.width < 2 || node.matches(":disabled, .hidden, .skip, noscript, option")) continue;
    const [a, b] = [light(parse(getComputedStyle(node).color)), light(ground(node))].sort((x, y) => y - x);
    found.push([(a + 0.05) / (b + 0.05), node.textContent.trim().slice(0, 30)]);
  }
  return found;
}
"""

# The smaller side of everything that a gloved finger must hit.
TARGETS = """
() => [...document.querySelectorAll("button, .units label, .profile, .tick, .text, input[name=code]")]
  .map((node) => [node.getBoundingClientRect(), node])
  .filter(([box]) => box.width > 0)
  .map(([box, node]) => [Math.min(box.width, box.height), node.textContent.trim()])
"""
INKED_PIXELS = """
node => node.getContext("2d").getImageData(0, 0, node.width, node.height)
  .data.filter((value, i) => i % 4 === 3 && value > 0).length
"""


def play(page: Page, controller: FakeController, scene: Scene) -> None:
    """Play a scene, and wait until the page shows it."""
    controller.scene = scene()
    page.wait_for_selector(f"html[data-state={controller.scene['state']}]")
    page.wait_for_timeout(130)  # the next frame but one


def test_the_temperature_is_the_largest_thing_on_the_screen(sized_page: Page) -> None:
    air = sized_page.locator("#air")
    expect(air).to_have_text("409")
    expect(air).to_be_in_viewport(ratio=1)
    assert air.evaluate(FONT_PX) >= 88
    expect(sized_page.locator("#air-label")).to_have_text("Chamber air, °C")
    expect(sized_page.locator("#setpoint")).to_have_text("412 °C")
    expect(sized_page.locator("#load")).to_have_text("377 °C")
    expect(sized_page.locator("#limit")).to_have_text("411 °C")


def test_four_digits_stay_large_too(page: Page, server: Server) -> None:
    play(page, server.controller, invented.pouring)
    expect(page.locator("#air")).to_have_text("1093")
    assert page.locator("#air").evaluate(FONT_PX) >= 88


def test_it_says_what_the_kiln_is_doing_and_when_someone_is_needed(page: Page) -> None:
    expect(page.locator("#state")).to_have_text("Running")
    expect(page.locator("#stage-count")).to_have_text("Stage 3 of 9")
    expect(page.locator("#stage-name")).to_have_text("Burn out")
    expect(page.locator("#stage-left")).to_have_text("1 h 12 min")
    rows = page.locator("#ahead-rows li")
    expect(rows).to_have_count(4)
    expect(rows.nth(0)).to_contain_text("NextSoakin 1 h 12 min")
    expect(rows.nth(1)).to_contain_text("You are neededPatch and drainin 3 h 12 min")
    expect(rows.nth(2)).to_contain_text("PourKeep for the pourin 7 h 40 min")
    expect(rows.nth(1)).to_be_in_viewport(ratio=1)


def test_the_time_of_what_comes_is_told_by_the_devices_own_clock(page: Page) -> None:
    shown = page.locator("#ahead-rows li").first.locator(".when .label").inner_text()
    wanted = page.evaluate(
        """[0, -30000, 30000].map((slack) => new Intl.DateTimeFormat(undefined,
             {hour: "numeric", minute: "2-digit"}).format(Date.now() + 4320000 + slack))"""
    )
    assert shown.split()[-1] in wanted


def test_while_a_person_is_waited_for_no_clock_says_when(page: Page, server: Server) -> None:
    play(page, server.controller, invented.checkpoint)
    rows = page.locator("#ahead-rows li")
    expect(rows.nth(0)).to_contain_text("NextBurn outwhen released")
    expect(rows.nth(1)).to_contain_text("PourKeep for the pour5 hafter release")


def test_no_state_scrolls_sideways_or_hides_abort(sized_page: Page, server: Server) -> None:
    for scene in SCENES:
        play(sized_page, server.controller, scene)
        name = scene.__name__
        assert sized_page.evaluate("document.documentElement.scrollWidth <= innerWidth"), name
        abort = sized_page.locator("#abort")
        expect(abort).to_be_enabled()
        expect(abort).to_be_in_viewport(ratio=1)
        targets = sized_page.evaluate(TARGETS)
        assert len(targets) >= 4
        assert min(targets)[0] >= 48, (name, min(targets))


def test_every_state_has_a_shape_and_a_word_of_its_own(page: Page, server: Server) -> None:
    shown = set()
    for scene in SCENES[:5]:
        play(page, server.controller, scene)
        shape = page.locator("#state-shape").get_attribute("href")
        assert page.locator(f"symbol{shape}").count() == 1
        shown.add((shape, page.locator("#state").inner_text()))
    assert len({shape for shape, _ in shown}) == 5
    assert len({word for _, word in shown}) == 5


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_can_be_read_in_sunlight_and_in_the_dark(page: Page, server: Server, scheme: str) -> None:
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    for scene in SCENES:
        play(page, server.controller, scene)
        contrasts = page.evaluate(CONTRASTS)
        assert len(contrasts) > 15
        assert min(contrasts)[0] >= 7, (scene.__name__, min(contrasts))


def test_the_unit_is_the_viewers_choice_and_is_kept(page: Page) -> None:
    page.check("input[value=F]")
    expect(page.locator("#air")).to_have_text("767")
    expect(page.locator("#setpoint")).to_have_text("774 °F")
    expect(page.locator("#stage-does")).to_have_text("Moving to 1022 °F")
    page.reload()
    expect(page.locator("#air-label")).to_have_text("Chamber air, °F")
    expect(page.locator("#air")).to_have_text("767")


def test_no_reading_is_no_number(page: Page, server: Server) -> None:
    server.controller.scene = invented.changed(air={"c": None, "fault": "thermocouple open", "age_s": 0.1})
    expect(page.locator("#air")).to_have_text("–")
    expect(page.locator("#air-fault")).to_have_text("No reading: thermocouple open.")


def test_an_old_reading_is_struck_and_says_its_age(page: Page, server: Server) -> None:
    server.controller.scene = invented.changed(air={"c": 408.0, "fault": None, "age_s": 12.0})
    expect(page.locator("#air-fault")).to_have_text("This reading is 12 s old.")
    expect(page.locator("#air")).to_have_css("text-decoration-line", "line-through")


def test_an_alarm_is_told_in_words_with_what_to_do(sized_page: Page, server: Server) -> None:
    play(sized_page, server.controller, invented.alarm)
    expect(sized_page.locator("html")).to_have_attribute("data-tone", "alarm")
    expect(sized_page.locator("#state")).to_have_text("Alarm · Running")
    expect(sized_page.locator("#state-says")).to_have_text(invented.DOOR["says"])
    expect(sized_page.locator(".alarm-says")).to_have_text(invented.DOOR["says"])
    expect(sized_page.locator(".alarm-says")).to_be_in_viewport(ratio=1)
    expect(sized_page.locator(".alarm-do")).to_have_text(invented.DOOR["do"])
    expect(sized_page.locator("#alert")).to_contain_text(invented.DOOR["says"])


def test_a_warning_is_told_without_colour(page: Page, server: Server) -> None:
    warning = {**invented.DOOR, "reaction": "warn", "says": "The record cannot be written"}
    server.controller.scene = invented.changed(alarms=[warning])
    expect(page.locator("#state-says")).to_have_text("Warning: The record cannot be written")
    expect(page.locator("#state")).to_have_text("Running")
    expect(page.locator("html")).to_have_attribute("data-tone", "quiet")
    expect(page.locator("#quiet-alarms .alarm-says")).to_have_text("The record cannot be written")
    expect(page.locator("#alarms")).to_be_hidden()


def test_a_simulated_kiln_is_never_taken_for_a_real_one(page: Page, server: Server) -> None:
    expect(page.locator("#simulated")).to_be_hidden()
    server.controller.scene = invented.changed(simulated=True, speed=160.0)
    expect(page.locator("#simulated")).to_be_in_viewport(ratio=1)
    expect(page.locator("#simulated")).to_have_text("Simulated kiln, 160 times faster")


def test_names_are_text_and_never_markup(page: Page, server: Server) -> None:
    nasty = "<img src=x onerror=\"document.title='owned'\"><b>x</b>"
    server.controller.scene = invented.changed(title=nasty, person={"says": nasty, "waited_s": 1.0})
    expect(page.locator("#person-says")).to_have_text(nasty)
    expect(page.locator("#state-says")).to_have_text(nasty)
    assert page.locator("main img").count() == 0


def test_the_curve_is_drawn_and_grows(page: Page, server: Server) -> None:
    canvas = page.locator("#plot canvas")
    expect(canvas).to_have_count(1)
    assert canvas.evaluate(INKED_PIXELS) > 2000
    before = canvas.evaluate("node => node.toDataURL()")
    server.controller.scene = invented.changed(
        elapsed_s=9900.0, air={"c": 470.0, "fault": None, "age_s": 0.1}
    )
    expect(page.locator("#curve-says")).to_have_text("2 h 45 min so far")
    page.wait_for_function(
        "before => document.querySelector('#plot canvas').toDataURL() !== before", arg=before
    )
    expect(page.locator("#curve-words")).to_contain_text("the air is at 470 °C")


def test_without_the_drawing_library_everything_else_works(browser: Browser, server: Server) -> None:
    with browser.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.route("**/vendor/*", lambda route: route.abort())
        page.goto(server.url)
        expect(page.locator("#air")).to_have_text("409")
        expect(page.locator("#curve-says")).to_have_text("The part that draws it is missing here.")


def test_the_number_that_comes_with_the_page_is_grey_until_the_controller_is_heard(
    browser: Browser, server: Server
) -> None:
    with browser.new_context(viewport=PHONE, color_scheme="light") as context:
        page = context.new_page()
        page.route("**/*.js", lambda route: route.abort())
        page.goto(server.url)
        expect(page.locator("#air")).to_have_text("409")
        expect(page.locator("#air-label")).to_have_text("Chamber air, °C")
        expect(page.locator("#air")).to_have_css("color", "rgb(118, 122, 125)")
        expect(page.locator("#state")).to_have_text("Looking for the controller")
