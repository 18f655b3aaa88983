"""The schedules that can be started from the page: their names and titles."""

from __future__ import annotations

from typing import TypedDict

from controller.errors import StokeholdError


class Profile(TypedDict):
    """A schedule in the library. `fault` says why it cannot be started; empty when it can."""

    name: str
    title: str
    fault: str


def startable() -> list[Profile]:
    """Return every schedule of the library, in the library's order."""
    from controller.schedule.index import names

    return [_profile(name) for name in names()]


def _profile(name: str) -> Profile:
    from controller.schedule.index import profile
    from controller.schedule.reader import load_schedule

    try:
        return {"name": name, "title": load_schedule(profile(name)).title, "fault": ""}
    except StokeholdError as error:
        return {"name": name, "title": name, "fault": str(error).partition("\n")[0]}
