"""Past firings in Chromium, on a phone and a desk: list, firing, closer look, note, comparison; and abort."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web import invented, invented_past
from tests.web.conftest import PHONE, SIZES, Server, wait_for
from tests.web.site import site
from tests.web.test_browser_now import CONTRASTS, INKED_PIXELS
from tests.web.test_pictures import photograph

pytestmark = [pytest.mark.browser, pytest.mark.wire]

SMALL = """
() => [...document.querySelectorAll("main a, main button, main select, main textarea, main label:has(input)")]
  .map((node) => [node.getBoundingClientRect(), node.textContent.trim()])
  .filter(([box]) => box.width > 0 && Math.min(box.width, box.height) < 48)
  .map(([box, text]) => [Math.min(box.width, box.height), text])
"""
SIDEWAYS = "document.documentElement.scrollWidth > innerWidth"


@pytest.fixture(scope="module")
def past(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The page's server with a record of five invented firings, and a controller that runs another one."""
    with site(tmp_path_factory.mktemp("past")) as server:
        yield server


@pytest.fixture(scope="module")
def pages(browser: Browser) -> Iterator[dict[str, Page]]:
    """One window of each size for the whole file; a fault in its scripts fails the file's last test."""
    faults: list[str] = []
    found = {}
    for name, size in SIZES.items():
        page = browser.new_context(viewport=size, locale="en-GB", timezone_id="UTC").new_page()
        page.set_default_timeout(8000)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda said: faults.append(said.text) if "Content Security" in said.text else None)
        found[name] = page
    yield found
    for page in found.values():
        page.context.close()
    assert faults == []


@pytest.fixture(params=list(SIZES))
def sized(pages: dict[str, Page], past: Server, request: pytest.FixtureRequest) -> Page:
    """A window, with the kiln at work."""
    past.controller.renew()
    page = pages[request.param]
    page.emulate_media(color_scheme="light")
    return page


@pytest.fixture
def phone(pages: dict[str, Page], past: Server) -> Page:
    past.controller.renew()
    pages["phone"].emulate_media(color_scheme="light")
    return pages["phone"]


def drawn(page: Page) -> None:
    page.wait_for_selector(".past-plot canvas")
    wait_for(lambda: page.locator(".past-plot canvas").evaluate(INKED_PIXELS) > 2000)


def test_the_list_is_reached_from_the_first_page_and_back(sized: Page, past: Server) -> None:
    sized.goto(past.url)
    sized.get_by_role("link", name="Past firings").click()
    rows = sized.locator(".past-row")
    expect(rows).to_have_count(5)
    expect(rows.nth(0)).to_contain_text("5 · Tue, 4 Mar 2031, 23:06")
    expect(rows.nth(0)).to_contain_text("Shell 5")
    expect(rows.nth(0)).to_contain_text("Aborted")
    expect(rows.nth(2)).to_contain_text("Complete")
    expect(rows.nth(2)).to_contain_text("8 h 59 min")
    expect(rows.nth(2)).to_contain_text("peak 727 °C")
    expect(rows.nth(2)).to_contain_text("1 note")
    expect(rows.nth(2).locator(".past-result use")).to_have_attribute("href", "#shape-complete")
    expect(rows.nth(0).locator(".small-line")).to_have_count(1)
    expect(rows.nth(0)).to_be_in_viewport(ratio=1)
    sized.get_by_role("link", name="Now").click()
    expect(sized.locator("#air-label")).to_have_text("Chamber air, °C")


def test_a_firing_shows_its_curve_numbers_stages_and_events(sized: Page, past: Server) -> None:
    sized.goto(f"{past.url}/firings")
    sized.locator("#firing-3").click()
    drawn(sized)
    expect(sized.locator("h1")).to_have_text("Shell 3")
    expect(sized.locator(".past-big").first).to_have_text("727 °C")
    expect(sized.locator(".past-measures").first).to_contain_text("Worst overshoot at a hold1.6 K")
    expect(sized.locator(".past-stages tbody tr")).to_have_count(4)
    expect(sized.locator(".past-events")).to_contain_text("A person is needed, dry through")
    expect(sized.get_by_role("link", name="Report, PDF")).to_have_attribute(
        "href", "/api/firings/3/report.pdf"
    )


