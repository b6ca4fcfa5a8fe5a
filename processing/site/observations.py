# SPDX-License-Identifier: GPL-2.0-or-later
"""The observations that tie one connected group of stations to the earth, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, turn, turn_matrix, wrap_half

GEOTAG, COMPASS, CONTROL, FOOTPRINT = "geotag", "compass", "control", "footprint"
KNOWN = (CONTROL, FOOTPRINT)
"""The kinds of position that are known in the target CRS itself."""


@dataclass(frozen=True, eq=False)
class Observations:
    """``P`` positions followed by ``B`` bearings; an item is one of either.

    `plan_m (P, 2)` are points of the plan frame and `host_m (P, 2)` where the observation puts them
    in host x, y, in metres; `bearing_rad (B,)` are the rotations of the plan that the compass
    bearings give (magnetic azimuth + declination + direction of true north - orientation).
    `sigma (P + B,)` is each item's own standard error (m for a coordinate, rad for a bearing);
    `plan_covariance (2P + B, 2P + B)` is that of the plan points and of the orientations.
    `sigma_declination_rad` and `sigma_datum_m` are errors that all bearings, and all geotags,
    share. `scale` is the combined factor from ground to grid.
    """

    kind: tuple[str, ...]
    name: tuple[str, ...]
    plan_m: Floats
    host_m: Floats
    bearing_rad: Floats
    sigma: Floats
    plan_covariance: Floats
    scale: float
    sigma_declination_rad: float
    sigma_datum_m: float

    def __len__(self) -> int:
        return len(self.kind)

    @property
    def positions(self) -> int:
        return len(self.plan_m)

    @property
    def item_of_row(self) -> NDArray[np.int64]:
        """The item of each row ``(2P + B,)``."""
        items = np.arange(len(self))
        return np.concatenate([np.repeat(items[: self.positions], 2), items[self.positions :]])

    def of_kind(self, kind: str) -> NDArray[np.bool_]:
        """Which items are of a kind ``(P + B,)``."""
        return np.array([k == kind for k in self.kind], dtype=bool)

    def of_kinds(self, kinds: tuple[str, ...]) -> NDArray[np.bool_]:
        """Which items are of one of several kinds ``(P + B,)``."""
        return np.array([k in kinds for k in self.kind], dtype=bool)

    def with_positions(
        self, kind: str, names: tuple[str, ...], plan_m: Floats, host_m: Floats, sigma_m: Floats
    ) -> Observations:
        """A copy with ``q`` more positions after the others, their plan points without error."""
        at, rows = self.positions, 2 * self.positions
        covariance = self.plan_covariance
        for axis in (0, 1):
            covariance = np.insert(covariance, [rows] * (2 * len(names)), 0.0, axis=axis)
        return replace(
            self,
            kind=(*self.kind[:at], *[kind] * len(names), *self.kind[at:]),
            name=(*self.name[:at], *names, *self.name[at:]),
            plan_m=np.concatenate([self.plan_m, plan_m]),
            host_m=np.concatenate([self.host_m, host_m]),
            sigma=np.concatenate([self.sigma[:at], sigma_m, self.sigma[at:]]),
            plan_covariance=covariance,
        )

    def widened(self, items: NDArray[np.bool_], factor: float) -> Observations:
        """A copy in which the items' standard errors are multiplied by a factor."""
        return replace(self, sigma=np.where(items, self.sigma * factor, self.sigma))

    def misclosure(self, east: float, north: float, rotation: float) -> Floats:
        """Observed minus computed ``(2P + B,)``: metres, then radians."""
        computed = self.scale * turn(self.plan_m, rotation) + (east, north)
        return np.concatenate(
            [(self.host_m - computed).ravel(), wrap_half(self.bearing_rad - rotation)]
        )

    def design(self, rotation: float) -> Floats:
        """Derivatives ``(2P + B, 6)`` by east, north, rotation, the shared error of the bearings
        and the shared east and north error of the geotags."""
        rows = 2 * self.positions
        a = np.zeros((rows + len(self.bearing_rad), 6))
        turned = self.scale * turn(self.plan_m, rotation)
        a[0:rows:2, 0] = a[1:rows:2, 1] = 1.0
        a[0:rows:2, 2], a[1:rows:2, 2] = turned[:, 1], -turned[:, 0]
        a[rows:, 2] = a[rows:, 3] = 1.0
        geotag = self.of_kind(GEOTAG)[: self.positions]
        a[0:rows:2, 4] = a[1:rows:2, 5] = geotag
        return a

    def covariance(self, rotation: float) -> Floats:
        """Covariance ``(2P + B, 2P + B)`` of the misclosures without the shared errors."""
        rows, count = 2 * self.positions, self.positions
        # Columns are the images of the plan's x and y axes, that is, turn() as a matrix.
        matrix = self.scale * turn_matrix(rotation)
        c = self.plan_covariance.copy()
        positions = c[:rows, :rows].reshape(count, 2, count, 2)
        c[:rows, :rows] = np.einsum("ab,ibjc,dc->iajd", matrix, positions, matrix).reshape(
            rows, rows
        )
        mixed = np.einsum("ab,ibk->iak", matrix, c[:rows, rows:].reshape(count, 2, -1))
        c[:rows, rows:] = mixed.reshape(rows, -1)
        c[rows:, :rows] = c[:rows, rows:].T
        c[np.diag_indices_from(c)] += self.sigma[self.item_of_row] ** 2
        return c

    def sigma_rotation_by_spread(self, items: NDArray[np.bool_]) -> float:
        """Standard error (rad) of the rotation that the spread of these positions alone gives;
        infinite where they do not spread."""
        chosen = items[: self.positions]
        if chosen.sum() < 2:
            return float("inf")
        weight = self.sigma[: self.positions][chosen] ** -2.0
        points = self.scale * self.plan_m[chosen]
        spread = points - np.average(points, axis=0, weights=weight)
        information = float(weight @ (spread**2).sum(axis=1))
        return information**-0.5 if information > 0 else float("inf")
