"""A fake controller, the application in front of it, and a real server on a free port."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, Page, ViewportSize, sync_playwright

from controller.record.opening import open_to_write
from tests.web import invented, invented_estimates
from tests.web.fake_controller import FakeController
from web import curves, hub
from web.alerts.watch import Watch
from web.app import build_app
from web.serve import bind, settings


@dataclass
class Server:
    """A running page, and the controller behind it."""

    url: str
    controller: FakeController
    alerts: Watch | None = None


@pytest.fixture
def controller(tmp_path: Path) -> Iterator[FakeController]:
    with FakeController(tmp_path / "channel.sock") as fake:
        yield fake


@pytest.fixture(scope="session")
def blank_record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record without anything in it: making one anew takes a third of a second."""
    record = tmp_path_factory.mktemp("blank") / "record.db"
    open_to_write(record).dispose()
    return record


@pytest.fixture
def blank_home(tmp_path: Path, blank_record: Path) -> Path:
    """A home folder with a blank record in it."""
    shutil.copyfile(blank_record, tmp_path / "record.db")
    return tmp_path


@pytest.fixture(scope="module")
def long_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The page on a free port, with an invented record and an invented library of schedules."""
    home = tmp_path_factory.mktemp("home")
    listener = bind(0)
    app = build_app(home / "channel.sock", home / "record.db", run=invented_estimates.run)
    config = settings(app)
    config.timeout_graceful_shutdown = 1
    running = uvicorn.Server(config)
    with pytest.MonkeyPatch.context() as patch, FakeController(home / "channel.sock") as controller:
        patch.setattr(curves, "so_far", lambda record, firing, frame: invented.curve(firing=firing))
        patch.setattr(hub, "RETRY_S", 0.1)
        thread = threading.Thread(target=running.run, args=([listener],), daemon=True)
        thread.start()
        server = Server(f"http://127.0.0.1:{listener.getsockname()[1]}", controller, app.state.alerts)
        yield server
        server.controller.die()
        running.should_exit = True
        thread.join(5)
        listener.close()


@pytest.fixture
def server(long_server: Server) -> Server:
    """The same server for a whole file, with a controller that is as good as new."""
    if not long_server.controller.alive:
        long_server.controller = FakeController(long_server.controller.path).__enter__()
    long_server.controller.renew()
    return long_server


def wait_for(true: object, within_s: float = 5.0) -> None:
    """Wait until `true()` holds; fail when it does not in time."""
    assert callable(true)
    end_s = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < end_s, "it did not come true in time"
        time.sleep(0.02)


PHONE: ViewportSize = {"width": 390, "height": 844}
SIZES: dict[str, ViewportSize] = {"phone": PHONE, "desk": {"width": 1280, "height": 800}}
CHROMIUM = Path("/usr/bin/chromium")
QUIET = ("--no-sandbox", "--disable-background-networking", "--disable-component-update", "--disable-sync")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    if not CHROMIUM.exists():
        pytest.skip(f"no browser at {CHROMIUM}")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=str(CHROMIUM), args=list(QUIET))
        yield opened
        opened.close()


@pytest.fixture
def page(browser: Browser, server: Server, opened: dict[str, Page]) -> Page:
    """The page on a phone, live and running."""
    return as_new(opened, browser, server, "phone")


@pytest.fixture(params=["phone", "desk"])
def sized_page(
    browser: Browser, server: Server, opened: dict[str, Page], request: pytest.FixtureRequest
) -> Page:
    """The page on a phone, and on a desk."""
    return as_new(opened, browser, server, request.param)


@pytest.fixture(scope="module")
def opened(browser: Browser) -> Iterator[dict[str, Page]]:
    """Pages that are open already, by their size: opening one anew would cost most of a test's time.

    A fault in the page's scripts, or a breach of its own policy, fails the file's last test.
    """
    pages: dict[str, Page] = {}
    faults.clear()
    yield pages
    for each in pages.values():
        each.context.close()
    assert faults == []


faults: list[str] = []


def as_new(opened: dict[str, Page], browser: Browser, server: Server, size: str) -> Page:
    """Return the open page of this size as if it had just been opened."""
    if size not in opened:
        opened[size] = watched_page(browser, server, SIZES[size])
    page = opened[size]
    page.unroute_all()
    page.context.set_offline(False)
    page.evaluate(AS_NEW)
    page.wait_for_selector("html[data-link=live][data-state=running][data-tone=quiet]")
    return page


# The unit, open questions, old answers, the place on the page and the focus.
AS_NEW = """() => {
  document.querySelector("input[value=C]").click();
  document.querySelectorAll("dialog").forEach((dialog) => dialog.close());
  document.querySelectorAll("input[name=code]").forEach((input) => { input.value = ""; });
  document.getElementById("answer").hidden = true;
  document.activeElement.blur();
  window.scrollTo(0, 0);
}"""


def watched_page(browser: Browser, server: Server, size: ViewportSize) -> Page:
    """Open the page and note what goes wrong in it."""
    context = browser.new_context(viewport=size, locale="en-GB")
    context.set_default_timeout(8000)
    page = context.new_page()
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: faults.append(said.text) if "Content Security" in said.text else None)
    page.goto(server.url)
    return page
