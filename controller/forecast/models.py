"""The fitted kiln, and where it is kept: `model.json` in the home folder, and every one in `models/`.

A file that is not what is expected is told of in one line; it is never half believed.
"""

from __future__ import annotations

import json
import math
import os
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from controller.errors import UsageError
from controller.physics.grey import GreyKiln, typical

FREE = tuple(name for name in GreyKiln._fields if name not in ("power_w", "room_c"))
"""What is fitted. The power is the kiln's file's, the room's temperature is that of the cold kiln."""

MODEL_NAME = "model.json"
HISTORY_NAME = "models"
FORM = 1
SAME_POWER = 0.02  # a model fitted with another power than the file's is another kiln's; 2 % is rounding
FARTHEST = dict.fromkeys(FREE, 20.0) | {"elements_w_per_k": 2000.0}
"""A fit ends within e^2.5 (12) times a typical kiln of its power, either way; the elements' convection, which
follows their surface in the quick fit, within e^7 (1097). Beyond is no fit's, and control would run wild."""


@dataclass(frozen=True, slots=True)
class FittedKiln:
    """A kiln's numbers, with what they were fitted on and how well.

    `covariance`: of the logarithms of `FREE`. `rms_k`: what is left of the air where it was fitted;
    `held_out_rms_k`: where it was not (NaN: nothing was). `unknown_w`: the heat (RMS) that is not the
    kiln's while no plastic can burn; `fire_part`: what there is of it while plastic may, over the heat that
    was given. `refused`: why it is not used; empty: it is. `quick`: the same kiln with what happens within a
    relay's rounds fitted tick by tick; None: it was not.
    """

    kiln: GreyKiln
    covariance: tuple[tuple[float, ...], ...]
    firing: int
    span_h: float
    lowest_c: float
    highest_c: float
    rms_k: float
    held_out_rms_k: float
    unknown_w: float = 0.0
    refused: str = ""
    fire_part: float = 0.0
    quick: GreyKiln | None = None

    @property
    def for_control(self) -> GreyKiln:
        """The kiln as feedback has to know it."""
        return self.kiln if self.quick is None else self.quick

    def spread(self, name: str) -> float:
        """Return one standard deviation of a number, as a part of it."""
        place = FREE.index(name)
        return math.sqrt(max(0.0, self.covariance[place][place]))

    def judged(self, refused: str) -> FittedKiln:
        """Return it with the verdict."""
        return replace(self, refused=refused)


def same_power(one_w: float, other_w: float) -> bool:
    """Whether two powers (W) are one kiln's."""
    return abs(one_w / other_w - 1.0) <= SAME_POWER


def to_text(fitted: FittedKiln) -> str:
    """Return a fitted kiln as JSON."""
    held = fitted.held_out_rms_k
    told = asdict(fitted) | {
        "form": FORM,
        "kiln": fitted.kiln._asdict(),
        "quick": None if fitted.quick is None else fitted.quick._asdict(),
        "held_out_rms_k": None if math.isnan(held) else held,
    }
    return json.dumps(told, indent=1) + "\n"


def from_text(text: str, file: str) -> FittedKiln:
    """Read a fitted kiln. Raises UsageError where it is not one."""
    try:
        told = json.loads(text)
        if told.pop("form") != FORM:
            raise ValueError("another form")
        held = told.pop("held_out_rms_k")
        kiln, quick = _kiln(told.pop("kiln")), told.pop("quick", None)
        covariance = tuple(tuple(float(v) for v in row) for row in told.pop("covariance"))
        if [len(row) for row in covariance] != [len(FREE)] * len(FREE):
            raise ValueError("a covariance of another size")
        return FittedKiln(
            kiln=kiln,
            covariance=covariance,
            held_out_rms_k=math.nan if held is None else float(held),
            quick=None if quick is None else _quick(quick, kiln),
            **told,
        )
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError, RecursionError) as error:
        raise UsageError(
            f"{file}: found {error}, expected a kiln model as stokehold learn writes it"
        ) from error


def _kiln(told: dict[str, object]) -> GreyKiln:
    """Read a kiln's numbers. Raises ValueError where one is such as no fit makes it."""
    kiln = GreyKiln(**{name: float(value) for name, value in told.items()})  # type: ignore[arg-type]
    if not (1.0 < kiln.power_w < 1e7 and -50.0 < kiln.room_c < 60.0):
        raise ValueError(f"a power of {kiln.power_w:g} W in a room of {kiln.room_c:g} C")
    usual = typical(kiln.power_w)
    for name, times in FARTHEST.items():
        number, typically = getattr(kiln, name), getattr(usual, name)
        if not typically / times <= number <= typically * times:
            raise ValueError(f"{name} {number:g}, where a typical kiln has {typically:g}")
    return kiln


def _quick(told: dict[str, object], kiln: GreyKiln) -> GreyKiln:
    """Read the same kiln's quick numbers; another kiln's are none."""
    quick = _kiln(told)
    if (quick.power_w, quick.room_c) != (kiln.power_w, kiln.room_c):
        raise ValueError("quick numbers of another power or room")
    return quick


def keep(fitted: FittedKiln, home: Path) -> Path:
    """Keep a fit: in the history always, as the kiln's model when it was not refused. Returns where."""
    text = to_text(fitted)
    history = home / HISTORY_NAME / f"firing-{fitted.firing}.json"
    try:
        history.parent.mkdir(parents=True, exist_ok=True)
        history.write_text(text)
        if fitted.refused:
            return history
        model = home / MODEL_NAME
        new = model.with_suffix(".new")
        new.write_text(text)
        os.replace(new, model)
    except OSError as error:
        raise UsageError(f"{home}: the model cannot be kept: {error.strerror}") from error
    return model


def load(home: Path) -> FittedKiln | None:
    """Return the kiln's model, None where none was kept or it was refused. Raises UsageError."""
    path = home / MODEL_NAME
    if not path.exists():
        return None
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise UsageError(f"{path}: cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{path}: found bytes that are no text, expected a kiln model") from error
    fitted = from_text(text, str(path))
    return None if fitted.refused else fitted


def newest_refused(home: Path) -> FittedKiln | None:
    """Return the fit to the newest firing, if that fit was refused; None: it was not, or nothing was fitted.

    What cannot be read is passed over: it is only told of.
    """
    kept = {
        int(path.stem[len("firing-") :]): path
        for path in (home / HISTORY_NAME).glob("firing-*.json")
        if path.stem[len("firing-") :].isdigit()
    }
    if not kept:
        return None
    path = kept[max(kept)]
    try:
        fitted = from_text(path.read_text(encoding="utf-8"), str(path))
    except (OSError, UnicodeDecodeError, UsageError):
        return None
    return fitted if fitted.refused else None
