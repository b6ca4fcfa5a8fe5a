# SPDX-License-Identifier: GPL-2.0-or-later
"""Observations in both faces of the telescope, averaged, and what they differ by.

With the line of sight off the tilting axis by the horizontal collimation c, the circle reads too
much by c / sin z in the direct face and too little by as much in the reversed one; with the index
error i the vertical circle reads z + i directly and 360 deg - z + i reversed. So the mean of a pair
is free of both, and half the difference is the error (Ghilani and Wolf, Elementary Surveying, the
chapters on total stations; formulas from memory)::

    H = (H1 + H2 - 180) / 2        c = (H1 - H2 + 180) / 2 * sin z
    z = (z1 + 360 - z2) / 2        i = (z1 + z2 - 360) / 2
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees, hypot, isfinite, nan, radians, sin, sqrt

from ..progress import SILENT, Progress
from .landxml_observation import Observation

CIRCLE_SIGMA_DEG = 5.0 / 3600.0
"""Standard error of a circle reading where the file gives none: a five-second instrument (common
practice)."""

POINTING_M = 0.0005
"""Standard error of pointing at a target indoors, across the line of sight (common practice). At
5 m it outweighs the circle's."""

DISTANCE_SIGMA_M = 0.002
"""Standard error of a total station's distance (common practice)."""

CRITICAL = 3.29
"""Differences beyond this many standard errors are told: 0.1 % happen by chance."""

LARGE_DEG = 0.02
"""A collimation or index error from which an instrument is adjusted (72 seconds; common
practice)."""


@dataclass(frozen=True)
class Sighting:
    """A target as sighted in one round, reduced to the direct face: means over the observations of
    each face, and of both faces where there are both. NaN for what was not observed.

    `collimation_deg`, `index_deg` and `slope_difference_m` (direct less reversed) are the errors
    that a pair shows; `spread_deg` is how far observations in one face lie apart at most;
    `offset_m` and `target_height_m` are those of the observations.
    """

    target: str
    circle_deg: float
    zenith_deg: float
    slope_m: float
    horizontal_m: float
    vertical_m: float
    direct: int
    reversed_: int
    collimation_deg: float
    index_deg: float
    slope_difference_m: float
    spread_deg: float
    target_height_m: float
    offset_m: tuple[float, float, float]
    line: int

    @property
    def both(self) -> bool:
        return self.direct > 0 and self.reversed_ > 0

    @property
    def distance_m(self) -> float:
        """The horizontal distance to what was sighted: from slope distance and zenith angle, else
        as given, else from slope and vertical distance; NaN without a distance."""
        if isfinite(self.slope_m) and isfinite(self.zenith_deg):
            return self.slope_m * sin(radians(self.zenith_deg))
        if isfinite(self.horizontal_m):
            return self.horizontal_m
        return (
            sqrt(max(self.slope_m**2 - self.vertical_m**2, 0.0)) if isfinite(self.slope_m) else nan
        )


def average_faces(
    observations: Sequence[Observation], progress: Progress = SILENT
) -> list[Sighting]:
    """One sighting for each target, in the order of the file. Observations of one target with
    another height or offset of the target are another sighting."""
    groups: dict[tuple[object, ...], list[Observation]] = {}
    for observation in observations:
        key = (observation.target, _key(observation.target_height_m), observation.offset_m)
        groups.setdefault(key, []).append(observation)
    return [_sighting(group) for group in progress.over(groups.values(), len(groups))]


def pointing_sigma_deg(distance_m: float, circle_sigma_deg: float = CIRCLE_SIGMA_DEG) -> float:
    """Standard error of one pointing at a target at that distance."""
    across = POINTING_M / distance_m if distance_m > 10 * POINTING_M else 0.1
    return hypot(circle_sigma_deg, degrees(across))


def _key(value: float) -> float | None:
    return value if isfinite(value) else None


def _sighting(group: Sequence[Observation]) -> Sighting:
    direct = [o for o in group if not o.reversed_]
    turned = [o for o in group if o.reversed_]
    first = group[0]
    start = first.circle_deg - (180.0 if first.reversed_ else 0.0)

    # Directions are averaged as differences from the first: 359.9 and 0.1 make 0, not 180. One
    # sighting is a handful of numbers: plain sums are many times faster than arrays here.
    circles = [
        [(o.circle_deg - start - turn + 180.0) % 360.0 - 180.0 for o in face]
        for face, turn in ((direct, 0.0), (turned, 180.0))
    ]
    zeniths = [[o.zenith_deg for o in direct], [360.0 - o.zenith_deg for o in turned]]
    slopes = [[o.slope_m for o in face] for face in (direct, turned)]
    horizontals = [[o.horizontal_m for o in face] for face in (direct, turned)]
    verticals = [[o.vertical_m for o in face] for face in (direct, turned)]
    zenith, slope = _mean_of_faces(zeniths), _mean_of_faces(slopes)
    steep = sin(radians(zenith)) if isfinite(zenith) else 1.0
    return Sighting(
        target=first.target,
        circle_deg=(start + _mean_of_faces(circles)) % 360.0,
        zenith_deg=zenith,
        slope_m=slope,
        horizontal_m=_mean_of_faces(horizontals),
        vertical_m=_mean_of_faces(verticals),
        direct=len(direct),
        reversed_=len(turned),
        collimation_deg=_difference(circles) / 2.0 * steep,
        index_deg=_difference(zeniths) / 2.0,
        slope_difference_m=_difference(slopes),
        spread_deg=max(max(face) - min(face) if face else 0.0 for face in circles),
        target_height_m=first.target_height_m,
        offset_m=first.offset_m,
        line=first.line,
    )


def _mean(values: Sequence[float]) -> float:
    there = [value for value in values if isfinite(value)]
    return sum(there) / len(there) if there else nan


def _mean_of_faces(faces: Sequence[Sequence[float]]) -> float:
    """The mean of the faces' means: two observations direct and one reversed must not leave a
    third of the error."""
    return _mean([_mean(face) for face in faces])


def _difference(faces: Sequence[Sequence[float]]) -> float:
    """The mean of the first face less that of the second; NaN where one is not observed."""
    return _mean(faces[0]) - _mean(faces[1])
