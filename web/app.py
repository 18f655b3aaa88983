"""The web process' application: the page, the live stream, the curve so far, and requests passed on.

    GET  /                      the page
    GET  /static/...            its parts
    GET  /api/live              server-sent events: `frame` (live.Frame) or `lost`
    GET  /api/curve             the present firing's measured curve, thinned
    GET  /api/health            whether this process and the controller are alive
    ...  /api/alerts            who is told of what: see web/alerts/routes.py
    POST /api/requests/{kind}   a request, passed on to the controller
    ...  /firings, /api/firings past firings: see web/past/routes.py
    ...  .../checklist, /api/photos  what people saw: see web/observations/routes.py
    ...  /api/forecast, /api/estimates  what is estimated: see web/estimates/routes.py
    ...  /start, /schedules, /api/schedules, /api/job: see web/schedules/routes.py
    ...  /pair, /devices        who may look from afar: see web/pairing/routes.py

It decides nothing: whether a request may be carried out, and whether its code is right, is for the
controller to say. Every answer that is no success is one line of JSON, {"ok": false, "says": ...}.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Annotated, Any, cast, get_args

import anyio
from annotated_types import Interval, Len
from fastapi import FastAPI, HTTPException, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse
from fastapi.staticfiles import StaticFiles
from pydantic import BaseModel, ConfigDict, StringConstraints
from sse_starlette import EventSourceResponse
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request as HttpRequest

from controller.channel_client import ChannelClient
from controller.errors import ChannelError
from controller.live import Reply, Request, RequestKind
from controller.record.jobs import LONGEST_JOB
from web import curves
from web.alerts.routes import add_alerts
from web.alerts.watch import Watch
from web.answers import says
from web.estimates.renewal import Renewal
from web.estimates.routes import NAME_OR_TEXT, add_estimates
from web.estimates.worker import Run, Worker
from web.front import front_page
from web.hub import Hub
from web.network import HERE_ONLY, Network
from web.observations.routes import add_observations
from web.pairing.caller import by
from web.pairing.holders import Holders
from web.pairing.routes import add_pairing
from web.past.routes import add_past
from web.safety import Gate
from web.schedule_diary import RecordDiary
from web.schedules.routes import add_schedules

STATIC = Path(__file__).parent / "static"
# A viewer that takes nothing for this long is gone.
SEND_TIME_S = 10.0
# Requests that wait for a controller that hangs must not keep others waiting, least of all an abort.
REQUESTS_AT_ONCE = 8
ABORTS_AT_ONCE = 32


Word = Annotated[str, StringConstraints(max_length=40)]


class Body(BaseModel):
    """What may go with a request (live.Request). A schedule is a profile's name or a whole text, no path."""

    model_config = ConfigDict(extra="forbid")

    presence: Annotated[str, StringConstraints(max_length=32)] | None = None
    schedule: Annotated[str, StringConstraints(max_length=60_000, pattern=NAME_OR_TEXT)] | None = None
    name: Annotated[str, StringConstraints(max_length=120)] | None = None
    text: Annotated[str, StringConstraints(max_length=4_000)] | None = None
    alarm: Annotated[str, StringConstraints(max_length=120)] | None = None
    minutes: Annotated[int, Interval(ge=0, le=60)] | None = None
    ticked: Annotated[list[Word], Len(max_length=40)] | None = None
    reachable: Annotated[str, StringConstraints(max_length=200)] | None = None
    job: Annotated[str, StringConstraints(max_length=LONGEST_JOB)] | None = None
    attended: bool | None = None


