"""How long the page's server needs for ten years of past firings: the list, and a curve.

Ten years are 2500 firings (250 a year) of 12 hours with one tick a second: 108 million ticks, which is a
record of about 40 GB. The record made here has all 2500 firings; every 250th of them is whole (43 200 ticks)
and the others have 120 ticks each: 730 000 ticks. What is measured does not depend on the rest: the list
reads no ticks once a summary is kept, and a curve reads one firing's ticks, which lie side by side.

`web.list_ms_10y` is the slowest of all fifty pages of the list, summaries kept; `web.list_cold_ms_10y` the
slowest with none kept, while they are made in the background. `web.curve_ms_10y` is the slowest of the ten
whole firings' curves, each read for the first time; `web.zoom_ms_10y` a stretch of one that was just seen.
Every firing has what people see of one: ten ticks of a list, cracks, plastic, a rating, a job sheet, and two
photographs. `web.firing_ms_10y` is the slowest of the ten whole firings' pages, just after their curves;
`web.common_ms_10y` all rated castings side by side, `web.kiln_ms_10y` the kiln's own ageing, summaries kept;
`web.compare_200_ms_10y` two hundred firings laid over each other, `web.compare_all_ms_10y` all of them.
All through the application itself, with its gate and its compression, without a network.
"""

from __future__ import annotations

import asyncio
import json
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import httpx

from controller.record.journal import SQL
from controller.record.opening import open_to_write
from controller.record.rows import FiringRow, TickRow
from tests.web.invented_past import KILN, WITH_A_STOP
from web.app import build_app

