"""The pages, put together from what is their own and the parts that they share (parts/).

A line `<!-- part: NAME -->` stands for parts/NAME.html: the head, the shapes, the strip that says what the
kiln does, the buttons below with their questions. Each page is put together once, and has a tag of its own
(ETag): a browser that has it already is not sent it again.
"""

from __future__ import annotations

import hashlib
import re
from functools import cache
from pathlib import Path
from typing import Literal

from starlette.requests import HTTPConnection
from starlette.responses import HTMLResponse, Response

PageName = Literal["index", "firings", "start", "pair", "devices"]

FOLDER = Path(__file__).parent
PART = re.compile(r"^<!-- part: (\w+) -->\n", re.MULTILINE)


@cache
def page(name: PageName) -> str:
    """Return a page's whole text. What it lacks is a fault of the program: FileNotFoundError."""
    own = (FOLDER / f"{name}.html").read_text(encoding="utf-8")
    return PART.sub(lambda found: _part(found[1]), own)


def page_answer(name: PageName, asking: HTTPConnection) -> Response:
    """Return the answer with a page; a short one where the browser has it already."""
    text = page(name)
    tag = _tag(text)
    if asking.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers={"ETag": tag})
    return HTMLResponse(text, headers={"ETag": tag})


@cache
def _part(name: str) -> str:
    return (FOLDER / "parts" / f"{name}.html").read_text(encoding="utf-8")


@cache
def _tag(text: str) -> str:
    return f'"{hashlib.sha256(text.encode()).hexdigest()[:32]}"'