def test_a_stage_is_looked_at_closely_down_to_every_tick(phone: Page, past: Server) -> None:
    phone.goto(f"{past.url}/firings/3")
    drawn(phone)
    whole = phone.get_by_role("button", name="Whole firing")
    expect(whole).to_be_hidden()
    with phone.expect_response("**/curve?from=*") as answer:
        phone.get_by_role("button", name=re.compile("Dry through.*look closer")).click()
    steps = answer.value.json()["t_s"]
    assert {b - a for a, b in itertools.pairwise(steps)} == {60.0}
    expect(phone.locator(".past-plot")).to_have_attribute("data-points", str(len(steps)))
    whole.click()
    expect(whole).to_be_hidden()


def test_the_curve_can_be_read_by_the_keyboard_and_lines_hidden(phone: Page, past: Server) -> None:
    phone.goto(f"{past.url}/firings/3")
    drawn(phone)
    phone.locator(".past-plot").focus()
    for _ in range(30):
        phone.keyboard.press("ArrowRight")
    expect(phone.locator(".past-readout")).to_contain_text(", burn out: air ")
    phone.keyboard.press("+")
    expect(phone.get_by_role("button", name="Whole firing")).to_be_visible()
    load = phone.get_by_role("button", name="load")
    expect(load).to_have_attribute("aria-pressed", "true")
    load.click()
    expect(load).to_have_attribute("aria-pressed", "false")


def test_a_stretch_is_drawn_with_the_mouse(pages: dict[str, Page], past: Server) -> None:
    page = pages["desk"]
    page.goto(f"{past.url}/firings/3")
    drawn(page)
    box = page.locator(".past-plot .u-over").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 100, box["y"] + 50)
    page.mouse.down()
    page.mouse.move(box["x"] + 250, box["y"] + 60, steps=4)
    with page.expect_response("**/curve?from=*"):
        page.mouse.up()
    expect(page.get_by_role("button", name="Whole firing")).to_be_visible()


def test_a_note_is_added_and_shown_as_text(sized: Page, past: Server) -> None:
    sized.goto(f"{past.url}/firings/2")
    before = sized.locator(".past-note-list li").count()
    keep = sized.get_by_role("button", name="Keep the note")
    keep.click()
    expect(sized.locator(".past-note-form .answer")).to_have_text("Write something first.")
    sized.fill("#note-text", invented_past.NASTY)
    keep.click()
    expect(sized.locator(".past-note-form .answer")).to_have_text("Kept.")
    expect(sized.locator(".past-note-text").last).to_have_text(invented_past.NASTY)
    expect(sized.locator("#note-text")).to_have_value("")
    assert sized.locator(".past-note-list li").count() >= max(1, before)
    assert sized.locator("main img").count() == 0


def test_names_and_events_are_text_and_never_markup(phone: Page, past: Server) -> None:
    phone.goto(f"{past.url}/firings/4")
    expect(phone.locator("h1")).to_have_text(invented_past.NASTY)
    phone.goto(f"{past.url}/firings")
    expect(phone.locator("#firing-4 .name")).to_have_text(invented_past.NASTY)
    phone.goto(f"{past.url}/firings/5")
    expect(phone.locator(".past-events")).to_contain_text(f"Trip: {invented_past.NASTY}")
    phone.goto(f"{past.url}/firings?compare=4,5")
    expect(phone.locator(".past-compared .name").first).to_have_text(invented_past.NASTY)
    assert phone.locator("main img").count() == 0
    assert phone.title() != "owned"


def test_firings_are_ticked_laid_over_each_other_and_aligned(sized: Page, past: Server) -> None:
    sized.goto(f"{past.url}/firings")
    sized.get_by_role("button", name="Compare").click()
    expect(sized.get_by_role("button", name="Tick two or more")).to_be_disabled()
    for number in (2, 3, 1):
        sized.get_by_label(f"Compare firing {number}").check()
    sized.get_by_role("button", name="Compare 3").click()
    expect(sized.locator("h1")).to_have_text("3 firings compared")
    drawn(sized)
    before = sized.locator(".past-plot canvas").evaluate("node => node.toDataURL()")
    sized.select_option("#align", "the pour")
    expect(sized.locator(".past-says")).to_have_text("Not shown, because it did not come so far: firing 2.")
    assert sized.locator(".past-plot canvas").evaluate("node => node.toDataURL()") != before
    sized.select_option("#align", "stage burn out")
    expect(sized.locator(".past-says")).to_be_hidden()
    sized.locator(".past-front").nth(2).click()
    expect(sized.locator(".past-together .in-front")).to_have_text("3")


