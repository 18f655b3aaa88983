"""Bring-up: what to check before a kiln heats by itself, how each check is judged, and how long it holds.

Rules: `table`, `judge`, `model`, `parts` and `validity` are pure but for reading one small file;
`rig` opens the wire, and gives the heat output to a guard and to nothing else; `sensors`, `switching` and
`heating` carry out one step each on a rig; `course` leads a person through them. What stands here is what
the rest of the house may ask, and imports neither wire nor guard.
"""

from controller.commissioning.validity import Missing, exempt, missing, refusal

__all__ = ["Missing", "exempt", "missing", "refusal"]
