# SPDX-License-Identifier: GPL-2.0-or-later
"""What the residuals of an adjusted network tell.

Reliability after Baarda, *A testing procedure for use in geodetic networks* (1968): redundancy
numbers, standardised residuals with a-priori sigma, minimal detectable bias; correlated items by
their chi-square as in Teunissen, *Testing theory* (2006), ch. 4. Global test and error ellipses:
Ghilani, *Adjustment Computations*, 5th ed., ch. 4, 19 and 21.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Protocol

import numpy as np
from scipy.optimize import brentq
from scipy.stats import chi2, ncx2

from ..angles import Floats
from .observations import Bools, Observations
from .observations_equations import Equation

W_CRITICAL = 3.29
"""Critical value of a standardised residual, two-sided 0.1 % (Baarda 1968)."""
ELLIPSE_FACTOR = 2.448
"""Axes of a 95 % error ellipse in those of the standard ellipse: the root of chi-square's 95 %
point with 2 degrees of freedom."""
POWER = 0.80
"""Probability with which a bias of the minimal detectable size is found (Baarda 1968)."""
LEAST_REDUNDANCY = 1e-6
"""Below this an observation is not controlled by others: rounding, not a residual, is seen."""


@dataclass(frozen=True, eq=False)
class Statistics:
    """By row ``(m,)`` unless said otherwise (`Observations.by_item` brings them into items).

    `redundancy` is the diagonal of Qvv P (NaN for unused rows), `standardised` the residual over
    its own standard error (w for scalar observations; 0 where the observation is not controlled,
    for rows not used the error of a prediction), `test` |w| of a scalar row or the chi-square
    of a correlated item (repeated on its rows), `critical` what it is compared with, `detectable`
    the minimal detectable bias in the row's unit (0.1 %, power 80 %; infinite where the
    observation is not controlled). `control` is the least redundancy of a row's item in any
    direction (of a scalar observation its redundancy): what is left when the item is taken out is
    determined only if this is above zero.
    `reference_variance` is a posteriori over a priori (1 without redundancy); with 95 %
    probability it lies between `lower_bound` and `upper_bound`.
    """

    redundancy: Floats
    control: Floats
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


class Adjusted(Protocol):
    """What statistics are taken of: `adjustment.Adjustment`, or one that was brought up to date
    (`adjustment_updates.Updated`)."""

    @property
    def observations(self) -> Observations: ...
    @property
    def used(self) -> Bools: ...
    @property
    def residual(self) -> Floats: ...
    @property
    def sum_of_squares(self) -> float: ...
    @property
    def degrees_of_freedom(self) -> int: ...
    def observation_covariance(self) -> list[tuple[Equation, Floats]]:
        """Covariances ``(n, d, d)`` of the adjusted observations, by kind with its equations."""


def statistics_of(adjustment: Adjusted) -> Statistics:
    """Redundancy numbers, standardised residuals and tests of an adjustment."""
    rows = adjustment.observations.rows
    redundancy, control, standardised, test, critical, detectable = np.zeros((6, rows))
    for equation, adjusted in adjustment.observation_covariance():
        at = equation.rows
        correlated, size = equation.kind.correlated, equation.kind.components
        used = adjustment.used[at].reshape(-1, size)
        residual = adjustment.residual[at].reshape(-1, size)
        # A row that took part has its residual's covariance, one that did not a prediction's.
        sign = np.where(used, -1.0, 1.0)[:, :, None]
        of_residual = equation.covariance + sign * adjusted
        weight = np.swapaxes(equation.whitening, 1, 2) @ equation.whitening
        parts = np.einsum("nij,nji->ni", of_residual, weight)
        controlled = parts > LEAST_REDUNDANCY
        spread = np.sqrt(np.where(controlled, np.einsum("nii->ni", of_residual), 1.0))
        w = np.where(controlled, residual / spread, 0.0)
        sensitivity = np.einsum("nij,njk,nki->ni", weight, of_residual, weight)
        limit = noncentrality(size if correlated else 1)
        with np.errstate(divide="ignore", invalid="ignore"):
            smallest = np.sqrt(limit / np.where(controlled, sensitivity, 0.0))
        if not correlated:  # rounding may take the redundancy of an uncontrolled row below zero
            parts = np.maximum(parts, 0.0)
        redundancy[at] = np.where(used, parts, np.nan).ravel()
        standardised[at] = w.ravel()
        detectable[at] = smallest.ravel()
        if correlated:
            square, least = _chi_square(residual, of_residual, weight)
            test[at], critical[at] = np.repeat(square, size), critical_value(size)
            control[at] = np.where(used, least[:, None], np.nan).ravel()
        else:
            test[at], critical[at], control[at] = np.abs(w).ravel(), W_CRITICAL, redundancy[at]
    freedom = adjustment.degrees_of_freedom
    lower, upper = variance_bounds(freedom)
    return Statistics(
        redundancy=redundancy,
        control=control,
        standardised=standardised,
        test=test,
        critical=critical,
        detectable=detectable,
        reference_variance=adjustment.sum_of_squares / freedom if freedom > 0 else 1.0,
        degrees_of_freedom=freedom,
        lower_bound=lower,
        upper_bound=upper,
    )


def _chi_square(residual: Floats, covariance: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """v' Qvv^- v ``(n,)`` of correlated items, in which directions that other observations do not
    control count for nothing, and the redundancy in the least controlled direction ``(n,)``."""
    # Whitened by the a-priori covariance the eigenvalues are redundancies, 0 to 1.
    lower = np.linalg.cholesky(weight)
    white = np.swapaxes(lower, 1, 2)
    values, vectors = np.linalg.eigh(white @ covariance @ lower)
    seen = np.einsum("nji,nj->ni", vectors, np.einsum("nij,nj->ni", white, residual))
    controlled = values > LEAST_REDUNDANCY
    square = np.where(controlled, seen**2 / np.where(controlled, values, 1.0), 0.0).sum(axis=1)
    return square, values[:, 0]


@cache
def critical_value(freedom: int) -> float:
    """Critical chi-square of a correlated item, 0.1 % (16.27 with 3 degrees of freedom)."""
    return float(chi2.isf(0.001, freedom))


@cache
def noncentrality(freedom: int) -> float:
    """Noncentrality at which a test of 0.1 % has the power of 80 % (17.07 with one degree: the
    square of delta0 = 4.13)."""
    critical = float(chi2.isf(0.001, freedom))
    return float(brentq(lambda x: ncx2.sf(critical, freedom, x) - POWER, 1.0, 100.0))


def variance_bounds(freedom: int) -> tuple[float, float]:
    """Bounds of the reference variance at 95 % from chi-square, both 1 without redundancy."""
    if freedom <= 0:
        return 1.0, 1.0
    return float(chi2.ppf(0.025, freedom) / freedom), float(chi2.ppf(0.975, freedom) / freedom)


def error_ellipse(covariance_m2: Floats) -> tuple[Floats, Floats, Floats]:
    """95 % ellipses of positions: semi-major and semi-minor axes (m) and azimuth of the major one
    (rad, 0 to pi), each ``(...)``, of covariances ``(..., 2, 2)`` (Ghilani, eqs. 19.12-19.15)."""
    q = np.asarray(covariance_m2, dtype=float)
    mean = 0.5 * (q[..., 0, 0] + q[..., 1, 1])
    half = np.hypot(0.5 * (q[..., 0, 0] - q[..., 1, 1]), q[..., 0, 1])
    azimuth = 0.5 * np.arctan2(2.0 * q[..., 0, 1], q[..., 1, 1] - q[..., 0, 0]) % np.pi
    major = ELLIPSE_FACTOR * np.sqrt(mean + half)
    minor = ELLIPSE_FACTOR * np.sqrt(np.maximum(mean - half, 0.0))
    return major, minor, azimuth
