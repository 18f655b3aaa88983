"""The addresses of what people saw.

    GET  /api/firings/{number}/checklist?stage=     a checkpoint's list as it stands: ticks, cracks, drained
    POST /api/firings/{number}/observations         one thing that a person saw (bodies.py)
    POST /api/firings/{number}/photos?of=&stage=    a photograph: the bare picture as the body
    GET  /api/photos/{photo}.jpg  .../small.jpg     it, as it is kept; as small as a list shows it

Written into the record from here, through a connection of its own (record/observing.py says why). Nothing of
this reaches the controller: no tick, no crack and no photograph makes a release more or less possible.
"""

from __future__ import annotations

import functools
import time
from pathlib import Path as FilePath
from typing import Annotated, Literal

import anyio
from fastapi import Body as FromBody
from fastapi import FastAPI, Path, Query, Response
from fastapi.responses import JSONResponse
from starlette.requests import Request as HttpRequest

from controller.record.observed import image, photos_size
from controller.record.observing import write_observation, write_photo
from controller.record.rows import PhotoRow
from web.answers import says
from web.observations.bodies import Body, Tick
from web.observations.pictures import Picture, PictureError, clean, small
from web.observations.told import checkpoint, lines_of
from web.pairing.caller import by
from web.past.missing import missing

# A firing's worth of patience and of disk: a card of 32 GB holds a thousand such firings.
MOST_PHOTOS = 60
SMALL_IN_MEMORY = 64

Number = Annotated[int, Path(ge=1, le=10**9)]
Stage = Annotated[int, Query(ge=0, le=999)]
Of = Literal["crack", "shell", "casting"]
Caption = Annotated[str, Query(max_length=200)]


def add_observations(app: FastAPI) -> None:
    """Add what people saw to the application."""
    record: FilePath = app.state.record
    app.state.unpacking = anyio.CapacityLimiter(1)  # one picture at a time: each may take 150 MB
    _add_saying(app, record)
    _add_photos(app, record)


def _add_saying(app: FastAPI, record: FilePath) -> None:
    @app.get("/api/firings/{number}/checklist")
    def checklist(number: Number, stage: Stage) -> JSONResponse:
        if gone := missing(record, number):
            return gone
        found = checkpoint(record, number, stage)
        return JSONResponse(found) if found else _no_checkpoint(number, stage)

    @app.post("/api/firings/{number}/observations")
    def observe(number: Number, body: Annotated[Body, FromBody()], request: HttpRequest) -> JSONResponse:
        if gone := missing(record, number):
            return gone
        fields = body.model_dump(exclude={"kind", "stage"})
        stage = getattr(body, "stage", None)
        if isinstance(body, Tick):
            lines = lines_of(record, number, body.stage)
            if lines is None:
                return _no_checkpoint(number, body.stage)
            if body.item >= len(lines):
                return says(422, f"item: found {body.item}, expected a line of the list, below {len(lines)}")
            fields = {"says": lines[body.item], "done": body.done}
        made = write_observation(record, number, by(request), body.kind, fields, time.time(), stage)
        return JSONResponse({"ok": True, "says": "kept", "id": made})


def _add_photos(app: FastAPI, record: FilePath) -> None:
    @app.post("/api/firings/{number}/photos")
    async def photo(
        number: Number, of: Of, request: HttpRequest, stage: Stage | None = None, caption: Caption = ""
    ) -> JSONResponse:
        gone = await anyio.to_thread.run_sync(_refused, record, number)
        if gone:
            return gone
        raw = await request.body()
        try:
            picture = await anyio.to_thread.run_sync(clean, raw, limiter=app.state.unpacking)
        except PictureError as error:
            return says(415, str(error))
        row = _row(picture, by(request), stage, of, caption)
        made = await anyio.to_thread.run_sync(write_photo, record, number, row)
        return JSONResponse({"ok": True, "says": "kept", "id": made})

    @functools.lru_cache(maxsize=SMALL_IN_MEMORY)
    def small_of(number: int) -> bytes | None:
        found = image(record, number) if record.exists() else None
        return small(found[1]) if found else None

    @app.get("/api/photos/{number}.jpg")
    def whole(number: Number) -> Response:
        found = image(record, number) if record.exists() else None
        return _shown(number, found and found[1])

    @app.get("/api/photos/{number}/small.jpg")
    def reduced(number: Number) -> Response:
        return _shown(number, small_of(number))


def _row(picture: Picture, who: str, stage: int | None, of: Of, caption: str) -> PhotoRow:
    return PhotoRow(
        utc_s=time.time(),
        by=who,
        stage=stage,
        of=of,
        caption=" ".join(caption.split()),
        media_type="image/jpeg",
        width_px=picture.width_px,
        height_px=picture.height_px,
        image=picture.image,
    )


def _refused(record: FilePath, number: int) -> JSONResponse | None:
    if gone := missing(record, number):
        return gone
    count, _ = photos_size(record, number)
    if count < MOST_PHOTOS:
        return None
    return says(409, f"firing {number} has {count} photographs, and more are not kept")


def _no_checkpoint(number: int, stage: int) -> JSONResponse:
    return says(404, f"stage {stage + 1} of firing {number} is no checkpoint")


def _shown(number: int, jpeg: bytes | None) -> Response:
    """A photograph is always of our own making (pictures.py): a JPEG, said so, and not to be guessed at."""
    return Response(jpeg, media_type="image/jpeg") if jpeg else says(404, f"there is no photograph {number}")
