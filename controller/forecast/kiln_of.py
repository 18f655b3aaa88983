"""The model to forecast a kiln by: what was learnt of it, where something was, else a typical kiln."""

from __future__ import annotations

from pathlib import Path

from controller.forecast.kiln_known import KilnKnown, fitted_kiln, unknown_kiln
from controller.forecast.load_learnt import with_last_load
from controller.forecast.models import FREE, FittedKiln, load, newest_refused

OTHER_POWER = 0.02
"""A model whose power is further than this from the file's was fitted to another kiln, or before a repair."""


def kiln_of(power_w: float, home: Path | None) -> KilnKnown:
    """Return the model of a kiln of this power from its home folder. Raises UsageError if not readable."""
    fitted = None if home is None else load(home)
    if home is None:
        return unknown_kiln(power_w)
    if fitted is None:
        return _never_learnt(power_w, newest_refused(home))
    if abs(fitted.kiln.power_w / power_w - 1.0) > OTHER_POWER:
        unknown = unknown_kiln(power_w)
        was = f"the model in {home} is of a kiln of {fitted.kiln.power_w / 1000:.1f} kW and is not used"
        return unknown._replace(says=f"{unknown.says}; {was}")
    return with_last_load(fitted_kiln(fitted, FREE), fitted, home)


def _never_learnt(power_w: float, refused: FittedKiln | None) -> KilnKnown:
    """Return a kiln that no model is in use of; it says so where one was made and refused."""
    unknown = unknown_kiln(power_w)
    if refused is None:
        return unknown
    why = f"the model fitted to firing {refused.firing} is not used: {refused.refused}"
    return unknown._replace(says=f"{unknown.says}; {why}")