def test_of_many_one_is_in_front_and_the_others_are_quiet(
    sized: Page, past: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("web.past.compared.A_FEW", 2)
    sized.goto(f"{past.url}/firings")
    sized.get_by_role("button", name="Compare").click()
    sized.get_by_role("button", name="Tick all of these").click()
    sized.get_by_role("button", name="Compare 5").click()
    expect(sized).to_have_url(f"{past.url}/firings?compare=1-5")
    front = sized.locator(".past-in-front .label")
    expect(front).to_have_text("In front: 5 · Tue, 4 Mar 2031, 23:06")
    drawn(sized)
    expect(sized.get_by_role("button", name="After")).to_be_disabled()
    with sized.expect_response("**/api/firings/4/curve"):  # the one in front comes whole
        sized.get_by_role("button", name="Before").click()
    expect(front).to_contain_text("In front: 4 ")
    expect(sized.locator(".past-together thead")).to_have_text("Firing4lowestmedianhighest")
    firings = sized.request.get(f"{past.url}/api/compare?firings=1-5").json()["firings"]
    least, _, median, _, most = sorted(round(each["measures"]["peak_air_c"]) for each in firings)
    expect(sized.locator(".past-together tbody tr").first).to_have_text(
        f"Peak of the air{most} °C{least} °C{median} °C{most} °C"
    )
    sized.get_by_text("All 5 of them").click()
    sized.get_by_label("Number, date, name or result").fill("complete")
    expect(sized.locator(".past-compared li")).to_have_count(3)
    with sized.expect_response("**/api/firings/3/curve"):
        sized.locator(".past-front", has_text="Shell 3").click()
    expect(front).to_contain_text("In front: 3 ")
    sized.evaluate("scrollTo(0, 0)")
    place = sized.locator(".past-plot .u-over")
    wait_for(place.bounding_box)  # it is drawn anew when that has come
    box = place.bounding_box()
    assert box is not None
    sized.mouse.click(box["x"] + box["width"] * 0.97, box["y"] + box["height"] * 0.06)  # the hottest's end
    expect(front).to_contain_text("In front: 4 ")
    sized.mouse.click(box["x"] + box["width"] * 0.97, box["y"] + box["height"] * 0.9)  # nothing is near
    expect(front).to_contain_text("In front: 4 ")
    assert not sized.evaluate(SIDEWAYS)
    assert sized.evaluate(SMALL) == []


def test_a_casting_is_rated_photographed_and_stands_with_the_others(sized: Page, past: Server) -> None:
    sized.goto(f"{past.url}/firings/3")
    anew = sized.get_by_role("button", name="Rate it anew")
    sized.wait_for_selector(".past-cast")
    if anew.is_visible():
        anew.click()
    sized.get_by_role("button", name="Keep the rating").click()
    expect(sized.locator(".past-cast .answer")).to_contain_text("good, usable or scrap")
    sized.locator(".past-cast .chip", has_text="Usable").click()
    sized.locator(".past-cast .chip", has_text="Misrun").click()
    sized.get_by_label("Another reason").fill(invented_past.NASTY[:40])
    picture = {"name": "cast.jpg", "mimeType": "image/jpeg", "buffer": photograph()}
    sized.locator(".past-cast .photo-button input").set_input_files(picture)  # type: ignore[arg-type]
    assert sized.evaluate(SMALL) == []
    sized.get_by_role("button", name="Keep the rating").click()
    expect(sized.locator(".rated .rating-mark")).to_have_text("Usable")
    expect(sized.locator(".rated")).to_contain_text("misrun, <img src=x")
    expect(sized.locator(".past-photo img").first).to_have_js_property("complete", True)
    sized.get_by_role("link", name="Past firings").click()
    expect(sized.locator("#firing-3 .rating-mark")).to_have_text("Usable")
    sized.get_by_role("link", name="What castings had in common").click()
    expect(sized.locator(".many-says").first).to_contain_text(
        "1 rated (0 good, 1 usable, 0 scrap): all alike"
    )
    expect(sized.locator(".many-table tbody tr").first).to_contain_text("Steepest rise, 80 to 100 °C")
    expect(sized.locator(".many-table tbody tr").first).to_contain_text("°C/h")
    expect(sized.locator("h1")).to_have_text("What castings had in common")


def test_the_kiln_has_a_page_of_its_own(sized: Page, past: Server) -> None:
    sized.goto(f"{past.url}/firings")
    sized.get_by_role("link", name="The kiln itself").click()
    expect(sized.locator("h1")).to_have_text("Shed kiln")
    expect(sized.locator(".past-many")).to_contain_text("times on")
    expect(sized.locator(".scatter-dot")).to_have_count(1)
    axis = [text for text in sized.locator(".scatter-text").all_text_contents() if text.isdigit()]
    assert axis == sorted(set(axis), key=int)  # one firing alone has one number
    assert "4" in axis
    expect(sized.locator(".many-lead").first).to_have_text(
        "1 firing so far: too few to say whether it changes."
    )


@pytest.mark.parametrize(
    "path", ["/firings", "/firings/2", "/firings?compare=1,2,3,4,5", "/firings/common", "/kiln"]
)
def test_no_page_scrolls_sideways_or_is_hard_to_read_or_hit(sized: Page, past: Server, path: str) -> None:
    sized.goto(past.url + path)
    sized.wait_for_selector("html[data-link=live] :is(.past-result, .past-many .title)")
    for scheme in ("light", "dark"):
        sized.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        contrasts = sized.evaluate(CONTRASTS)
        assert len(contrasts) > 10
        assert min(contrasts)[0] >= 7, (path, scheme, min(contrasts))
    assert not sized.evaluate(SIDEWAYS)
    assert sized.evaluate(SMALL) == []


@pytest.mark.parametrize(
    ("size", "path"), [("phone", "/firings"), ("phone", "/firings?compare=1,2"), ("desk", "/firings/2")]
)
def test_abort_is_in_reach_on_every_page(pages: dict[str, Page], past: Server, size: str, path: str) -> None:
    past.controller.renew()
    sized = pages[size]
    sized.goto(past.url + path)
    sized.wait_for_selector("html[data-link=live]")
    abort = sized.locator("#abort")
    expect(abort).to_be_in_viewport(ratio=1)
    expect(sized.locator("#air")).to_have_text("409 °C")
    abort.hover()
    sized.mouse.down()
    expect(sized.locator("#state")).to_have_text("Aborted")
    sized.mouse.up()
    assert past.controller.asked == [{"request": "abort", "by": "page"}]


def test_the_buttons_go_only_when_nothing_runs_for_sure(phone: Page, past: Server, browser: Browser) -> None:
    phone.goto(f"{past.url}/firings")
    past.controller.scene = invented.idle()
    expect(phone.locator("#abort")).to_be_hidden()
    past.controller.silent = True  # nothing ran when it was last heard: who knows what it does now
    phone.wait_for_selector("html[data-link=lost]")
    expect(phone.locator("#abort")).to_be_visible()
    past.controller.silent = False
    phone.wait_for_selector("html[data-link=live]")
    past.controller.scene = invented.alarm()
    expect(phone.locator("#abort")).to_be_visible()
    expect(phone.locator("html")).to_have_attribute("data-tone", "alarm")
    expect(phone.locator("#state-says")).to_have_text(invented.DOOR["says"])
    with browser.new_context(viewport=PHONE) as context:
        lost = context.new_page()
        lost.route("**/api/live", lambda route: route.abort())
        lost.goto(f"{past.url}/firings")
        lost.wait_for_selector("html[data-link=lost]")
        expect(lost.locator("#abort")).to_be_visible()
        expect(lost.locator("#air")).to_be_hidden()
        expect(lost.locator(".past-row")).to_have_count(5)


def test_the_unit_is_the_same_on_every_page(phone: Page, past: Server) -> None:
    phone.goto(f"{past.url}/firings/3")
    expect(phone.locator(".past-big").first).to_have_text("727 °C")
    phone.check("input[value=F]")
    expect(phone.locator(".past-big").first).to_have_text("1340 °F")
    phone.goto(f"{past.url}/firings")
    expect(phone.locator("#firing-3")).to_contain_text("peak 1340 °F")
    phone.check("input[value=C]")
    expect(phone.locator("#firing-3")).to_contain_text("peak 727 °C")


def test_no_such_firing_is_said_on_the_page(phone: Page, past: Server) -> None:
    phone.goto(f"{past.url}/firings/99")
    expect(phone.locator(".past-fault")).to_have_text("There is no firing 99")
    expect(phone.get_by_role("link", name="Past firings")).to_be_visible()
