"""An invented estimate of the invented firing, in the shape of web/estimates; nothing was worked out."""

from __future__ import annotations

from typing import Any

from controller.live import Frame

Json = dict[str, Any]


def band(low: float | None, typical: float | None, high: float | None) -> Json:
    return {"low": low, "typical": typical, "high": high}


SHELL = {
    "face_c": band(374.0, 377.0, 380.0),
    "core_c": band(340.0, 352.0, 361.0),
    "lag_k": band(16.0, 25.0, 37.0),
    "lag_s": band(120.0, 200.0, 330.0),
    "water_kg": band(0.0, 0.0, 0.04),
    "plastic_kg": band(0.06, 0.143, 0.31),
    "drained_kg": band(0.1, 0.25, 0.3),
    "char_kg": band(0.0, 0.002, 0.006),
    "ash_kg": band(0.0, 0.001, 0.003),
    "steam_pa": band(0.0, 0.0, 0.0),
    "heat_work_s": band(0.0, 0.0, 0.0),
    "strength_part": band(0.0, 0.0, 0.0),
    "blind_s": 0.0,
}
VENT = {
    "severity": "warn",
    "says": "The plastic's vapour takes 1.4 m3 of air an hour at its height, and the vent passes 1.2.",
    "remedy": "Let 2.8 m3 an hour pass.",
    "key": "air",
    "at_s": 900.0,
}


def told(frame: Frame, **changes: Any) -> Json:
    """The estimate of a frame's firing: ready in eight hours, give or take."""
    hours = [3600.0 * n for n in range(11)]
    air = [408.0 + 40.0 * n for n in range(11)]
    return {
        "ok": True,
        "says": "",
        "firing": frame["firing"],
        "mono_s": frame["mono_s"],
        "job": {"says": "no job sheet: defaults", "told": []},
        "no_shell": False,
        "no_plastic": False,
        "shell": SHELL,
        "ready_s": band(27000.0, 28800.0, 32400.0),
        "energy_kwh": band(20.0, 24.0, 31.0),
        "used_kwh": 12.6,
        "rows": [],
        "findings": [VENT, VENT | {"severity": "note", "says": "A mere note."}],
        "curves": {
            "air": [list(each) for each in zip(hours, air, strict=True)],
            "core": [[t, c - 30.0] for t, c in zip(hours, air, strict=True)],
            "band": [[t, c - 2.0 - t / 900.0, c + 2.0 + t / 600.0] for t, c in zip(hours, air, strict=True)],
            "core_past": [[-7200.0 + 600.0 * n, 60.0 + 26.0 * n] for n in range(13)],
        },
    } | changes


CHANGES: Json = {"ok": False, "says": "none in this test"}
"""What the server's estimate differs in; tests that look at estimates set it, and set it back."""


async def run(name: str, *args: Any) -> Json:
    """A worker that knows the answer."""
    return told(args[1]) | CHANGES
