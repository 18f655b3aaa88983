"""What a value in a schedule file may be: one function for each form, from the file's value to ours.

Each takes what tomllib gave and returns degrees Celsius, kelvin, seconds, C per hour, text or a choice,
or raises UnitError with what was found and what was expected.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, get_args

from controller.schedule.model import Nobody, Then
from controller.schedule.units import (
    DIFFERENCE_FORM,
    DURATION_FORM,
    RATE_FORM,
    UnitError,
    difference_k,
    duration_s,
    rate_c_per_h,
    shown,
    temperature_c,
)

Form = Callable[[object], Any]

THEN_FORM = '"keep waiting", "keep waiting at 150 C", "go on" or "stop"'
UNTIL_RELEASED = "until released"
LONGEST_NAME = 60  # characters: a stage's name stands on one line of a phone
LONGEST_TITLE = 100
LONGEST_MESSAGE = 500  # what a person reads at the kiln, with gloves on
LONGEST_TICK = 80  # a line beside a box, on a phone
MOST_TICKS = 12  # more than that nobody reads at the kiln
LONGEST_OUTAGE_S = 4 * 3600.0  # in more time somebody may have begun to unload; common practice, no source
LONGEST_OUTAGE = "4 h"


def positive_difference_k(value: object) -> float:
    """A difference above zero, in kelvin."""
    return _above_zero(difference_k(value), value, DIFFERENCE_FORM)


def positive_duration_s(value: object) -> float:
    """A duration above zero, in seconds."""
    return _above_zero(duration_s(value), value, DURATION_FORM)


def outage_s(value: object) -> float:
    """How long an outage may be for a firing to resume by itself, in seconds."""
    seconds = positive_duration_s(value)
    if seconds > LONGEST_OUTAGE_S:
        raise UnitError(shown(value), f"at most {LONGEST_OUTAGE}")
    return seconds


def ramp_rate_c_per_h(value: object) -> float | None:
    """A rate above zero, in C per hour, or None for "full"."""
    rate = rate_c_per_h(value)
    return rate if rate is None else _above_zero(rate, value, RATE_FORM)


def cool_rate_c_per_h(value: object) -> float:
    """A rate above zero, in C per hour; "full" is not one, because a kiln cools as fast as it will."""
    rate = ramp_rate_c_per_h(value)
    if rate is None:
        raise UnitError(shown(value), 'a rate such as "60 C/h", or no `rate` at all for heat off')
    return rate


def hold_for_s(value: object) -> float | None:
    """How long a hold lasts, in seconds, or None for "until released"."""
    if value == UNTIL_RELEASED:
        return None
    try:
        return positive_duration_s(value)
    except UnitError as error:
        raise UnitError(error.found, f'{error.expected}, or "{UNTIL_RELEASED}"') from None


def remind_every_s(value: object) -> float | None:
    """The time between reminders, in seconds, or None for "never"."""
    return None if value == "never" else positive_duration_s(value)


def then(value: object) -> Then:
    """What happens to a checkpoint when nobody has come."""
    for action in get_args(Nobody):
        if value == action:
            return Then(action)
    if isinstance(value, str) and value.startswith("keep waiting at "):
        return Then("keep waiting", temperature_c(value.removeprefix("keep waiting at ")))
    raise UnitError(shown(value), THEN_FORM)


def yes_or_no(value: object) -> bool:
    """TOML's own true or false."""
    if not isinstance(value, bool):
        raise UnitError(shown(value), "true or false, without quotes")
    return value


def line_of_text(longest: int) -> Form:
    """Return the form of a text that is not empty and not longer than `longest` characters, on one line."""

    def read(value: object) -> str:
        if not isinstance(value, str):
            raise UnitError(shown(value), "text in quotes")
        text = " ".join(value.split())
        if not text or not text.isprintable():
            raise UnitError(shown(value), "text that can be read")
        if len(text) > longest:
            raise UnitError(f"{len(text)} characters", f"at most {longest}")
        return text

    return read


def lines_to_tick(value: object) -> tuple[str, ...]:
    """What a person ticks off: texts of one line, each its own. An empty list means that there is nothing."""
    if not isinstance(value, list):
        raise UnitError(shown(value), 'a list of texts, such as ["Tray taken out", "Cracks patched"]')
    if len(value) > MOST_TICKS:
        raise UnitError(f"{len(value)} lines", f"at most {MOST_TICKS}")
    read = line_of_text(LONGEST_TICK)
    lines: list[str] = []
    for index, item in enumerate(value):
        try:
            line = read(item)
        except UnitError as error:
            raise UnitError(error.found, error.expected, index) from None
        if line in lines:
            raise UnitError(shown(line), "a line that does not stand there already", index)
        lines.append(line)
    return tuple(lines)


def one_of(*choices: str) -> Form:
    """Return the form of a text that is one of `choices`."""
    listed = ", ".join(f'"{choice}"' for choice in choices[:-1]) + f' or "{choices[-1]}"'

    def read(value: object) -> str:
        if value not in choices:
            raise UnitError(shown(value), listed)
        return str(value)

    return read


def _above_zero(number: float, value: object, expected: str) -> float:
    if not number > 0:
        raise UnitError(shown(value), f"more than zero: {expected}")
    return number
