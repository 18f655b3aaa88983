"""A job sheet: what a person can tell of a shell, its pattern and the metal. Everything is optional.

Nothing told is nothing known: `controller.forecast.known` fills the gaps with stated defaults, each a
band, so that what was not told shows in the width of every estimate.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class JobSheet:
    """What was told; None where nothing was."""

    title: str = ""
    material: str | None = None
    """A name of `controller.physics.material.MATERIALS`."""
    pattern_kg: float | None = None
    """The pattern's plastic, weighed."""
    fill: float | None = None
    """How hollow: plastic in the volume that the pattern encloses, its skin included, 0 to 1."""
    skin_m: float | None = None
    thickest_m: float | None = None
    """The pattern's thickest part."""
    height_m: float | None = None
    """From the highest plastic to the drain."""
    drained_kg: float | None = None
    """Plastic that ran out, weighed."""
    coats: int | None = None
    thickness_m: float | None = None
    """The wall, measured."""
    dry_kg: float | None = None
    """The shell alone, dry: without the pattern."""
    wet_kg: float | None = None
    """The same before it is fired, with its water, without the pattern."""
    mould: str | None = None
    reheated: bool = False
    """The shell was fired before and is empty."""
    metal: str | None = None
    metal_kg: float | None = None
    pour_c: float | None = None
    """Temperature of the metal at the pour."""
    melt_s: float | None = None
    """From lighting the furnace to metal ready to pour."""
    sprue_part: float | None = None
    """Metal in cup, sprue and runners, over that in the piece; 0 where they were weighed with the pattern."""
    loss_part: float | None = None
    text: str = ""
    """The file's own text, kept with the firing."""
    file: str = ""
