"""The addresses of past firings.

    GET  /firings  /firings/{number}               the page (one file; it looks at its own address)
    GET  /api/firings?before=                      the list, newest first
    GET  /api/firings/{number}                     one firing, but for its curve
    GET  /api/firings/{number}/curve?from=&to=     its curve or a stretch of it, thinned, with every peak
    GET  /api/firings/{number}/report.pdf|png      the report
    GET  /api/firings/{number}/ticks.csv           every tick
    POST /api/firings/{number}/notes               a note, through the controller if that firing runs
    GET  /firings/common  /kiln                    pages: rated castings side by side; how the kiln grows old
    GET  /api/common  /api/kiln                    what they show
    GET  /api/compare?firings=3,5,20-80            any number of firings, with what they can be aligned on

The record is only read here, but for notes.
"""

from __future__ import annotations

import time
from pathlib import Path as FilePath
from typing import Annotated, Any, cast

from fastapi import FastAPI, Path, Query, Response
from fastapi.responses import JSONResponse, StreamingResponse
from pydantic import BaseModel, ConfigDict, StringConstraints
from starlette.requests import Request as HttpRequest

from controller.errors import ChannelError, StokeholdError
from controller.live import Reply, Request
from controller.record.journal import write_note
from web.answers import says
from web.hub import Hub
from web.pages import page_answer
from web.pairing.caller import by
from web.past.compared import CHOSEN, LONGEST, NoSuchError, chosen, compare
from web.past.firing import POINTS, Past
from web.past.listing import Listing
from web.past.missing import missing
from web.past.reports import Kind, report, ticks_as_text
from web.past.together import common, kiln

NO_RECORD = "there are no firings: there is no record yet"
TYPES = {"pdf": "application/pdf", "png": "image/png"}

Number = Annotated[int, Path(ge=1, le=10**9)]
Seconds = Annotated[float, Query(ge=0, le=1e9)]


class NoteBody(BaseModel):
    """What a person wrote."""

    model_config = ConfigDict(extra="forbid")
    text: Annotated[str, StringConstraints(min_length=1, max_length=4_000, strip_whitespace=True)]


def add_past(app: FastAPI) -> None:
    """Add the pages and the addresses of past firings."""
    record: FilePath = app.state.record
    app.state.past, app.state.listing = Past(record), Listing(record)
    _add_pages(app)
    _add_reading(app)
    _add_files(app, record)
    _add_notes(app, record)

    @app.exception_handler(StokeholdError)
    def unreadable(request: object, error: StokeholdError) -> JSONResponse:
        return says(503, str(error))


def _add_pages(app: FastAPI) -> None:
    @app.get("/firings", include_in_schema=False)
    def firings(asking: HttpRequest) -> Response:
        return page_answer("firings", asking)

    @app.get("/firings/common", include_in_schema=False)
    def common_page(asking: HttpRequest) -> Response:
        return page_answer("firings", asking)

    @app.get("/kiln", include_in_schema=False)
    def kiln_page(asking: HttpRequest) -> Response:
        return page_answer("firings", asking)

    @app.get("/firings/{number}", include_in_schema=False)
    def firing(number: Number, asking: HttpRequest) -> Response:
        return page_answer("firings", asking)


def _add_reading(app: FastAPI) -> None:
    past: Past = app.state.past
    listing: Listing = app.state.listing
    hub: Hub = app.state.hub

    @app.get("/api/firings")
    def firings(before: Annotated[int | None, Query(ge=1, le=10**9)] = None) -> JSONResponse:
        page = listing.page(before)
        running = hub.frame["firing"] if hub.frame else None
        return JSONResponse(page | {"running": running})

    @app.get("/api/common")
    def castings() -> JSONResponse:
        return JSONResponse(common(past.path, listing.summaries))

    @app.get("/api/kiln")
    def ageing() -> JSONResponse:
        return JSONResponse(kiln(past.path, listing.summaries))

    @app.get("/api/firings/{number}")
    def firing(number: Number) -> JSONResponse:
        gone = missing(past.path, number)
        return gone or JSONResponse(past.told(number) | {"running": _runs(hub, number)})

    @app.get("/api/firings/{number}/curve")
    def curve(
        number: Number,
        from_s: Annotated[Seconds | None, Query(alias="from")] = None,
        to_s: Annotated[Seconds | None, Query(alias="to")] = None,
    ) -> JSONResponse:
        gone = missing(past.path, number)
        return gone or JSONResponse(past.curve(number, from_s, to_s, POINTS))

    @app.get("/api/compare")
    def laid_over(firings: Annotated[str, Query(pattern=CHOSEN, max_length=LONGEST)]) -> JSONResponse:
        if not past.path.exists():
            return says(404, NO_RECORD)
        try:
            return JSONResponse(compare(past, listing.summaries, chosen(past.path, firings)))
        except NoSuchError as error:
            return says(404, str(error))


def _add_files(app: FastAPI, record: FilePath) -> None:
    @app.get("/api/firings/{number}/report.{kind}")
    def report_file(number: Number, kind: Kind) -> Response:
        if gone := missing(record, number):
            return gone
        name = f"firing-{number}.{kind}"
        return Response(report(record, number, kind), media_type=TYPES[kind], headers=_named(name))

    @app.get("/api/firings/{number}/ticks.csv")
    def ticks_file(number: Number) -> Response:
        if gone := missing(record, number):
            return gone
        text = ticks_as_text(record, number)
        return StreamingResponse(text, media_type="text/csv", headers=_named(f"firing-{number}.csv"))


def _add_notes(app: FastAPI, record: FilePath) -> None:
    hub: Hub = app.state.hub

    @app.post("/api/firings/{number}/notes")
    def note(number: Number, body: NoteBody, asking: HttpRequest) -> JSONResponse:
        if gone := missing(record, number):
            return gone
        reply = _through_controller(app, by(asking), body.text) if _runs(hub, number) else None
        if reply is None:  # that firing is over, or nobody is there to take it
            write_note(record, number, by(asking), body.text, time.time())
            reply = {"ok": True, "says": "noted"}
        return JSONResponse(reply, status_code=200 if reply["ok"] else 409)


def _through_controller(app: FastAPI, who: str, text: str) -> Reply | None:
    """Return the controller's answer; None when it does not give one."""
    asked = cast(Request, {"request": "note", "by": who, "text": text})
    try:
        return cast(Reply, app.state.client.ask(asked))
    except ChannelError:
        return None


def _runs(hub: Hub, number: int) -> bool:
    return hub.frame is not None and hub.frame["firing"] == number


def _named(name: str) -> dict[str, Any]:
    return {"Content-Disposition": f'attachment; filename="{name}"'}
