# SPDX-License-Identifier: GPL-2.0-or-later
"""What the residuals of an adjusted network tell."""

from __future__ import annotations

from dataclasses import dataclass

from ..angles import Floats
from .adjustment import Adjustment

W_CRITICAL = 3.29
"""Critical value of a standardised residual, two-sided 0.1 % (Baarda 1968)."""


@dataclass(frozen=True, eq=False)
class Statistics:
    """By row ``(m,)`` unless said otherwise (`Observations.by_item` brings them into items).

    `redundancy` is the diagonal of Qvv P (NaN for unused rows), `standardised` the residual over
    its own standard error (w for scalar observations), `test` |w| of a scalar row or the chi-square
    of a correlated item (repeated on its rows), `critical` what it is compared with, `detectable`
    the minimal detectable bias in the row's unit (0.1 %, power 80 %).
    `reference_variance` is a posteriori over a priori; `lower_bound`, `upper_bound` hold it with
    95 % probability.
    """

    redundancy: Floats
    standardised: Floats
    test: Floats
    critical: Floats
    detectable: Floats
    reference_variance: float
    degrees_of_freedom: int
    lower_bound: float
    upper_bound: float

    @property
    def passes(self) -> bool:
        """Whether the global chi-square test at 95 % is passed (true without redundancy)."""
        if self.degrees_of_freedom == 0:
            return True
        return self.lower_bound <= self.reference_variance <= self.upper_bound


def statistics_of(adjustment: Adjustment) -> Statistics:
    """Redundancy numbers, standardised residuals and tests of an adjustment."""
    raise NotImplementedError


def error_ellipse(covariance_m2: Floats) -> tuple[Floats, Floats, Floats]:
    """95 % ellipses of positions: semi-major and semi-minor axes (m) and azimuth of the major one
    (rad, 0 to pi), each ``(...)``, of covariances ``(..., 2, 2)``."""
    raise NotImplementedError
