"""What must be true of every page: axe's rules, contrast, size, keyboard, quiet motion, language and clock.

The pages and states are in `site.LOOKS`. What takes a stopwatch is in `make bench` (subject `page`).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Request, expect
from starlette.routing import Route

from tests.web import invented, invented_past
from tests.web.conftest import PHONE, SIZES, Server
from tests.web.site import AXE, LOOKS, Look, site, take, violations
from tests.web.test_browser_now import CONTRASTS
from web.app import build_app

pytestmark = [pytest.mark.browser, pytest.mark.wire]

# The whole first load of a page, compressed: four seconds at 0.3 Mbit/s, the worst that a workshop has.
LARGEST_LOAD_KIB = 150.0
CONTRAST = 7.0  # WCAG 2.2, 1.4.6 (AAA): a phone in the sun needs it
# Each page once, while a firing runs: what does not depend on the state.
PAGES = tuple(
    {look.path: look._replace(scene=invented.running, act=None) for look in reversed(LOOKS)}.values()
)
BY_PATH = {look.path: look for look in PAGES}
BY_NAME = {look.name: look for look in LOOKS}

# What has the focus: itself, whether it can be seen, whether it differs from when it has no focus.
FOCUSED = """
() => {
  const node = document.activeElement;
  if (!node || node === document.body) return null;
  const shown = (node.matches("input[type=radio], input[type=checkbox]") && node.closest("label")) || node;
  const box = shown.getBoundingClientRect();
  const top = document.elementFromPoint(box.left + box.width / 2, box.top + Math.min(box.height / 2, 20));
  const stops = window.stops ??= [];
  const ring = ({ outlineWidth, outlineStyle }) => parseFloat(outlineWidth) >= 2 && outlineStyle !== "none";
  const found = {
    id: node.id || node.getAttribute("name") || node.textContent.trim().slice(0, 24),
    again: stops.includes(node),
    after: stops.every((one) => one.compareDocumentPosition(node) & Node.DOCUMENT_POSITION_FOLLOWING),
    seen: box.width > 0 && box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth,
    free: top !== null && (shown.contains(top) || top.contains(shown)),
    ringed: ring(getComputedStyle(node)) || ring(getComputedStyle(shown)),
  };
  stops.push(node);
  return found;
}
"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with site(tmp_path_factory.mktemp("site")) as served:
        yield served


@pytest.fixture(scope="module")
def phone(browser: Browser) -> Iterator[Page]:
    """One window for all that does not change it."""
    with browser.new_context(viewport=PHONE, locale="en-GB") as context:
        context.set_default_timeout(8000)
        yield context.new_page()


def test_every_page_has_a_look(tmp_path: Path) -> None:
    app = build_app(tmp_path / "nobody.sock", tmp_path / "record.db")
    pages = [each for each in app.routes if isinstance(each, Route) and not each.include_in_schema]
    assert len(pages) >= 10
    for page in pages:
        assert any(page.path_regex.match(look.path.split("?")[0]) for look in LOOKS), page.path


@pytest.mark.skipif(not AXE.exists(), reason="needs axe-core: make web/node_modules/ready-tests")
@pytest.mark.timeout(180)  # every page in every state: twenty seconds on two idle cores
@pytest.mark.parametrize(("size", "scheme"), [("phone", "light"), ("desk", "dark")])
def test_axe_finds_nothing_and_every_text_has_contrast(
    browser: Browser, server: Server, size: str, scheme: str
) -> None:
    found: dict[str, list[str]] = {}
    with browser.new_context(viewport=SIZES[size], color_scheme=scheme) as context:  # type: ignore[arg-type]
        context.set_default_timeout(8000)
        page = context.new_page()
        for look in LOOKS:
            take(page, server, look)
            found[look.name] = violations(page) if size == "phone" else []  # at a desk too: `make bench`
            found[look.name] += [
                f"contrast {by:.1f}: {what}" for by, what in page.evaluate(CONTRASTS) if by < CONTRAST
            ]
    assert found == {look.name: [] for look in LOOKS}


def test_axe_is_asked_in_earnest(phone: Page, server: Server) -> None:
    take(phone, server, PAGES[0])
    phone.evaluate(
        "() => { document.getElementById('abort').replaceChildren(); document.documentElement.lang = ''; }"
    )
    rules = {told.split(" ")[0] for told in violations(phone)}
    assert {"button-name", "html-has-lang"} <= rules


