"""What the page asks about alerts. Nothing here shows an address.

GET  /api/alerts              what stands, who was told, and what could not be sent
POST /api/alerts/acknowledge  a person on the page has seen it: no further message; noted with the firing
GET  /api/health/well         200 while all is well, 503 with the reason otherwise: for an outside monitor
"""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated

import anyio.to_thread
from annotated_types import Len
from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, StringConstraints

from controller.errors import ChannelError
from web.alerts.watch import Watch, time_now
from web.answers import says
from web.pairing.caller import by

Key = Annotated[str, StringConstraints(max_length=120)]


class Acknowledged(BaseModel):
    """The keys of what was seen; absent: all that stands."""

    model_config = ConfigDict(extra="forbid")

    keys: Annotated[list[Key], Len(max_length=60)] | None = None


def add_alerts(app: FastAPI, watch: Watch) -> None:
    """Add the routes for a watch."""

    @app.get("/api/alerts")
    async def alerts() -> JSONResponse:
        return JSONResponse(watch.view(time_now()))

    @app.post("/api/alerts/acknowledge")
    async def acknowledge(request: Request, body: Acknowledged) -> JSONResponse:
        seen = watch.acknowledge(None if body.keys is None else frozenset(body.keys))
        if seen:
            await anyio.to_thread.run_sync(_note, app, by(request), f"Seen on the page: {'; '.join(seen)}")
        line = "seen: no further message about it" if seen else "nothing stands that nobody has seen yet"
        return JSONResponse({"ok": True, "says": line, "count": len(seen)})

    @app.get("/api/health/well")
    async def well() -> JSONResponse:
        wrong = watch.what_is_wrong()
        return says(503, wrong) if wrong else JSONResponse({"ok": True, "says": "the controller answers"})


def _note(app: FastAPI, who: str, text: str) -> None:
    """Have it noted with the firing, by whom; without a firing or a controller there is nobody to note it."""
    if app.state.hub.frame is None or app.state.hub.frame["firing"] is None:
        return
    with suppress(ChannelError):
        app.state.client.ask({"request": "note", "by": who, "text": text})