FIRINGS = 2500
WHOLE_EACH = 250
WHOLE_TICKS, FEW_TICKS = 43_200, 120
PHOTO_BYTES = 20_000  # a tenth of a real one: the list must not read them, whatever they are
OBSERVATION = 'INSERT INTO observation (firing, utc_s, "by", stage, kind, fields) VALUES (?, ?, ?, ?, ?, ?)'
JOB = 'INSERT INTO job (firing, utc_s, "by", text) VALUES (?, ?, ?, ?)'
PHOTO = (
    'INSERT INTO photo (firing, utc_s, "by", stage, "of", caption, media_type, width_px, height_px, image)'
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
# What a tick keeps beside its numbers, as long as in a firing of the demo.
PROGRESS, SEEN = '{"elapsed_s": 20867.23, "clock_s": 3491.61}' + " " * 40, '{"told":[2.0]}' + " " * 210


def measure() -> dict[str, float]:
    """Make the record, ask for everything, and return milliseconds."""
    with tempfile.TemporaryDirectory() as folder:
        record = Path(folder) / "record.db"
        _make(record)
        return asyncio.run(_ask(record))


async def _ask(record: Path) -> dict[str, float]:
    app = build_app(record.parent / "nobody.sock", record)
    transport = httpx.ASGITransport(app=app)
    async with httpx.AsyncClient(transport=transport, base_url="http://localhost", timeout=60) as client:

        async def took_ms(path: str) -> float:
            began_s = time.perf_counter()
            answer = await client.get(path)
            assert answer.status_code == 200, answer.text[:200]
            assert len(answer.content) > 1000, path
            return (time.perf_counter() - began_s) * 1e3

        pages = ["/api/firings", *(f"/api/firings?before={n}" for n in range(FIRINGS - 49, 1, -50))]
        cold = [await took_ms(path) for path in pages]
        await _until_kept(client, pages)
        lists = [await took_ms(path) for path in pages]
        whole = range(WHOLE_EACH, FIRINGS + 1, WHOLE_EACH)
        curves = [await took_ms(f"/api/firings/{n}/curve") for n in whole]
        pages_ms = [await took_ms(f"/api/firings/{n}") for n in whole]
        common = [await took_ms("/api/common") for _ in range(3)]
        kiln = [await took_ms("/api/kiln") for _ in range(3)]
        laid_over = [await took_ms(f"/api/compare?firings=1-{n}") for n in (200, FIRINGS)]
        zooms = [await took_ms(f"/api/firings/{FIRINGS}/curve?from={s}&to={s + 600}") for s in (0, 9e3, 4e4)]
    return {
        "web.list_ms_10y": max(lists),
        "web.list_cold_ms_10y": max(cold),
        "web.curve_ms_10y": max(curves),
        "web.zoom_ms_10y": max(zooms),
        "web.firing_ms_10y": max(pages_ms),
        "web.common_ms_10y": max(common),
        "web.kiln_ms_10y": max(kiln),
        "web.compare_200_ms_10y": laid_over[0],
        "web.compare_all_ms_10y": laid_over[1],
    }


async def _until_kept(client: httpx.AsyncClient, pages: list[str]) -> None:
    """Wait until every page has its small curves."""
    for path in pages:
        while any(each["summary"] is None for each in (await client.get(path)).json()["firings"]):
            await asyncio.sleep(0.2)


def _make(record: Path) -> None:
    open_to_write(record).dispose()
    with closing(sqlite3.connect(record)) as connection, connection:
        connection.execute("PRAGMA synchronous = OFF")
        for number in range(1, FIRINGS + 1):
            began_s = 1.6e9 + number * 126_000.0
            ticks = WHOLE_TICKS if number % WHOLE_EACH == 0 else FEW_TICKS
            begin = FiringRow(
                began_s, 0.0, f"Firing {number}", WITH_A_STOP, "pla.toml", "Kiln", KILN, "0", 1.0, False
            )
            connection.execute(SQL["begin"], (number, *begin))
            connection.executemany(SQL["tick"], _ticks(number, began_s, ticks))
            connection.execute(SQL["end"], (began_s + 43_200.0, 43_200.0, "complete", number))
            connection.execute(SQL["note"], (number, began_s, "page", "A hairline crack, patched."))
            _told(connection, number, began_s)


def _told(connection: sqlite3.Connection, number: int, began_s: float) -> None:
    """What people said of a firing."""
    rating = {"rating": ("good", "good", "usable", "scrap")[number % 4], "reasons": ["crack"]}
    said: list[tuple[int | None, str, dict[str, object]]] = [
        *((2, "tick", {"says": f"Line {n} of the list", "done": True}) for n in range(10)),
        (2, "crack", {"how_many": number % 5, "where": "rim", "patched": True}),
        (2, "drained", {"kg": 0.3}),
        (None, "rating", rating),
    ]
    rows = [(number, began_s, "page", stage, kind, json.dumps(fields)) for stage, kind, fields in said]
    connection.executemany(OBSERVATION, rows)
    connection.execute(JOB, (number, began_s, "page", 'title = "Otter, left half"\n[shell]\ncoats = 9\n'))
    photo = (number, began_s, "page", 2, "crack", "", "image/jpeg", 1600, 1200, bytes(PHOTO_BYTES))
    connection.executemany(PHOTO, [photo, photo])


def planned_c(t_s: float) -> float:
    return 20.0 + 795.0 * min(1.0, max(0.0, t_s) / 24_000.0)


def _ticks(number: int, began_s: float, ticks: int) -> Iterator[tuple[object, ...]]:
    step_s = WHOLE_TICKS / ticks
    for n in range(ticks):
        t_s = n * step_s
        air_c = planned_c(t_s) + ((n * 7919) % 13) * 0.2
        tick = TickRow(
            n, t_s, began_s + t_s, "running", min(4, int(t_s // 6000)), planned_c(t_s), air_c,
            planned_c(t_s - 300.0), air_c + 1.0, "", "door=1 emergency_stop=1 extraction=1 key=1", 0.4,
            n % 3 == 0, 3.0, True, "", False, PROGRESS, SEEN,
        )  # fmt: skip
        yield (number, *tick)
