"""What a kilowatt-hour costs: a number and a currency in the person's own words. Knows nobody."""

from __future__ import annotations

import re
from typing import NamedTuple

# "0.31 EUR/kWh", "31 ct/kWh", "0.28 $/kWh": a number, then one word or one sign.
FORM = re.compile(r"([0-9]+(?:\.[0-9]+)?) *([^\W\d_]{1,12}|[^\w\s/])/kWh")
EXAMPLE = '"0.31 EUR/kWh"'


class Tariff(NamedTuple):
    """The price of a kilowatt-hour."""

    per_kwh: float
    currency: str


def tariff_of(stated: object) -> Tariff | None:
    """Return what a file's value says; None: it is no tariff."""
    match = FORM.fullmatch(stated.strip()) if isinstance(stated, str) else None
    return Tariff(float(match[1]), match[2]) if match else None
