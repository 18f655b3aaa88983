"""The library on disk: every schedule that can be found by name, and the user's own, which can be saved.

A name of one's own is strict: small letters, digits and dashes. It is never a path, never a built-in
schedule's, and never written over a file without saying so. A file is whole or not there: it is written
beside its place, and then put there in one step.
"""

from __future__ import annotations

import os
import re
import tempfile
from functools import lru_cache
from pathlib import Path
from typing import Any

from controller.errors import StokeholdError, UsageError
from controller.schedule.index import names, profile, profiles_folder
from controller.schedule.located import FileProblems
from controller.schedule.reader import load_schedule, read_schedule
from controller.schedule.units import shown
from web.schedules.draw import planned

NAME = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,48}[a-z0-9])?")
NAME_FORM = "1 to 50 small letters, digits and dashes, such as otter-left-half"
MOST_OWN = 500
"""More schedules than this on a phone's list help nobody, and each costs a disk's read."""


class TakenError(StokeholdError):
    """A file of this name is there already, and it was not said that it may be written over."""


def listed(own: Path) -> list[dict[str, Any]]:
    """Return every schedule: its name, whether it is the user's own, and its plan or why there is none."""
    return [_listed(profile(name, own), profile(name, own).parent == own) for name in names(own)]


def text_of(name: str, own: Path) -> str:
    """Return a schedule's text. Raises UsageError: there is no such schedule, or it cannot be read."""
    path = profile(name, own)
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"{path.name}: cannot be read: {error}") from None


def is_own(name: str, own: Path) -> bool:
    """Tell whether a schedule is one of the user's own. Raises UsageError."""
    return profile(name, own).parent == own


def save(own: Path, name: str, text: str, *, over: bool) -> None:
    """Keep a schedule as one of the user's own. `over`: a file of that name may be written over.

    Raises UsageError, FileProblems, TakenError; then nothing was changed.
    """
    _check_name(name)
    read_schedule(text, f"{name}.toml")  # a file with mistakes is not kept
    try:
        own.mkdir(parents=True, exist_ok=True)
        if len(list(own.glob("*.toml"))) >= MOST_OWN and not (own / f"{name}.toml").exists():
            raise UsageError(f"schedules: found {MOST_OWN} of your own already, expected fewer")
        _put(own / f"{name}.toml", text, over=over)
    except OSError as error:
        raise UsageError(f"{name}.toml cannot be written: {error.strerror}") from None


def rename(own: Path, name: str, to: str) -> None:
    """Give one of the user's own schedules another name. Nothing is written over; comments are kept.

    Raises UsageError, TakenError; then nothing was changed.
    """
    path = _own(own, name)
    _check_name(to)
    try:
        os.link(path, own / f"{to}.toml", follow_symlinks=False)  # fails where a file is
        path.unlink()
    except FileExistsError:
        raise _taken(to) from None
    except OSError as error:
        raise UsageError(f"{name}.toml cannot be renamed: {error.strerror}") from None


def delete(own: Path, name: str) -> None:
    """Delete one of the user's own schedules. Raises UsageError; then nothing was changed."""
    path = _own(own, name)
    try:
        path.unlink()
    except OSError as error:
        raise UsageError(f"{name}.toml cannot be deleted: {error.strerror}") from None


def _own(own: Path, name: str) -> Path:
    path = profile(name, own)
    if path.parent != own:
        raise UsageError(f"{name} came with the program, and stays as it is")
    return path


def _taken(name: str) -> TakenError:
    return TakenError(f'there is a schedule "{name}" of your own already')


def _check_name(name: str) -> None:
    if not NAME.fullmatch(name):
        raise UsageError(f"name: found {shown(name)}, expected {NAME_FORM}")
    if name in {path.stem.casefold() for path in profiles_folder().glob("*.toml")}:
        raise UsageError(f'name: found "{name}", which is built in, expected a name of your own')


def _put(path: Path, text: str, *, over: bool) -> None:
    """Write beside the place, to the disk, then put there in one step."""
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".new")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(beside, 0o644)
        if over:
            os.replace(beside, path)
        else:
            os.link(beside, path)  # fails where a file is
    except FileExistsError:
        raise _taken(path.stem) from None
    finally:
        Path(beside).unlink(missing_ok=True)


def _listed(path: Path, own: bool) -> dict[str, Any]:
    try:
        stat = path.stat()
        plan, fault = _planned(path, stat.st_mtime_ns, stat.st_size), ""
    except FileProblems as error:
        plan, fault = None, str(error.problems[0]).removeprefix(f"{path.parent}{os.sep}")
    except (StokeholdError, OSError) as error:
        plan, fault = None, str(error)
    title = plan["title"] if plan else path.stem
    return {"name": path.stem, "own": own, "title": title, "fault": fault, "plan": plan}


@lru_cache(maxsize=MOST_OWN + 50)
def _planned(path: Path, changed_ns: int, size: int) -> dict[str, Any]:
    return planned(load_schedule(path))
