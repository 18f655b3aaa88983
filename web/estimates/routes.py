"""The addresses of what is estimated.

    POST /api/forecast     a schedule on this kiln with a job: when, how much, what stands against it
    GET  /api/estimates    the live estimate of the present firing, and its forecast renewed

Asked: {"schedule": a profile's name or a whole text, "job": a job sheet's text or null,
"start_utc_s" or "pour_at_utc_s": a number or null, "price_per_kwh": a number or null}.

Answered: {"ok": true, "says", "title", "kiln": {"says", "model"}, "job": {"says", "told"}, "start_utc_s"
(the start that is needed), "late" (that start is past), "pour_utc_s", "ready_s", "ready_utc_s" (when the
shell is ready), "end_s", "end_utc_s", "furnace": {"lights_utc_s", "metal", "metal_kg", "pour_c"}, "rows":
[{"index", "name", "kind", "begins_s", "ends_s", "begins_utc_s", "air_c", "core_c", "person", "says",
"if_nobody_comes"}], "energy_kwh", "cost", "findings": [{"severity": stop | warn | note, "says", "remedy",
"key", "at_s"}], "refused", "curves": {"air": [[t_s, C]], "core": [[t_s, C]], "band": [[t_s, lowest C,
highest C]], "core_band"}}. What is estimated is {"low", "typical", "high"}; null is never, or not known. What
cannot be answered is {"ok": false, "says": all that is wrong, a line each}, 422.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Annotated, Any

from fastapi import FastAPI
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

from controller.record.jobs import LONGEST_JOB
from web.answers import says
from web.estimates.renewal import Renewal
from web.estimates.worker import BusyError, Run

# One word of letters, digits and dashes; or more than one line.
NAME_OR_TEXT = r"^(?:[\w-]+|[^\n]*\n[\s\S]*)$"
ASKED = "web.estimates.asked:asked"
LATEST_UTC_S = 4e9  # the year 2096: beyond it is a mistake

UtcS = Annotated[float, Field(ge=0.0, le=LATEST_UTC_S, allow_inf_nan=False)]


class ForecastBody(BaseModel):
    """What is asked for. A schedule is a profile's name or a whole text, no path."""

    model_config = ConfigDict(extra="forbid")

    schedule: Annotated[str, StringConstraints(max_length=60_000, pattern=NAME_OR_TEXT)]
    job: Annotated[str, StringConstraints(max_length=LONGEST_JOB)] | None = None
    start_utc_s: UtcS | None = None
    pour_at_utc_s: UtcS | None = None
    price_per_kwh: Annotated[float, Field(ge=0.0, le=100.0, allow_inf_nan=False)] | None = None

    @model_validator(mode="after")
    def one_time(self) -> ForecastBody:
        """A firing has a start, or a pour to be worked back from."""
        if self.start_utc_s is not None and self.pour_at_utc_s is not None:
            raise ValueError("found a start and a pour, expected one of them")
        return self


def add_estimates(app: FastAPI, kiln: Path | None, run: Run) -> None:
    """Add the addresses. `kiln`: the kiln's file; `run`: what works them out."""
    record: Path = app.state.record
    app.state.renewal = Renewal(app.state.hub, str(record), run)

    @app.post("/api/forecast")
    async def forecast(body: ForecastBody) -> JSONResponse:
        ask: dict[str, Any] = body.model_dump()
        about = {"now_utc_s": time.time(), "kiln_file": kiln and str(kiln), "record": str(record)}
        try:
            answer = await run(ASKED, ask | about)
        except BusyError as error:
            return says(503, str(error))
        return JSONResponse(answer, status_code=200 if answer["ok"] else 422)

    @app.get("/api/estimates")
    async def estimates() -> JSONResponse:
        return JSONResponse(await app.state.renewal.newest())
