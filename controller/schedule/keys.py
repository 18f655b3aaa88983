"""Every key that a schedule file may hold: the one table that the reader reads by and a person looks up.

`stokehold check --keys` prints it; nothing else lists the keys.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.schedule import forms
from controller.schedule.forms import Form
from controller.schedule.units import temperature_c

MOULDS = ("silica shell", "gypsum-bonded", "kiln lining", "none")
KINDS = ("ramp", "hold", "checkpoint", "cool")

DEFAULT_BAND_K = 10.0  # what a pyrometer at the kiln can vouch for; common practice, no source
DEFAULT_REMIND_S = 300.0  # a person called from the next room; common practice, no source
DEFAULT_EXPECT_S = 900.0  # brushing cracks and draining one shell; common practice, no source


class Key(NamedTuple):
    """One key: its name, the form of its value, whether it must stand there, its meaning, an example.

    `choices`: all that it may be, where that is a few words.
    """

    name: str
    read: Form
    must: bool
    meaning: str
    example: str
    choices: tuple[str, ...] = ()


SCHEDULE_KEYS = (
    Key(
        "title",
        forms.line_of_text(forms.LONGEST_TITLE),
        True,
        "what the schedule is for",
        '"Printed PLA in shell"',
    ),
    Key("pour_at", temperature_c, False, "temperature of the mould at the pour", '"815 C"'),
    Key(
        "mould",
        forms.one_of(*MOULDS),
        False,
        "what is fired; a gypsum-bonded mould is never above 730 C",
        '"silica shell"',
        MOULDS,
    ),
    Key(
        "ceiling",
        temperature_c,
        False,
        "no stage may come within 10 K of it; at it the guard trips",
        '"730 C"',
    ),
)

RECOVERY_KEYS = (
    Key(
        "resume_within",
        forms.outage_s,
        False,
        f"after an outage no longer than this the firing resumes by itself; at most {forms.LONGEST_OUTAGE}",
        '"20 min"',
    ),
    Key(
        "resume_if_fallen_by",
        forms.positive_difference_k,
        False,
        "it resumes only while the air has fallen by no more than this",
        '"60 C"',
    ),
    Key(
        "otherwise",
        forms.one_of("wait", "stop"),
        False,
        '"wait" or "stop", if it does not resume; absent: wait for a person',
        '"stop"',
        ("wait", "stop"),
    ),
)


def _named(kind: str) -> tuple[Key, Key]:
    """The two keys that every stage must have."""
    return (
        Key("kind", forms.one_of(*KINDS), True, "what the stage does", f'"{kind}"', KINDS),
        Key(
            "name",
            forms.line_of_text(forms.LONGEST_NAME),
            True,
            "what people call the stage; each its own",
            '"dry"',
        ),
    )


_ALL = (
    Key("ceiling", temperature_c, False, "trips the guard in this stage; absent: the schedule's", '"300 C"'),
    Key("extraction", forms.yes_or_no, False, "no heat unless the extraction is proven to run", "true"),
    Key(
        "after_outage",
        forms.one_of("resume", "wait", "stop"),
        False,
        "if an outage hits this stage; absent: what [recovery] says",
        '"wait"',
        ("resume", "wait", "stop"),
    ),
)
_FOLLOW = (
    Key(
        "follow",
        forms.one_of("air", "load"),
        False,
        'what the setpoint is for; "load" wants a load thermocouple; absent: the air',
        '"load"',
    ),
    Key(
        "lead",
        forms.positive_difference_k,
        False,
        'must stand with follow = "load": the air is led no further above the load, or above its setpoint',
        '"40 K"',
    ),
)
_SAYS = forms.line_of_text(forms.LONGEST_MESSAGE)

STAGE_KEYS: dict[str, tuple[Key, ...]] = {
    "ramp": (
        *_named("ramp"),
        Key("to", temperature_c, True, "where the setpoint goes, upwards", '"200 C"'),
        Key("rate", forms.ramp_rate_c_per_h, True, 'how fast; "full": as fast as the kiln may', '"60 C/h"'),
        Key(
            "wait_within",
            forms.positive_difference_k,
            False,
            "stand still while the load is further below",
            '"25 K"',
        ),
        *_FOLLOW,
        *_ALL,
    ),
    "hold": (
        *_named("hold"),
        Key("at", temperature_c, False, "where; absent: where the stage before ended", '"815 C"'),
        Key("for", forms.hold_for_s, True, 'how long, or "until released" for a pour hold', '"2 h"'),
        Key(
            "band",
            forms.positive_difference_k,
            False,
            "time counts only while the load is this near; absent: 10 K",
            '"10 K"',
        ),
        Key(
            "at_most",
            forms.positive_duration_s,
            False,
            'must stand with "until released": its end if nobody comes',
            '"4 h"',
        ),
        Key(
            "expect",
            forms.positive_duration_s,
            False,
            'how long a plan reckons for "until released"; absent: 15 min',
            '"30 min"',
        ),
        Key("says", _SAYS, False, "the message to the person", '"The shell is ready."'),
        *_FOLLOW,
        *_ALL,
    ),
    "checkpoint": (
        *_named("checkpoint"),
        Key("says", _SAYS, True, "the message to the person", '"Patch cracks, drain."'),
        Key(
            "heat",
            forms.one_of("off", "keep"),
            True,
            "what the heat does meanwhile",
            '"off"',
            ("off", "keep"),
        ),
        Key(
            "remind_every",
            forms.remind_every_s,
            False,
            'time between reminders, or "never"; absent: 5 min',
            '"5 min"',
        ),
        Key(
            "after",
            forms.positive_duration_s,
            False,
            "if nobody has come for so long, `then` happens",
            '"45 min"',
        ),
        Key(
            "then",
            forms.then,
            False,
            f"must stand with `after`: {forms.THEN_FORM}",
            '"keep waiting at 150 C"',
        ),
        Key(
            "expect",
            forms.positive_duration_s,
            False,
            "how long a plan reckons for it; absent: 15 min",
            '"20 min"',
        ),
        Key(
            "tick",
            forms.lines_to_tick,
            False,
            f"what is ticked off at the kiln, at most {forms.MOST_TICKS} lines; absent: the usual four",
            '["Tray taken out", "Cracks patched"]',
        ),
        *_ALL,
    ),
    "cool": (
        *_named("cool"),
        Key("to", temperature_c, True, "where the stage ends, downwards", '"100 C"'),
        Key("rate", forms.cool_rate_c_per_h, False, "no faster than this; absent: heat off", '"60 C/h"'),
        *_ALL,
    ),
}
