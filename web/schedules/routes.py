"""The addresses of schedules and of a start.

    GET  /start                  a start, in steps
    GET  /schedules[/{name}]     the library, and one schedule to look at and edit (the same file: it looks at
                                 its own address)
    GET  /api/schedules          every schedule, drawn, and the keys that one may hold
    GET  /api/schedules/{name}   one: its text, its table, its plan or its mistakes
    POST /api/schedules/draw     the same of a text that is being written, a table put into it
    POST /api/schedules          save as one of the user's own
    POST /api/schedules/{name}/rename   give one of the user's own another name
    POST /api/schedules/{name}/delete   delete one of the user's own, unless a firing goes on with it
    GET  /api/job                the job sheet's fields
    POST /api/job                what is wrong with a job sheet

Nothing here reaches the controller. What is saved here runs only when a person at the kiln starts it. Who
saved, renamed or deleted a schedule stands in the record (diary.py); what firings used stays there whole.
"""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import Annotated, Any

from annotated_types import Len
from fastapi import FastAPI, Path, Response
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, Field, StrictBool, StringConstraints
from starlette.requests import Request as HttpRequest

from controller.errors import UsageError
from controller.schedule.index import own_folder
from controller.schedule.located import FileProblems, read_toml
from web.answers import says
from web.pages import page_answer
from web.pairing.caller import by
from web.schedules import library
from web.schedules.diary import Diary
from web.schedules.draw import drawn, keys
from web.schedules.edit import EditError, Row, Sheet, edited

# With its table beside it, a text must fit into one body (web/safety.py). The longest built-in one has 7 kB.
LONGEST_TEXT = 40_000
FILE = "schedule.toml"

Name = Annotated[str, Path(pattern=r"^[\w-]+$", max_length=60)]
Text = Annotated[str, StringConstraints(max_length=LONGEST_TEXT)]
Fields = Annotated[
    dict[
        Annotated[str, StringConstraints(min_length=1, max_length=60)],
        StrictBool | Annotated[str, StringConstraints(max_length=2000)],
    ],
    Len(max_length=40),
]


class RowBody(BaseModel):
    """A stage of a table, and its place in the text that it came from."""

    model_config = ConfigDict(extra="forbid")
    fields: Fields
    was: Annotated[int, Field(ge=0, le=10_000)] | None = None


class SheetBody(BaseModel):
    """A schedule as a table."""

    model_config = ConfigDict(extra="forbid")
    top: Fields
    recovery: Fields
    stages: Annotated[list[RowBody], Len(max_length=200)]

    def sheet(self) -> Sheet:
        """Return it as the editor takes it."""
        return Sheet(self.top, self.recovery, tuple(Row(row.fields, row.was) for row in self.stages))


class DrawBody(BaseModel):
    """A text that is being written, and the table to put into it."""

    model_config = ConfigDict(extra="forbid")
    text: Text
    sheet: SheetBody | None = None


class SaveBody(BaseModel):
    """A schedule to keep. `over`: a schedule of one's own of that name may be written over."""

    model_config = ConfigDict(extra="forbid")
    name: Annotated[str, StringConstraints(max_length=60)]
    text: Text
    over: StrictBool = False


class RenameBody(BaseModel):
    """Another name for a schedule."""

    model_config = ConfigDict(extra="forbid")
    to: Annotated[str, StringConstraints(max_length=60)]


class NoBody(BaseModel):
    """Nothing has to be said."""

    model_config = ConfigDict(extra="forbid")


class JobBody(BaseModel):
    """A job sheet's text."""

    model_config = ConfigDict(extra="forbid")
    text: Annotated[str, StringConstraints(max_length=8_000)]


def add_schedules(app: FastAPI, diary: Diary) -> None:
    """Add the pages and the addresses of schedules and of a start."""
    own = own_folder(app.state.record.parent)
    _add_pages(app)
    _add_reading(app, own)
    _add_saving(app, own, diary)
    _add_changing(app, own, diary)
    _add_job(app)


