"""The library of schedules: those in `profiles/`, and those in the user's own folder, found by their names.

A name is letters, digits, dashes and underscores, never a path. The built-in schedules go first: a file of
the user's own that has a built-in one's name, in whatever capitals, is not found by it and is not listed.
"""

from __future__ import annotations

import re
from pathlib import Path

from controller.errors import UsageError

OWN_FOLDER = "profiles"
"""Where the user's own schedules are, in the home folder."""
_NAME = re.compile(r"[A-Za-z0-9_-]{1,60}")


def profiles_folder() -> Path:
    """Return the folder of the built-in schedules, beside the package in a checkout."""
    return Path(__file__).parents[2] / "profiles"


def own_folder(home: Path) -> Path:
    """Return the folder of the user's own schedules; it need not exist."""
    return home / OWN_FOLDER


def names(own: Path | None = None) -> list[str]:
    """Return the built-in schedules' names, then those of the user's own folder, each by the alphabet."""
    shipped = sorted(path.stem for path in profiles_folder().glob("*.toml"))
    taken = {name.casefold() for name in shipped}
    found = sorted(path.stem for path in own.glob("*.toml") if path.is_file()) if own is not None else []
    return shipped + [name for name in found if _NAME.fullmatch(name) and name.casefold() not in taken]


def profile(name: str, own: Path | None = None) -> Path:
    """Return a schedule's file by its name alone, never by a path. Raises UsageError."""
    if name not in names(own):
        raise UsageError(f'schedule: found "{name}", expected one of: {_listed(own)}')
    built_in = profiles_folder() / f"{name}.toml"
    return built_in if own is None or built_in.is_file() else own / f"{name}.toml"


def find(name_or_path: str, own: Path | None = None) -> Path:
    """Return a file by its path, or else a schedule of the library by its name. Raises UsageError."""
    path = Path(name_or_path)
    if path.is_file():
        return path
    if name_or_path in names(own):
        return profile(name_or_path, own)
    raise UsageError(
        f'schedule: found no file "{name_or_path}", expected a schedule file or one of: {_listed(own)}'
    )


def _listed(own: Path | None) -> str:
    return ", ".join(names(own)) or "none (the folder of profiles is empty)"