def build_app(
    socket: Path,
    record: Path,
    kiln: Path | None = None,
    run: Run | None = None,
    network: Network = HERE_ONLY,
) -> FastAPI:
    """Return the application for the controller that listens at `socket` and keeps `record`.

    `kiln`: its file, for forecasts. `run`: what works out estimates, where it is not the worker process.
    `network`: the names that it answers to, and whether a proxy stands before it.
    """
    app = FastAPI(title="Stokehold", lifespan=_lifespan, openapi_url=None, docs_url=None, redoc_url=None)
    app.state.hub = Hub(socket)
    app.state.alerts = Watch(
        app.state.hub, record.parent, estimate=lambda: cast(Renewal, app.state.renewal).newest()
    )
    app.state.client = ChannelClient(socket)
    app.state.record = record
    app.state.limiters = {}
    _add_pages(app)
    _add_api(app)
    add_past(app)
    add_observations(app)
    add_estimates(app, kiln, run or Worker())
    add_schedules(app, RecordDiary(record))
    add_pairing(app, record, network)
    add_alerts(app, app.state.alerts)
    _add_errors(app)
    app.add_middleware(GZipMiddleware, minimum_size=600)
    app.add_middleware(Gate, network=network, holders=Holders(record))
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    running = [asyncio.create_task(one.run()) for one in (app.state.hub, app.state.alerts)]
    try:
        yield
    finally:
        for task in running:
            task.cancel()
        await asyncio.wait(running)


def _add_pages(app: FastAPI) -> None:
    @app.get("/", include_in_schema=False)
    def page() -> Response:
        return HTMLResponse(front_page(app.state.hub.frame))

    app.mount("/static", StaticFiles(directory=STATIC), name="static")


def _add_api(app: FastAPI) -> None:
    hub: Hub = app.state.hub

    @app.get("/api/live")
    def live() -> EventSourceResponse:
        return EventSourceResponse(hub.events(), send_timeout=SEND_TIME_S)

    @app.get("/api/curve")
    def curve() -> JSONResponse:
        return JSONResponse(curves.so_far(app.state.record, hub.firing, hub.frame))

    @app.get("/api/health")
    def health() -> JSONResponse:
        here = hub.frame is not None
        return JSONResponse(
            {
                "ok": True,
                "controller": "here" if here else "lost",
                "wrong": app.state.alerts.what_is_wrong(),
                "silent_s": round(hub.silent_s(), 1),
                "viewers": hub.viewers,
            }
        )

    @app.post("/api/requests/{kind}")
    async def request(kind: RequestKind, body: Body, asking: HttpRequest) -> JSONResponse:
        return await _pass_on(app, kind, body, by(asking))


async def _pass_on(app: FastAPI, kind: RequestKind, body: Body, who: str) -> JSONResponse:
    """Send the request to the controller; 200 done, 409 refused, 503 nobody there."""
    asked = cast(Request, {"request": kind, "by": who, **body.model_dump(exclude_none=True)})
    try:
        reply: Reply = await anyio.to_thread.run_sync(
            app.state.client.ask, asked, limiter=_limiter(app, kind)
        )
    except ChannelError as error:
        return says(503, str(error))
    return JSONResponse(reply, status_code=200 if reply["ok"] else 409)


def _limiter(app: FastAPI, kind: RequestKind) -> anyio.CapacityLimiter:
    """Return the lane for this kind of request: an abort has its own."""
    lane, room = ("abort", ABORTS_AT_ONCE) if kind == "abort" else ("other", REQUESTS_AT_ONCE)
    limiters: dict[str, anyio.CapacityLimiter] = app.state.limiters
    return limiters.setdefault(lane, anyio.CapacityLimiter(room))


def _add_errors(app: FastAPI) -> None:
    @app.exception_handler(404)
    def unknown(request: HttpRequest, error: HTTPException) -> JSONResponse:
        return says(404, f"there is nothing at {request.url.path[:120]}")

    @app.exception_handler(405)
    def wrong_method(request: HttpRequest, error: HTTPException) -> JSONResponse:
        return says(405, f"{request.method} is not for {request.url.path[:120]}")

    @app.exception_handler(RequestValidationError)
    def not_understood(request: HttpRequest, error: RequestValidationError) -> JSONResponse:
        first: dict[str, Any] = error.errors()[0]
        if first["loc"] == ("path", "kind") and request.method == "POST":
            return says(404, f"there is no such request; there are {', '.join(get_args(RequestKind))}")
        if first["loc"][0] == "path":
            return says(404, f"there is nothing at {request.url.path[:120]}")
        where = ".".join(str(part) for part in first["loc"])
        return says(422, f"{where}: {first['msg']}")
