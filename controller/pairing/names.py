"""A device's name, as a person typed it: one short line of plain characters.

It stands in the record beside everything that was done with the device, and on the console.
"""

from __future__ import annotations

import unicodedata

from controller.errors import UsageError

# "page: " before it, and the record's 40 characters for who asked.
LONGEST_NAME = 32


def device_name(given: str) -> str:
    """Return the name without control, format and other unseen characters, its spaces single.

    Raises UsageError: nothing is left, or too much.
    """
    seen = "".join(
        " " if unicodedata.category(each)[0] == "Z" else each
        for each in unicodedata.normalize("NFC", " ".join(given.split()))
        if unicodedata.category(each)[0] != "C"
    )
    name = " ".join(seen.split())
    if not 0 < len(name) <= LONGEST_NAME:
        raise UsageError(f"name: found {len(name)} characters, expected 1 to {LONGEST_NAME} that can be seen")
    return name


def by_device(name: str) -> str:
    """Return who asked, as the record says it: the page on that device."""
    return f"page: {name}"
