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
SINGULAR = 1e-14
UNCHECKED = 1e-9
"""An observation with a smaller share of its own error in its residual is checked by nothing."""
CLOSE = 1e-5
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
        rest = observations.misclosure(*at[:3])
        return rest - shared @ at[3:]

    def cost(rest: Floats, at: Floats) -> float:
        own = rest[used]
        return float(own @ cho_solve(factor, own) + (at[3:][known] ** 2 / prior_variance).sum())

    parameters = np.concatenate([start(observations, use), np.zeros(3)])
    # The shared errors' columns hold for every rotation.
    shared = observations.design(0.0)[:, 3:]
    rest = off(parameters)
    for _ in range(ITERATIONS):
        rotation = float(parameters[2])
        a, c = observations.design(rotation)[:, columns], observations.covariance(rotation)
        factor = cho_factor(c[np.ix_(used, used)], lower=True)
        weighted = cho_solve(factor, a[used])
        normal = a[used].T @ weighted + prior_rows.T @ (prior_rows / prior_variance[:, None])
        right = weighted.T @ rest[used] - prior_rows.T @ (
            prior_rows @ parameters[columns] / prior_variance
        )
        covariance = _inverse(normal)
        step = np.zeros(6)
        step[columns] = np.linalg.solve(
            _curved(normal, observations, used, cho_solve(factor, rest[used]), rotation), right
        )
        if (np.abs(step[columns]) < CLOSE * np.sqrt(np.diagonal(covariance))).all():
            break
        # Evidence that does not fit together makes the full step overshoot, and leaves a sum of
        # squares so large that its rounding hides the last steps.
        before = cost(rest, parameters)
        while True:
            moved = parameters + step
            rest = off(moved)
            after = cost(rest, moved)
            if after <= before or np.abs(step).max() <= 1e-12:
                break
            step /= 2
        parameters = moved
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

    residual = rest
    u = np.zeros(len(item))
    u[used] = cho_solve(factor, residual[used])
    m = np.zeros((len(item), len(item)))
    inverse = cho_solve(factor, np.eye(int(used.sum())))
    m[np.ix_(used, used)] = inverse - weighted @ covariance @ weighted.T
    standardised, redundancy = _tests(observations, use, u, m, c)
    for i in np.flatnonzero(~use):
        rows = item == i
        # What the used observations tell of this one's error, through the plan's covariance.
        known_part = cho_solve(factor, c[np.ix_(used, rows)]).T
        off_predicted = residual[rows] - known_part @ residual[used]
        direct = a[rows] - known_part @ a[used]
        spread = c[np.ix_(rows, rows)] - known_part @ c[np.ix_(used, rows)]
        spread = spread + direct @ covariance @ direct.T
        standardised[i] = math.sqrt(off_predicted @ np.linalg.solve(spread, off_predicted))
    parameters[:2] += reference
    chi_square = np.bincount(item, residual * u, minlength=len(use)).astype(float)
    return Solution(parameters, full, residual, standardised, redundancy, chi_square)


def _curved(
    normal: Floats, observations: Observations, used: NDArray[np.bool_], u: Floats, rotation: float
) -> Floats:
    """The normal matrix with the second derivative of the rotation, for steps that end soon even
    where residuals are as large as the plan (Newton's method); as it was where that would lead
    uphill. `u` are the weighted residuals of the used rows."""
    second = np.zeros(len(used))
    second[: 2 * observations.positions] = (
        observations.scale * turn(observations.plan_m, rotation)
    ).ravel()
    curved = normal.copy()
    curved[2, 2] += u @ second[used]
    rest = np.delete(curved[2], 2)
    inner = np.delete(np.delete(curved, 2, 0), 2, 1)
    uphill = curved[2, 2] - rest @ np.linalg.solve(inner, rest) <= 0.0
    return normal if uphill else curved


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
    weak = not (scale > 0).all()
    inner = normal / np.outer(scale, scale) if not weak else normal
    if weak or np.linalg.eigvalsh(inner)[0] < SINGULAR:
        raise SurveyError("Site fit: the evidence does not fix east, north and rotation.")
    inverse = np.linalg.inv(inner)
    return 0.5 * (inverse + inverse.T) / np.outer(scale, scale)


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
