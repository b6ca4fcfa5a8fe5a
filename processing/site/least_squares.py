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
from .observations import CONTROL, Observations

FREE_ROTATION_RAD = 10.0
FREE_POSITION_M = 1e4
"""A priori errors that leave a shared error free: far beyond anything that occurs."""

CRITICAL = {1: 3.29, 2: 3.717}
"""Bounds of a standardised residual at a false alarm rate of 0.1 %: of the normal distribution, and
the root of chi-square 13.82 for the two coordinates of a position."""

ITERATIONS = 50
ROUNDING = 1e-14
CLOSE = 1e-7
"""The iteration ends when no parameter moves by more than this part of its standard error."""


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
    """Fit the used items ``(I,)`` by least squares (Gauss-Newton with the full covariance).

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
    prior = np.array(
        [
            FREE_ROTATION_RAD if free_compass else observations.sigma_declination_rad,
            FREE_POSITION_M if free_geotags else observations.sigma_datum_m,
            FREE_POSITION_M if free_geotags else observations.sigma_datum_m,
        ]
    )
    # An exact shared error is no parameter: a variance of zero would have no weight.
    known = prior > 0
    columns = np.concatenate([[True, True, True], known])
    prior_rows = np.eye(6)[3:][known][:, columns]
    prior_variance = prior[known] ** 2

    def off(at: Floats) -> Floats:
        """Observed minus computed, with the shared errors taken off."""
        shared = observations.design(float(at[2]))[:, 3:] @ at[3:]
        return observations.misclosure(*at[:3]) - shared

    def cost(at: Floats) -> float:
        rest = off(at)[used]
        return float(rest @ cho_solve(factor, rest) + (at[3:][known] ** 2 / prior_variance).sum())

    parameters = np.concatenate([start(observations, use), np.zeros(3)])
    for _ in range(ITERATIONS):
        rotation = float(parameters[2])
        a, c = observations.design(rotation), observations.covariance(rotation)
        factor = cho_factor(c[np.ix_(used, used)], lower=True)
        weighted = cho_solve(factor, a[used][:, columns])
        normal = a[used][:, columns].T @ weighted + prior_rows.T @ (
            prior_rows / prior_variance[:, None]
        )
        right = weighted.T @ off(parameters)[used] - prior_rows.T @ (
            prior_rows @ parameters[columns] / prior_variance
        )
        covariance = _inverse(normal)
        step = np.zeros(6)
        step[columns] = covariance @ right
        if (np.abs(step[columns]) < CLOSE * np.sqrt(np.diagonal(covariance))).all():
            break
        # Evidence that does not fit together makes the full step overshoot, and leaves a sum of
        # squares so large that its rounding hides the last steps.
        before = cost(parameters)
        while (after := cost(parameters + step)) > before and np.abs(step).max() > 1e-12:
            step /= 2
        parameters = parameters + step
        if 0 <= before - after <= ROUNDING * before:
            break
    else:
        raise SurveyError(
            "Site fit: the least-squares fit of east, north and rotation does not settle; check "
            "the geotags, compass bearings and control points against each other."
        )
    parameters[2] = wrap_half(parameters[2])
    full = np.zeros((6, 6))
    full[np.ix_(columns, columns)] = covariance

    a = observations.design(float(parameters[2]))
    residual = off(parameters)
    u = np.zeros(len(item))
    u[used] = cho_solve(factor, residual[used])
    m = np.zeros((len(item), len(item)))
    inverse = cho_solve(factor, np.eye(int(used.sum())))
    m[np.ix_(used, used)] = inverse - weighted @ covariance @ weighted.T
    standardised, redundancy = _tests(observations, use, u, m, c)
    unused = np.flatnonzero(~use)
    if len(unused):
        gain = covariance @ weighted.T
        for i in unused:
            rows = item == i
            standardised[i] = _predicted(
                residual[rows], a[rows][:, columns], c[np.ix_(rows, rows)],
                c[np.ix_(rows, used)], gain, covariance,
            )  # fmt: skip
    parameters[:2] += reference
    chi_square = np.bincount(item, residual * u, minlength=len(use)).astype(float)
    return Solution(parameters, full, residual, standardised, redundancy, chi_square)


def start(observations: Observations, use: NDArray[np.bool_]) -> Floats:
    """East, north, rotation ``(3,)`` near the solution, whatever single observations are wrong.

    Rotations all around, those of the bearings and those of the point sets are tried; the one with
    the smallest sum of log(1 + (residual / sigma)^2) wins, a cost that outliers hardly move.
    """
    positions, bearings = use[: observations.positions], use[observations.positions :]
    plan, host = observations.plan_m[positions], observations.host_m[positions]
    sigma = observations.sigma[: observations.positions][positions]
    bearing = observations.bearing_rad[bearings]
    bearing_sigma = np.hypot(
        observations.sigma[observations.positions :][bearings], observations.sigma_declination_rad
    )
    control = observations.of_kind(CONTROL)[: observations.positions][positions]
    candidates = [np.radians(np.arange(0.0, 360.0, 5.0)), bearing]
    for chosen in (np.ones(len(plan), dtype=bool), control):
        if chosen.sum() > 1:
            candidates.append(_turn_between(plan[chosen], host[chosen], sigma[chosen]))
    rotations = np.concatenate(candidates)

    weight = sigma**-2.0 / (sigma**-2.0).sum()
    plan_centre, host_centre = weight @ plan, weight @ host
    s, c = np.sin(rotations)[:, None], np.cos(rotations)[:, None]
    x, y = (observations.scale * (plan - plan_centre)).T
    east, north = (host - host_centre).T
    off = np.hypot(east - x * c - y * s, north + x * s - y * c) / sigma
    turned_off = wrap_half(bearing - rotations[:, None]) / bearing_sigma
    cost = np.log1p(off**2).sum(axis=1) + np.log1p(turned_off**2).sum(axis=1)
    rotation = float(rotations[int(np.argmin(cost))])
    origin = host_centre - observations.scale * turn(plan_centre, rotation)
    return np.array([origin[0], origin[1], rotation])


def _turn_between(plan: Floats, host: Floats, sigma: Floats) -> Floats:
    """Rotation ``(1,)`` of the best similarity between two point sets (Ghilani, Adjustment
    Computations, chapter 18)."""
    weight = sigma**-2.0 / (sigma**-2.0).sum()
    (x, y), (east, north) = (plan - weight @ plan).T, (host - weight @ host).T
    return np.atleast_1d(
        np.arctan2(weight @ (y * east - x * north), weight @ (x * east + y * north))
    )


def _inverse(normal: Floats) -> Floats:
    """Inverse of the normal matrix, scaled first: its columns have different units."""
    scale = np.sqrt(np.diagonal(normal))
    if not (scale > 0).all():
        raise SurveyError("Site fit: the evidence does not fix east, north and rotation.")
    inner = normal / np.outer(scale, scale)
    inverse = np.linalg.inv(inner)
    return 0.5 * (inverse + inverse.T) / np.outer(scale, scale)


def _tests(
    observations: Observations, use: NDArray[np.bool_], u: Floats, m: Floats, c: Floats
) -> tuple[Floats, Floats]:
    """Standardised residuals and redundancy numbers ``(I,)``."""
    count = len(observations)
    item = observations.item_of_row
    standardised, redundancy = np.full(count, np.nan), np.full(count, np.nan)
    per_row = np.einsum("ij,ji->i", m, c)
    for i in np.flatnonzero(use).tolist():
        rows = np.flatnonzero(item == i)
        redundancy[i] = per_row[rows].mean()
        values, vectors = np.linalg.eigh(m[np.ix_(rows, rows)] * observations.sigma[i] ** 2)
        checked = values > 1e-9
        if not checked.any():
            continue
        whitener = (vectors[:, checked] / np.sqrt(values[checked])).T * observations.sigma[i]
        standardised[i] = np.linalg.norm(whitener @ u[rows])
    return standardised, redundancy


def _predicted(
    residual: Floats, a: Floats, own: Floats, with_used: Floats, gain: Floats, covariance: Floats
) -> float:
    """Standardised difference of an item that is not used from what the others predict."""
    mixed = a @ gain @ with_used.T
    spread = own + a @ covariance @ a.T - mixed - mixed.T
    return math.sqrt(max(float(residual @ np.linalg.solve(spread, residual)), 0.0))
