"""The page as a phone has it: how much comes, how soon a number is there, what axe finds, who else notices.

In Chromium at 390 x 844, axe at 1280 x 800 too. Loads and axe: an invented controller; the rest: a real one.

    web.first_load_kib     everything of a first visit to the first page: compressed, with headers
    web.first_reading_ms   from the navigation's start to the first temperature on the screen, nothing cached,
                           1.6 Mbit/s, 150 ms, the processor four times slower; the median of nine
    web.first_live_ms      the same until the page itself hears the controller: the number is no more grey
    web.axe_violations     of every look in tests/web/site.py, both sizes, light and dark
    web.tick_to_screen_ms_p95      from a tick's beginning on the controller's clock to its frame painted
    web.tick_p99_ratio_40_viewers  from a tick's beginning until its frame is at the local channel: the 99th
                           percentile with forty event streams open over that with none, in turns
"""

from __future__ import annotations

import asyncio
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser, Page, Request, sync_playwright

from controller import channel_client
from tests.processes.conftest import House
from tests.web.conftest import CHROMIUM, PHONE, QUIET, SIZES, Server
from tests.web.site import LOOKS, site, take, violations

# 1.6 Mbit/s both ways and 150 ms there and back; four times slower than this computer.
NETWORK = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 1.6e6 / 8,
    "uploadThroughput": 1.6e6 / 8,
}
SLOWER = 4
LOADS = 9
TICK_S = 0.25  # quicker than any kiln's, so that a minute holds enough of them
WATCHED_S = 45.0
VIEWERS = 40
TURNS, TURN_S = 5, 15.0

# When a temperature first stands on the screen, and when it is live: told after that painting.
FIRST = """
window.first = {};
const look = () => {
  const number = /\\d/.test(document.getElementById("air")?.textContent ?? "");
  const live = number && document.documentElement.dataset.link === "live";
  setTimeout(() => {
    if (number) window.first.reading ??= performance.now();
    if (live) window.first.live ??= performance.now();
  });
  if (!live) requestAnimationFrame(look);
};
look();
"""
# Each frame's tick time, and this computer's date and time in ms after it was painted.
PAINTED = """
window.painted = [];
const Source = window.EventSource;
window.EventSource = class extends Source {
  constructor(...about) {
    super(...about);
    super.addEventListener("frame", (event) => {
      const { n, mono_s } = JSON.parse(event.data);
      requestAnimationFrame(() => setTimeout(() => window.painted.push([n, mono_s, Date.now()])));
    });
  }
};
"""


