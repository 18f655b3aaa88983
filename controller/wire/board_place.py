"""Where a board's reader finds its temperature, from the kiln's file."""

from __future__ import annotations

from collections.abc import Callable

from controller.config import BoardReaderConfig
from controller.wire.board_kiln import Place
from controller.wire.thermocouple import Calibration, Letter, temperature_c


def place(config: BoardReaderConfig) -> Place:
    """Return a reader's place on its board."""
    cold = config.shows == "cold junction"
    return Place(config.channel, cold, config.lowest_c, config.highest_c, _correction(config))


def _correction(config: BoardReaderConfig) -> Callable[[float, float], float] | None:
    """Return what makes a true temperature of an indicated one and its cold junction; None for nothing."""
    straight, calibration = config.uv_per_k, config.calibration
    if straight is not None and config.thermocouple is not None:
        return _true_curve(config.thermocouple, straight, calibration)
    if calibration is not None:
        return lambda indicated_c, _: calibration.corrected(indicated_c).t_c
    return None


def _true_curve(
    letter: Letter, uv_per_k: float, calibration: Calibration | None
) -> Callable[[float, float], float]:
    def correct(indicated_c: float, cold_c: float) -> float:
        true_c = temperature_c(letter, (indicated_c - cold_c) * uv_per_k / 1000.0, cold_c)
        return true_c if calibration is None else calibration.corrected(true_c).t_c

    return correct
