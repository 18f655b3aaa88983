"""What the page asks about alerts. Nothing here shows an address.

GET  /api/alerts              what stands, who was told, and what could not be sent
POST /api/alerts/acknowledge  a person on the page has seen it: no further message about it
GET  /api/health/well         200 while all is well, 503 with the reason otherwise: for an outside monitor
"""

from __future__ import annotations

from typing import Annotated

from annotated_types import Len
from fastapi import FastAPI
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, StringConstraints

from web.alerts.watch import Watch, time_now
from web.answers import says

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
    async def acknowledge(body: Acknowledged) -> JSONResponse:
        count = watch.acknowledge(None if body.keys is None else frozenset(body.keys))
        line = "seen: no further message about it" if count else "nothing stands that anybody was to be told"
        return JSONResponse({"ok": True, "says": line, "count": count})

    @app.get("/api/health/well")
    async def well() -> JSONResponse:
        wrong = watch.what_is_wrong()
        return says(503, wrong) if wrong else JSONResponse({"ok": True, "says": "the controller answers"})
