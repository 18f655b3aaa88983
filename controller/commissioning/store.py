"""The results on disk: `commissioning.json` in the home folder, replaced whole after every step.

Written to a new file, synced and renamed into place, so that a crash leaves the old one or the new one.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path

from controller.commissioning.result import Result, from_data, to_data
from controller.errors import UsageError

FILE_NAME = "commissioning.json"
FORMAT = 1


def load(home: Path) -> dict[str, Result]:
    """Return the results by step, none where there is no file. Raises UsageError for a damaged one."""
    path = home / FILE_NAME
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        if data["format"] != FORMAT:
            raise UsageError(f"{path}: found format {data['format']!r}, expected {FORMAT}")
        results = [from_data(one) for one in data["results"]]
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise UsageError(f"{path}: cannot be read: {error.strerror}") from error
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise UsageError(f"{path}: is damaged; move it away and do the commissioning again") from error
    return {result.step: result for result in results}


def save(home: Path, kiln: str, results: Mapping[str, Result]) -> None:
    """Replace the file; when this returns, it is on the disk. Raises UsageError."""
    path = home / FILE_NAME
    new = path.with_suffix(".new")
    data = {"format": FORMAT, "kiln": kiln, "results": [to_data(one) for one in results.values()]}
    try:
        with new.open("w", encoding="utf-8") as file:
            json.dump(data, file, indent=1)
            file.write("\n")
            file.flush()
            os.fsync(file.fileno())
        new.replace(path)
        folder = os.open(home, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    except OSError as error:
        raise UsageError(f"{path}: cannot be written: {error.strerror}") from error
