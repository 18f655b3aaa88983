"""On which parts of a kiln's file a step rests, and a fingerprint of each.

A fingerprint is of what the file says, read: comments, order and a value written in another unit do not
change it, and a key left out is the same as its default written out.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import MISSING, fields, is_dataclass
from typing import Any

from controller.commissioning.table import IN_KILN, Step
from controller.config import KilnConfig


def rests_on(config: KilnConfig, step: Step) -> tuple[str, ...]:
    """Return the names of the parts on which a step rests, the wires of each among them."""
    names: dict[str, None] = {}
    for part in step.kind.parts:
        for name in _named(config, step, part):
            names[name] = None
            for bus in _buses(_part(config, name)):
                names[f"bus.{bus}"] = None
    return tuple(names)


def fingerprints(config: KilnConfig, step: Step) -> dict[str, str]:
    """Return the fingerprint of every part on which a step rests, by the part's name."""
    return {name: fingerprint(config, name) for name in rests_on(config, step)}


def fingerprint(config: KilnConfig, name: str) -> str:
    """Return the fingerprint of one part: 16 hexadecimal digits; the same for the same meaning."""
    text = json.dumps(_plain(_part(config, name)), sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _named(config: KilnConfig, step: Step, part: str) -> Iterator[str]:
    if part == "all readers":
        yield from (f"reader.{role}" for role in config.readers if role in IN_KILN)
    elif part == "its reader":
        yield f"reader.{step.role or 'enclosure'}"
    elif part == "its contact":
        yield f"contact.{step.role}"
    else:
        yield part


def _part(config: KilnConfig, name: str) -> Any:
    """Return what a part's name stands for; None where the file has no such part."""
    table, _, key = name.partition(".")
    if table == "reader":
        return config.readers.get(key)
    if table == "contact":
        return config.contacts.get(key)
    if table == "bus":
        return config.buses.get(key)
    values = {
        "heater": config.heater,
        "main_contactor": config.main_contactor,
        "lease": config.lease_s,
        "tick": config.tick_s,
        "ceiling": config.ceiling_c,
    }
    return values[table]


def _buses(value: Any) -> Iterator[str]:
    """Yield the names of the wires that a part names, those of its read-back among them."""
    if not is_dataclass(value):
        return
    for field in fields(value):
        inner = getattr(value, field.name)
        if field.name == "bus" and isinstance(inner, str):
            yield inner
        yield from _buses(inner)


def _plain(value: Any) -> Any:
    """Return a part as plain data, without what is at its default."""
    if is_dataclass(value):
        pairs = ((f.name, getattr(value, f.name), f.default) for f in fields(value))
        return {
            name: _plain(inner) for name, inner, default in pairs if default is MISSING or inner != default
        }
    return value