@pytest.mark.parametrize("path", ["/", "/firings/3", "/start", "/schedules/printed-pla-silica-shell"])
def test_the_first_load_is_small(browser: Browser, server: Server, path: str) -> None:
    loaded: dict[str, int] = {}

    def note(request: Request) -> None:
        sizes = request.sizes()
        loaded[request.url] = sizes["responseBodySize"] + sizes["responseHeadersSize"]

    with browser.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.on("requestfinished", note)
        take(page, server, BY_PATH[path])
        page.wait_for_timeout(200)
    assert any(url.endswith("uPlot.iife.min.js") for url in loaded) or path == "/start"
    assert all(url.startswith(server.url) for url in loaded), "the page asks nobody else for anything"
    assert sum(loaded.values()) / 1024.0 < LARGEST_LOAD_KIB, loaded


@pytest.mark.parametrize("look", PAGES, ids=[look.path for look in PAGES])
def test_the_keyboard_gets_everywhere_in_order_and_sees_where_it_is(
    phone: Page, server: Server, look: Look
) -> None:
    take(phone, server, look)
    phone.evaluate("() => { window.scrollTo(0, 0); window.stops = []; }")
    ids = []
    for _ in range(60):
        phone.keyboard.press("Tab")
        at = phone.evaluate(FOCUSED)
        if at is None or at["again"]:
            break
        ids.append(at["id"])
        assert at["after"], ids
        assert at["seen"], f"{at['id']} has the focus and cannot be seen"
        assert at["free"], f"{at['id']} has the focus and lies under something"
        assert at["ringed"], f"{at['id']} has the focus and does not show it"
    assert ("abort" in ids) == (not look.stranger)


def test_abort_is_two_keys_away_and_takes_the_same_deliberate_press(phone: Page, server: Server) -> None:
    for path in ("/", "/firings", "/start"):
        take(phone, server, BY_PATH[path])
        phone.evaluate("() => document.activeElement.blur()")
        phone.keyboard.press("Tab")
        expect(phone.locator(".skip")).to_be_focused()
        phone.keyboard.press("Enter")
        expect(phone.locator("#abort")).to_be_focused()
        phone.keyboard.press("Space")  # a short one asks
        expect(phone.locator("#abort-dialog")).to_be_visible()
        phone.keyboard.press("Escape")
        expect(phone.locator("#abort-dialog")).to_be_hidden()
        expect(phone.locator("#abort")).to_be_focused()
        assert server.controller.asked == []
        phone.keyboard.down("Enter")
        expect(phone.locator("#state")).to_have_text("Aborted")
        phone.keyboard.up("Enter")
        assert server.controller.asked == [{"request": "abort", "by": "page"}]


def test_who_wants_less_motion_gets_steps_and_no_gliding(browser: Browser, server: Server) -> None:
    moving = "() => document.getAnimations().map((a) => a.effect.getTiming().easing)"
    eased: dict[str, list[str]] = {}
    for wish in ("no-preference", "reduce"):
        with browser.new_context(viewport=PHONE, reduced_motion=wish) as context:  # type: ignore[arg-type]
            page = context.new_page()
            take(page, server, BY_NAME["running"])
            assert page.evaluate(moving) == []  # nothing moves by itself, whoever looks
            page.locator("#abort").hover()
            page.mouse.down()
            eased[wish] = page.evaluate(moving)
            page.mouse.move(1, 1)
            page.mouse.up()
            assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    assert eased["no-preference"] == ["linear"]
    assert eased["reduce"]
    assert all(each.startswith("steps") for each in eased["reduce"])


def test_times_and_numbers_are_the_devices_own_and_words_say_their_language(
    browser: Browser, server: Server
) -> None:
    with browser.new_context(viewport=PHONE, locale="de-AT", timezone_id="Asia/Kolkata") as context:
        page = context.new_page()
        take(page, server, BY_NAME["list"])
        assert page.evaluate("document.documentElement.lang") == "en"
        began = page.evaluate(
            "s => new Intl.DateTimeFormat([], {hour: 'numeric', minute: '2-digit'}).format(s * 1000)",
            invented_past.BEGAN_UTC_S + 5 * 86_400.0,
        )
        expect(page.locator(".past-row").first).to_contain_text(began)
        expect(page.locator(".past-row").first).not_to_contain_text("23:06")  # which it is in UTC
        take(page, server, BY_NAME["one firing"])
        expect(page.locator(".past-measures").first).to_contain_text("1,6\u00a0K")
