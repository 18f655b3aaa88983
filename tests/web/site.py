"""Every page of the web process in every state worth a look, on an invented record and controller.

A new page gets a line in `LOOKS`; what must be true of all pages (axe's rules, the size of the first load,
the keyboard) is then held for it too, by tests/web/test_browser_quality.py and by `make bench`.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

import uvicorn
from playwright.sync_api import Page

from controller.live import Frame
from controller.record.write_devices import pair_device
from tests.web import invented, invented_estimates, invented_past
from tests.web.conftest import Server
from tests.web.fake_controller import FakeController
from web.app import build_app
from web.build_assets import WEB
from web.serve import bind

AXE = WEB / "node_modules" / "axe-core" / "axe.min.js"
# Which of axe's rules are asked: WCAG 2.2 up to AA, and axe's own best practices.
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
ASK_AXE = """
rules => axe.run(document, {runOnly: rules, resultTypes: ["violations"]}).then((told) => told.violations)
"""


class Look(NamedTuple):
    """A page in a state: its address, what the controller does, when it is there, what a person then does.

    `stranger`: seen by a device that is not paired.
    """

    name: str
    path: str
    scene: Callable[[], Frame]
    ready: str
    act: Callable[[Page], object] | None = None
    stranger: bool = False


LOOKS = (
    Look("running", "/", invented.running, "#plot canvas"),
    Look("idle", "/", invented.idle, "html[data-state=idle]"),
    Look("checkpoint", "/", invented.checkpoint, "html[data-tone=person]"),
    Look("alarm", "/", invented.alarm, "html[data-tone=alarm]"),
    Look("tripped", "/", invented.tripped, "html[data-tone=alarm]"),
    Look("complete", "/", invented.complete, "#result:not([hidden])"),
    Look("code asked", "/", invented.held, "#resume:not([hidden])", lambda page: page.click("#resume")),
    Look("abort asked", "/", invented.running, "#plot canvas", lambda page: page.click("#abort")),
    Look("list", "/firings", invented.running, ".small-line"),
    Look("one firing", "/firings/3", invented.running, ".past-plot canvas"),
    Look("compared", "/firings?compare=1,2,3", invented.running, ".past-plot canvas"),
    Look("common", "/firings/common", invented.running, "main h1"),
    Look("the kiln", "/kiln", invented.running, "main h1"),
    Look("start", "/start", invented.idle, "main h1"),
    Look("schedules", "/schedules", invented.idle, "main h1"),
    Look("a schedule", "/schedules/printed-pla-silica-shell", invented.idle, "main canvas"),
    Look("a new schedule", "/schedules?new", invented.idle, "main canvas"),
    Look("pairing", "/pair", invented.idle, "main h1", stranger=True),
    Look("paired anew", "/pair#a-link", invented.running, "html[data-link=live]"),
    Look("devices", "/devices", invented.running, "#devices li"),
    Look("shut out", "/devices", invented.idle, "#devices li", lambda page: page.click("#devices button")),
    Look("no such firing", "/firings/99", invented.idle, ".past-fault"),
)


@contextmanager
def site(home: Path, firings: int = 5) -> Iterator[Server]:
    """Serve every page on a free port: a record of invented firings, a controller that plays scenes."""
    invented_past.write(
        home / "record.db", firings, title=lambda n: invented_past.NASTY if n == 4 else f"Shell {n}"
    )
    pair_device(home / "record.db", "Ada's phone", "watcher", "0" * 64, 2e9)
    listener = bind(0)
    app = build_app(home / "channel.sock", home / "record.db", run=invented_estimates.run)
    running = uvicorn.Server(
        uvicorn.Config(app, log_config=None, access_log=False, timeout_graceful_shutdown=1)
    )
    with FakeController(home / "channel.sock") as controller:
        thread = threading.Thread(target=running.run, args=([listener],), daemon=True)
        thread.start()
        try:
            yield Server(f"http://127.0.0.1:{listener.getsockname()[1]}", controller)
        finally:
            controller.die()
            running.should_exit = True
            thread.join(5)
            listener.close()


def take(page: Page, server: Server, look: Look) -> None:
    """Bring the page into a state, and wait until it shows it. It is opened anew only where it must be."""
    server.controller.renew()
    server.controller.scene = look.scene()
    page.unroute("**/api/device")
    if look.stranger:
        page.route("**/api/device", lambda route: route.fulfill(json={"name": "", "role": "anyone"}))
    if page.url != server.url + look.path or look.stranger or page.locator("dialog[open]").count():
        if "#" in look.path:  # what stands behind it would only be gone to
            page.goto("about:blank")
        page.goto(server.url + look.path)
    if look.path == "/":
        page.wait_for_selector(f"html[data-link=live][data-state={server.controller.scene['state']}]")
    page.wait_for_selector(look.ready, state="attached")
    if not look.stranger:  # what comes last moves the rest a little
        page.wait_for_selector(".seen-box", state="attached")
    if look.act is not None:
        look.act(page)


def violations(page: Page) -> list[str]:
    """Return what axe finds wrong with the page as it stands: rule, impact, and where."""
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate(ASK_AXE, RULES)
    return [
        f"{rule['id']} ({rule['impact']}): {json.dumps([node['target'] for node in rule['nodes'][:3]])}"
        for rule in found
    ]
