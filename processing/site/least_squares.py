# SPDX-License-Identifier: GPL-2.0-or-later
"""Weighted least squares of east, north and rotation, with the test of every observation."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from ..angles import Floats, turn, wrap_half
from ..errors import SurveyError
from .observations import Observations
from .start import start

FREE_ROTATION_RAD = 10.0
FREE_POSITION_M = 1e4
"""A priori errors that leave a shared error free: far beyond anything that occurs."""

CRITICAL = {1: 3.29, 2: 3.717}
"""Bounds of a standardised residual at a false alarm rate of 0.1 %: of the normal distribution, and
the root of chi-square 13.82 for the two coordinates of a position."""

ITERATIONS = 100
REWEIGHTED = 8
ROUNDING = 1e-14
SINGULAR = 1e-14
SMALLEST_RAD = 1e-13
FLAT = 0.01
FARTHEST_STEP_RAD = 0.5
UNCHECKED = 1e-9
"""An observation with a smaller share of its own error in its residual is checked by nothing."""
CLOSE = 1e-6
"""The iteration ends when the rotation moves by less than this part of its standard error."""


@dataclass(frozen=True, eq=False)
class Solution:
    """`parameters (6,)` and `covariance (6, 6)` of east, north (m), rotation (rad), shared error of
    the bearings (rad), shared east and north error of the geotags (m).

    Per row: `residual` (observed minus computed, shared errors taken off). Per item: `standardised`
    (NaN where nothing checks it) and `redundancy` (0 to 1, mean of its rows; NaN for an item that
    is not used). `chi_square` per item is its share of the weighted sum of squares.
    """

    parameters: Floats
    covariance: Floats
    residual: Floats
    standardised: Floats
    redundancy: Floats
    chi_square: Floats

    @property
    def fit_covariance(self) -> Floats:
        return self.covariance[:3, :3]


def solve(
    observations: Observations,
    use: NDArray[np.bool_],
    *,
    free_compass: bool = False,
    free_geotags: bool = False,
) -> Solution:
    """Fit the used items ``(I,)`` by least squares (with the full covariance).

    The shared errors of bearings (declination) and geotags (change of datum) are parameters with an
    observation of zero each; `free_compass` and `free_geotags` let them take any value, so that
    bearings, or geotags, are compared only with each other.

    Tests: for correlated observations u = C^-1 v, M = C^-1 - C^-1 A Q A' C^-1, and an item's
    standardised residual is sqrt(u' M^-1 u) over its rows (Baarda 1968, A testing procedure for use
    in geodetic networks; Teunissen, Testing Theory, the w-test and its form in q dimensions).
    From memory of the textbook form.
    """
    # Near its own origin: coordinates of 1e7 m would cost seven of the sixteen digits.
    reference = observations.host_m[use[: observations.positions]][0]
    observations = replace(observations, host_m=observations.host_m - reference)
    item = observations.item_of_row
    used = use[item]
    shared_error = np.array(
        [
            FREE_ROTATION_RAD if free_compass else observations.sigma_declination_rad,
            FREE_POSITION_M if free_geotags else observations.sigma_datum_m,
            FREE_POSITION_M if free_geotags else observations.sigma_datum_m,
        ]
    )
    rotation = weighted_at = start(observations, use)
    for iteration in range(ITERATIONS):
        # The plan's covariance turns with the plan; where residuals are thousands of standard
        # errors the weights and the rotation would chase each other for ever.
        if iteration < REWEIGHTED:
            weighted_at = rotation
        system = _System(observations, used, shared_error, rotation, weighted_at)
        parameters, rest, cost = system.at(rotation)
        step = system.step(rest, rotation)
        if abs(step) < CLOSE * math.sqrt(system.covariance[2, 2]):
            break
        # Evidence that does not fit together makes the full step overshoot, and leaves a sum of
        # squares so large that its rounding hides the last steps.
        moved = system.at(rotation + step)
        while moved[2] > cost and abs(step) > SMALLEST_RAD:
            step /= 2
            moved = system.at(rotation + step)
        rotation += step
        if cost - moved[2] <= ROUNDING * cost:
            parameters, rest, cost = moved
            break
    else:
        raise SurveyError(
            "Site fit: the least-squares fit of east, north and rotation does not settle; check "
            "the geotags, compass bearings and control points against each other."
        )
    return system.solution(use, parameters + [*reference, 0, 0, 0, 0], rest)


class _System:
    """The normal equations at one rotation, with the weights of (nearly) the same.

    East, north and the shared errors enter the observations linearly and are eliminated: `at` gives
    their best values at any rotation, so that the search runs over the rotation alone (variable
    projection, Golub and Pereyra 1973). Otherwise a control point of millimetres would make a
    narrow curved valley of east, north and rotation.
    """

    def __init__(
        self,
        observations: Observations,
        used: NDArray[np.bool_],
        shared_error: Floats,
        rotation: float,
        weighted_at: float,
    ) -> None:
        # An exact shared error is no parameter: a variance of zero would have no weight.
        known = shared_error > 0
        self.columns = np.concatenate([[True, True, True], known])
        self.linear = np.flatnonzero(np.arange(known.sum() + 3) != 2)
        self.observations, self.used = observations, used
        self.a = observations.design(rotation)[:, self.columns]
        self.c = observations.covariance(weighted_at)
        self.factor = cho_factor(self.c[np.ix_(used, used)], lower=True)
        self.weighted = cho_solve(self.factor, self.a[used])
        # The shared errors' own observations: zero, with their variances.
        self.prior = np.concatenate([np.zeros(3), shared_error[known] ** -2.0])
        self.normal = self.a[used].T @ self.weighted + np.diag(self.prior)
        self.covariance = _inverse(self.normal)
        # Inverse of the normal matrix without the rotation, by blocks of the whole inverse.
        turned = self.covariance[self.linear, 2]
        self.eliminated = (
            self.covariance[np.ix_(self.linear, self.linear)]
            - np.outer(turned, turned) / self.covariance[2, 2]
        )

    def at(self, rotation: float) -> tuple[Floats, Floats, float]:
        """Parameters ``(6,)``, observed minus computed ``(n,)`` and weighted sum of squares."""
        whole = self.observations.misclosure(0.0, 0.0, rotation)
        linear = self.eliminated @ (self.weighted[:, self.linear].T @ whole[self.used])
        rest = whole - self.a[:, self.linear] @ linear
        own = rest[self.used]
        inner = np.insert(linear, 2, rotation)
        parameters = np.zeros(6)
        parameters[self.columns] = inner
        cost = own @ cho_solve(self.factor, own) + self.prior[3:] @ inner[3:] ** 2
        return parameters, rest, float(cost)

    def step(self, rest: Floats, rotation: float) -> float:
        """The step of the rotation: Newton's, with the second derivative, which matters where
        residuals are as large as the plan. Where the sum of squares is curved the other way, the
        size of the curvature still scales a step downhill."""
        own = rest[self.used]
        second = np.zeros(len(rest))
        second[: 2 * self.observations.positions] = (
            self.observations.scale * turn(self.observations.plan_m, rotation)
        ).ravel()
        straight = 1 / self.covariance[2, 2]
        curved = straight + float(cho_solve(self.factor, own) @ second[self.used])
        slope = float(self.weighted[:, 2] @ own)
        step = slope / max(abs(curved), FLAT * straight)
        return min(max(step, -FARTHEST_STEP_RAD), FARTHEST_STEP_RAD)

    def solution(self, use: NDArray[np.bool_], parameters: Floats, residual: Floats) -> Solution:
        """The fit with the tests of every item."""
        used, c, a, factor = self.used, self.c, self.a, self.factor
        item = self.observations.item_of_row
        u, m = np.zeros(len(item)), np.zeros((len(item), len(item)))
        u[used] = cho_solve(factor, residual[used])
        inverse = cho_solve(factor, np.eye(int(used.sum())))
        m[np.ix_(used, used)] = inverse - self.weighted @ self.covariance @ self.weighted.T
        standardised, redundancy = _tests(self.observations, use, u, m, c)
        for i in np.flatnonzero(~use):
            rows = item == i
            # What the used observations tell of this one's error, through the plan's covariance.
            known_part = cho_solve(factor, c[np.ix_(used, rows)]).T
            off_predicted = residual[rows] - known_part @ residual[used]
            direct = a[rows] - known_part @ a[used]
            spread = c[np.ix_(rows, rows)] - known_part @ c[np.ix_(used, rows)]
            spread = spread + direct @ self.covariance @ direct.T
            standardised[i] = math.sqrt(off_predicted @ np.linalg.solve(spread, off_predicted))
        covariance = np.zeros((6, 6))
        covariance[np.ix_(self.columns, self.columns)] = self.covariance
        parameters[2] = wrap_half(parameters[2])
        chi_square = np.bincount(item, residual * u, minlength=len(use)).astype(float)
        return Solution(parameters, covariance, residual, standardised, redundancy, chi_square)


def _inverse(normal: Floats) -> Floats:
    """Inverse of the normal matrix, scaled first: its columns have different units."""
    diagonal = np.diagonal(normal)
    scale = np.sqrt(np.where(diagonal > 0, diagonal, 1.0))
    try:
        root = np.linalg.cholesky(normal / np.outer(scale, scale))
    except np.linalg.LinAlgError:
        root = np.zeros_like(normal)
    if np.diagonal(root).min() ** 2 < SINGULAR:
        raise SurveyError("Site fit: the evidence does not fix east, north and rotation.")
    inverse = np.linalg.inv(root)
    return (inverse.T @ inverse) / np.outer(scale, scale)


def _tests(
    observations: Observations, use: NDArray[np.bool_], u: Floats, m: Floats, c: Floats
) -> tuple[Floats, Floats]:
    """Standardised residuals and redundancy numbers ``(I,)``; NaN where nothing checks an item."""
    count = observations.positions
    rows = 2 * count
    pairs = 2 * np.arange(count)[:, None] + np.arange(2)
    blocks = m[pairs[:, :, None], pairs[:, None, :]]
    values, vectors = np.linalg.eigh(blocks)
    along = np.einsum("iab,ia->ib", vectors, u[pairs])
    checked = values * observations.sigma[:count, None] ** 2 > UNCHECKED
    squares = np.where(checked, along**2 / np.where(checked, values, 1.0), 0.0).sum(axis=1)
    of_positions = np.where(checked.any(axis=1), np.sqrt(squares), np.nan)

    own = np.diagonal(m)[rows:]
    checked = own * observations.sigma[count:] ** 2 > UNCHECKED
    of_bearings = np.where(checked, np.abs(u[rows:]) / np.sqrt(np.where(checked, own, 1.0)), np.nan)
    per_row = np.einsum("ij,ji->i", m, c)
    redundancy = np.concatenate([per_row[:rows].reshape(-1, 2).mean(axis=1), per_row[rows:]])
    standardised = np.concatenate([of_positions, of_bearings])
    return np.where(use, standardised, np.nan), np.where(use, redundancy, np.nan)
