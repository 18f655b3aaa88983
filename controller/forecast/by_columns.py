"""Residuals and their derivatives for scipy, where many columns of unknowns are run at once."""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np

from controller.forecast.samples import Floats


class ByColumns(ABC):
    """A problem of least squares: the derivatives come from one run, a column for each unknown."""

    def __init__(self, steps: Floats) -> None:
        """`steps`: by how much each unknown is moved for its derivative."""
        self._steps = steps
        self._at: Floats = np.empty(0)
        self._found: tuple[Floats, Floats] | None = None

    @abstractmethod
    def residuals(self, columns: Floats) -> Floats:
        """Return a column of residuals for each column of unknowns, each over its standard deviation."""

    def both(self, unknowns: Floats) -> tuple[Floats, Floats]:
        """Return residuals and derivatives."""
        if self._found is None or not np.array_equal(self._at, unknowns):
            found = self.residuals(np.column_stack([unknowns, unknowns[:, None] + np.diag(self._steps)]))
            self._at = unknowns.copy()
            self._found = found[:, 0], (found[:, 1:] - found[:, :1]) / self._steps
        return self._found

    def off(self, unknowns: Floats) -> Floats:
        """Return the residuals."""
        return self.both(unknowns)[0]

    def derivatives(self, unknowns: Floats) -> Floats:
        """Return their derivatives: a row a residual, a column an unknown."""
        return self.both(unknowns)[1]
