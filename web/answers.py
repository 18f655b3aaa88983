"""An answer that is no success: one line of JSON, the same everywhere."""

from __future__ import annotations

from starlette.responses import JSONResponse


def says(status: int, line: str) -> JSONResponse:
    """Return an answer of one line of JSON."""
    return JSONResponse({"ok": False, "says": line}, status_code=status)
