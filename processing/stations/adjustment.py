# SPDX-License-Identifier: GPL-2.0-or-later
"""Weighted least-squares adjustment of a plane network."""

from __future__ import annotations

from dataclasses import dataclass

from numpy.typing import ArrayLike

from ..angles import Floats
from ..progress import SILENT, Progress
from .observations import Bools, Observations, Unknowns


@dataclass(frozen=True, eq=False)
class FreeNetwork:
    """Minimum constraint by inner constraints: among all positions of the network as a whole, the
    one nearest (least squares) to the approximate coordinates of the places that take part.

    `places (S+P,)` says which places take part (their x and y; orientations and scalars follow).
    """

    places: Bools


@dataclass(frozen=True, eq=False)
class Adjustment:
    """What an adjustment gave. Covariances are a priori (unit weight 1, never scaled).

    `unknowns` hold the adjusted values; `residual (m,)` is adjusted less observed for each row, in
    the row's own unit, also for rows not `used (m,)`; `sum_of_squares` is the weighted sum over
    the used rows, `sums_of_squares` the same at the start and after each iteration;
    `degrees_of_freedom` the redundancy of the network.
    """

    unknowns: Unknowns
    observations: Observations
    used: Bools
    residual: Floats
    sum_of_squares: float
    degrees_of_freedom: int
    converged: bool
    iterations: int
    sums_of_squares: tuple[float, ...]

    def covariance(self, columns: ArrayLike, others: ArrayLike | None = None) -> Floats:
        """Covariance ``(k, l)`` between unknowns given by columns; zero rows for held ones."""
        raise NotImplementedError

    def station_covariance(self) -> Floats:
        """Covariances ``(S, 3, 3)`` of (x, y, orientation) in m and rad."""
        raise NotImplementedError

    def point_covariance(self) -> Floats:
        """Covariances ``(P, 2, 2)`` of the points in square metres."""
        raise NotImplementedError

    def full_covariance(self) -> Floats:
        """The full covariance ``(U, U)`` in the order of the vector of unknowns (dense)."""
        raise NotImplementedError


def adjust(
    unknowns: Unknowns,
    observations: Observations,
    *,
    used: Bools | None = None,
    free: FreeNetwork | None = None,
    progress: Progress = SILENT,
    max_iterations: int = 100,
) -> Adjustment:
    """Adjust a network by weighted least squares from approximate values.

    The datum is whatever `unknowns` hold or priors give; with `free` it is the inner constraints.
    Rows outside `used (m,)` (rows of one correlated item alike) take no part. Raises SurveyError
    naming the stations and points that the observations do not determine.
    """
    raise NotImplementedError