def _add_pages(app: FastAPI) -> None:
    @app.get("/start", include_in_schema=False)
    def start(asking: HttpRequest) -> Response:
        return page_answer("start", asking)

    @app.get("/schedules", include_in_schema=False)
    def schedules(asking: HttpRequest) -> Response:
        return page_answer("start", asking)

    @app.get("/schedules/{name}", include_in_schema=False)
    def schedule(name: Name, asking: HttpRequest) -> Response:
        return page_answer("start", asking)


def _add_reading(app: FastAPI, own: FilePath) -> None:
    @app.get("/api/schedules")
    def schedules() -> JSONResponse:
        return JSONResponse({"schedules": library.listed(own), "keys": keys(), "folder": str(own)})

    @app.get("/api/schedules/{name}")
    def schedule(name: Name) -> JSONResponse:
        try:
            text, is_own = library.text_of(name, own), library.is_own(name, own)
        except UsageError as error:
            return says(404, str(error))
        return JSONResponse(drawn(text, f"{name}.toml") | {"name": name, "own": is_own})

    @app.post("/api/schedules/draw")
    def draw(body: DrawBody) -> JSONResponse:
        try:
            return JSONResponse(drawn(_text(body), FILE))
        except EditError as error:
            return says(409, str(error))


def _text(body: DrawBody) -> str:
    """Return the text with the table put into it; as it is where it is no TOML. Raises EditError."""
    if body.sheet is None:
        return body.text
    try:
        return edited(read_toml(body.text, FILE), body.sheet.sheet())
    except FileProblems:
        return body.text


def _add_saving(app: FastAPI, own: FilePath, diary: Diary) -> None:
    @app.post("/api/schedules")
    def save(body: SaveBody, asking: HttpRequest) -> JSONResponse:
        try:
            with diary.noted("schedule_saved", {"name": body.name, "by": by(asking)}):
                library.save(own, body.name, body.text, over=body.over)
        except library.TakenError as error:
            return JSONResponse({"ok": False, "says": str(error), "taken": True}, status_code=409)
        except FileProblems as error:
            return says(422, str(error.problems[0]))
        except UsageError as error:
            return says(422, str(error))
        return JSONResponse({"ok": True, "says": f"saved as {body.name}.toml", "name": body.name})


def _add_changing(app: FastAPI, own: FilePath, diary: Diary) -> None:
    @app.post("/api/schedules/{name}/rename")
    def rename(name: Name, body: RenameBody, asking: HttpRequest) -> JSONResponse:
        if no := _stays(name, own, diary):
            return no
        try:
            with diary.noted("schedule_renamed", {"name": name, "to": body.to, "by": by(asking)}):
                library.rename(own, name, body.to)
        except library.TakenError as error:
            return says(409, str(error))
        except UsageError as error:
            return says(422, str(error))
        return JSONResponse({"ok": True, "says": f"{name} is now {body.to}", "name": body.to})

    @app.post("/api/schedules/{name}/delete")
    def delete(name: Name, body: NoBody, asking: HttpRequest) -> JSONResponse:
        if no := _stays(name, own, diary):
            return no
        try:
            with diary.noted("schedule_deleted", {"name": name, "by": by(asking)}):
                library.delete(own, name)
        except UsageError as error:
            return says(422, str(error))
        return JSONResponse({"ok": True, "says": f"{name} is deleted"})


def _stays(name: str, own: FilePath, diary: Diary) -> JSONResponse | None:
    """Return the answer where a schedule may not be changed now; None: it may."""
    try:
        if not library.is_own(name, own):
            return says(409, f"{name} came with the program, and stays as it is")
    except UsageError as error:
        return says(404, str(error))
    if (firing := diary.in_use(name)) is not None:
        return says(409, f"{name} is in use: firing {firing} was started from it and has not ended")
    return None


def _add_job(app: FastAPI) -> None:
    @app.get("/api/job")
    def form() -> JSONResponse:
        from web.schedules import job

        return JSONResponse({"tables": job.form()})

    @app.post("/api/job")
    def sheet(body: JobBody) -> JSONResponse:
        from web.schedules import job

        found: list[dict[str, Any]] = job.mistakes(body.text)
        return JSONResponse({"ok": not found, "mistakes": found})