def measure() -> dict[str, float]:
    """Measure everything; needs Chromium and axe-core."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=list(QUIET))
        with tempfile.TemporaryDirectory() as home, site(Path(home)) as server:
            readings, lives = zip(*(first_ms(browser, server) for _ in range(LOADS)), strict=True)
            measured = {
                "web.first_load_kib": first_load_kib(browser, server),
                "web.first_reading_ms": statistics.median(readings),
                "web.first_live_ms": statistics.median(lives),
                "web.axe_violations": float(sum(map(len, axe(browser, server).values()))),
            }
        with a_firing() as house:
            to_screen_ms = tick_to_screen_ms(browser, house)
            measured["web.tick_to_screen_ms_p95"] = float(np.percentile(to_screen_ms, 95))
        browser.close()
    with a_firing() as house:
        measured["web.tick_p99_ratio_40_viewers"] = ratio(house)
    return measured


@contextmanager
def a_phone(browser: Browser) -> Iterator[Page]:
    """Open a window that has nothing in its cache."""
    with browser.new_context(viewport=PHONE) as context:
        context.set_default_timeout(60_000)
        yield context.new_page()


def first_load_kib(browser: Browser, server: Server) -> float:
    """Return what a first visit takes: all answers, as they came, with their headers."""
    took: list[int] = []

    def note(request: Request) -> None:
        sizes = request.sizes()
        took.append(sizes["responseBodySize"] + sizes["responseHeadersSize"])

    server.controller.renew()
    with a_phone(browser) as page:
        page.on("requestfinished", note)
        page.goto(server.url)
        page.wait_for_selector("#plot canvas")
        page.wait_for_timeout(1000)
    return sum(took) / 1024.0


def first_ms(browser: Browser, server: Server) -> tuple[float, float]:
    """Return the times to the first temperature, and to a live one, on a slow phone in a bad network."""
    server.controller.renew()
    with a_phone(browser) as page:
        line = page.context.new_cdp_session(page)
        line.send("Network.enable")
        line.send("Network.emulateNetworkConditions", NETWORK)
        line.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        page.add_init_script(FIRST)
        page.goto(server.url, wait_until="commit")
        page.wait_for_function("() => window.first.live")
        first = page.evaluate("window.first")
        return first["reading"], first["live"]


def axe(browser: Browser, server: Server) -> dict[str, list[str]]:
    """Return what axe finds, by size, scheme and look."""
    found: dict[str, list[str]] = {}
    for size, viewport in SIZES.items():
        for scheme in ("light", "dark"):
            with browser.new_context(viewport=viewport, color_scheme=scheme) as context:  # type: ignore[arg-type]
                context.set_default_timeout(60_000)
                page = context.new_page()
                for look in LOOKS:
                    take(page, server, look)
                    found[f"{size}, {scheme}: {look.name}"] = violations(page)
    return found


@contextmanager
def a_firing() -> Iterator[House]:
    """Run a simulated kiln in real time, a real controller with quick ticks and a server, and fire."""
    with tempfile.TemporaryDirectory() as home:
        house = House(Path(home), speed=1.0)
        try:
            text = house.config.read_text()
            for key, old, new in (
                ("tick", "2 s", f"{TICK_S:g} s"),
                ("lease", "6 s", f"{3 * TICK_S:g} s"),
                ("timeout", "300 ms", "100 ms"),
            ):
                assert f'{key} = "{old}"' in text
                text = text.replace(f'{key} = "{old}"', f'{key} = "{new}"')
            house.config.write_text(text)
            house.start("--port", str(house.page_port), name="run")
            house.fire()
            _until(lambda: _answers(house.page_port))
            yield house
        finally:
            house.end()


def tick_to_screen_ms(browser: Browser, house: House) -> list[float]:
    """Return, for each tick in a while, the time from its beginning to after its frame was painted."""
    with a_phone(browser) as page:
        page.add_init_script(PAINTED)
        page.goto(f"http://127.0.0.1:{house.page_port}/")
        page.wait_for_selector("#plot canvas")
        page.wait_for_timeout(1e3 * WATCHED_S)
        painted = page.evaluate("window.painted")
    ahead_s = time.time() - time.monotonic()
    first = {}
    for n, mono_s, at_ms in painted:
        first.setdefault(n, at_ms - 1e3 * (mono_s + ahead_s))
    assert len(first) > 0.5 * WATCHED_S / TICK_S
    return list(first.values())


def ratio(house: House) -> float:
    """Return the 99th percentile of the ticks with forty viewers, over that of those with none."""
    took_ms: dict[int, list[float]] = {0: [], VIEWERS: []}
    for _ in range(TURNS):
        for viewers in took_ms:
            with watching(house.page_port, viewers):
                took_ms[viewers] += asyncio.run(ticks_ms(house.home / "channel.sock"))
    p99 = {viewers: float(np.percentile(kept, 99)) for viewers, kept in took_ms.items()}
    print(f"  ticks, 99th percentile: {p99[0]:.1f} ms without, {p99[VIEWERS]:.1f} ms with {VIEWERS} viewers")
    return p99[VIEWERS] / p99[0]


async def ticks_ms(channel: Path) -> list[float]:
    """Return, for each tick of a turn, the time from its beginning until its frame is here."""
    seen: dict[int, float] = {}
    end_s = time.monotonic() + TURN_S
    async for frame in channel_client.frames(channel):
        now_s = time.monotonic()
        seen.setdefault(frame["n"], 1e3 * (now_s - frame["mono_s"]))
        if now_s > end_s:
            break
    return list(seen.values())[1:]  # the first may be older than this turn


@contextmanager
def watching(port: int, viewers: int) -> Iterator[None]:
    """Keep so many event streams open, read in a process of their own."""
    if not viewers:
        yield
        return
    with subprocess.Popen(
        [sys.executable, "-m", "tests.bench.page", str(port), str(viewers)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "all here\n"
        try:
            yield
        finally:
            process.terminate()


async def view(port: int, viewers: int) -> None:
    """Open the streams and read them for ever."""

    asks = f"GET /api/live HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nAccept-Encoding: gzip\r\n\r\n".encode()

    async def one() -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(asks)
        await reader.readuntil(b"\r\n\r\n")
        here.release()
        while await reader.read(65536):
            pass

    here = asyncio.Semaphore(0)
    streams = [asyncio.create_task(one()) for _ in range(viewers)]
    for _ in streams:
        await here.acquire()
    print("all here", flush=True)
    await asyncio.gather(*streams)
    raise AssertionError("the streams ended")


def _answers(port: int) -> bool:
    with socket.socket() as asks:
        return asks.connect_ex(("127.0.0.1", port)) == 0


def _until(true: Callable[[], bool], within_s: float = 20.0) -> None:
    end_s = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < end_s, "it did not come about in time"
        time.sleep(0.02)


if __name__ == "__main__":
    asyncio.run(view(int(sys.argv[1]), int(sys.argv[2])))
