"""The built-in library: the schedules in `profiles/`, found by their names."""

from __future__ import annotations

from pathlib import Path

from controller.errors import UsageError


def profiles_folder() -> Path:
    """Return the folder of the built-in schedules, beside the package in a checkout."""
    return Path(__file__).parents[2] / "profiles"


def names() -> list[str]:
    """Return the names of the built-in schedules, in the order of the alphabet."""
    return sorted(path.stem for path in profiles_folder().glob("*.toml"))


def profile(name: str) -> Path:
    """Return a built-in schedule's file by its name alone, never by a path. Raises UsageError."""
    if name not in names():
        raise UsageError(f'schedule: found "{name}", expected one of: {_listed()}')
    return profiles_folder() / f"{name}.toml"


def find(name_or_path: str) -> Path:
    """Return a schedule's file: a file by its path, or else a built-in one by its name. Raises UsageError."""
    path = Path(name_or_path)
    if path.is_file():
        return path
    if name_or_path in names():
        return profile(name_or_path)
    raise UsageError(
        f'schedule: found no file "{name_or_path}", expected a schedule file or one of: {_listed()}'
    )


def _listed() -> str:
    return ", ".join(names()) or "none (the folder of profiles is empty)"
