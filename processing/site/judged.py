# SPDX-License-Identifier: GPL-2.0-or-later
"""Evidence on trial: what of it is used, and what the used part is enough for."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .observations import COMPASS, CONTROL, FOOTPRINT, GEOTAG, KNOWN, Observations

KNOWN_ROTATION_RAD = math.radians(15.0)
"""Beyond this standard error a rotation counts as unknown: its sine is no longer straight."""

PLURAL = {
    GEOTAG: "geotags",
    COMPASS: "compass bearings",
    CONTROL: "control points",
    FOOTPRINT: "footprint ends",
}


@dataclass(eq=False)
class Judged:
    """The observations (some widened), which items are used ``(I,)``, why not or what to know of
    each, and warnings."""

    observations: Observations
    use: NDArray[np.bool_]
    reason: list[str]
    warnings: list[str] = field(default_factory=list)

    def used(self, kind: str) -> NDArray[np.bool_]:
        return self.use & self.observations.of_kind(kind)

    def names(self, items: NDArray[np.bool_]) -> str:
        return ", ".join(self.observations.name[i] for i in np.flatnonzero(items))

    def note(self, items: NDArray[np.bool_], text: str) -> None:
        for i in np.flatnonzero(items):
            self.reason[i] = f"{self.reason[i]}; {text}" if self.reason[i] else text


def rotation_known(observations: Observations, use: NDArray[np.bool_]) -> bool:
    """Whether bearings, or positions far enough apart, tell the rotation."""
    bearings = (use & observations.of_kind(COMPASS)).any()
    return bool(bearings or observations.sigma_rotation_by_spread(use) < KNOWN_ROTATION_RAD)


def determined(observations: Observations, use: NDArray[np.bool_]) -> bool:
    return bool(use[: observations.positions].any() and rotation_known(observations, use))


def free_kinds(observations: Observations, use: NDArray[np.bool_]) -> tuple[bool, bool]:
    """Whether something stronger holds the rotation while bearings are compared with bearings, and
    the position while geotags are compared with geotags."""
    geotags, controls, compasses = (
        use & observations.of_kinds(kinds) for kinds in ((GEOTAG,), KNOWN, (COMPASS,))
    )
    # Geotags that are free against the control points turn the plan by their own spread only.
    information = sum(
        observations.sigma_rotation_by_spread(items) ** -2.0 for items in (geotags, controls)
    )
    by_spread = information > KNOWN_ROTATION_RAD**-2.0
    return bool(compasses.any() and by_spread), bool(geotags.any() and controls.any())


def singular(kind: str) -> str:
    return PLURAL[kind][:-1]
