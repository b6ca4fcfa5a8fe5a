# SPDX-License-Identifier: GPL-2.0-or-later
"""Plan coordinates into the coordinates of the layers, group by group."""

from __future__ import annotations

from dataclasses import dataclass

from ..angles import Floats
from .model import SiteFit


@dataclass(frozen=True)
class Placement:
    """Places plan points of each connected group by the group's own fit.

    With `site_grid` the layers keep the axes of the first fit's plan (true distances); else they
    lie in the target CRS. A group without a fit of its own moves with the first.
    """

    fits: tuple[SiteFit, ...]
    site_grid: bool = False

    def fit_of(self, network: int) -> SiteFit:
        """The fit that places a group."""
        return next((fit for fit in self.fits if fit.network == network), self.fits[0])

    def place(self, network: int, xy_m: Floats) -> Floats:
        """Layer coordinates ``(m, 2)`` of plan points ``(m, 2)`` of a group."""
        fit = self.fit_of(network)
        if self.site_grid and fit is self.fits[0]:
            return xy_m
        placed = fit.to_target(xy_m)
        return self.fits[0].to_plan(placed) if self.site_grid else placed

    def rotation_rad(self, network: int) -> float:
        """The azimuth of the group's plan +y in the layers' axes."""
        rotation = self.fit_of(network).rotation_rad
        return rotation - self.fits[0].rotation_rad if self.site_grid else rotation
