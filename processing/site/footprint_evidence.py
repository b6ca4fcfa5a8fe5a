# SPDX-License-Identifier: GPL-2.0-or-later
"""The outline of a building on a map as evidence of the site fit.

The fit of the outline gives east, north and rotation with a covariance. For the common fit with
geotags, bearings and control it stands as two positions on a line through the outline's middle, as
far apart as makes their errors worth the same: for a standard error s of the middle in a coordinate
and r of the rotation, two points s/r to either side, each with s times the root of two.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from ..angles import Floats, turn
from ..errors import SurveyError
from ..progress import SILENT, Progress
from .accuracy import by_pose
from .contradictions import judge
from .evidence import Gathered
from .footprint import MAP_SIGMA_M, FootprintFit, Prior, fit_footprint
from .judged import rotation_known
from .observations import FOOTPRINT

LEAST_SIGMA_M, LEAST_SIGMA_RAD = 3.0 * MAP_SIGMA_M, math.radians(0.5)
"""However well control holds a plan, a map's outline is looked for within a few decimetres and
half a degree of it at least."""

ENDS = ("one end", "other end")


@dataclass(frozen=True, eq=False)
class Footprint:
    """Outlines of buildings on a map, in host x, y of the target CRS (its unit), the standard error
    of their edges (m), and the outside of each connected group of the plan (`footprint.outline_of`)
    by its number."""

    buildings: Sequence[Polygon | MultiPolygon]
    outlines: Mapping[int, Polygon | MultiPolygon]
    sigma_m: float = MAP_SIGMA_M


def with_footprint(
    gathered: Gathered, footprint: Footprint, group: int, progress: Progress = SILENT
) -> Gathered:
    """The observations of a group with those that the building's outline gives; as they were, with
    a warning, where the group has no outline or the outline does not tell."""
    outline = footprint.outlines.get(group)
    if outline is None:
        return gathered
    prior = _prior(gathered, progress)
    unit = gathered.place.unit_m
    buildings = [_scaled(building, unit) for building in footprint.buildings]
    try:
        fit = fit_footprint(
            outline,
            buildings,
            prior,
            scale=gathered.place.scale,
            sigma_map_m=footprint.sigma_m,
            progress=progress,
        )
    except SurveyError as problem:
        return replace(
            gathered, warnings=(*gathered.warnings, f"The footprint is not used: {problem}")
        )
    observations = gathered.observations
    plan, host, sigma = _two_points(fit, outline, gathered.place.scale)
    at = observations.positions
    note = (
        f"{100 * fit.matched:.0f} % of the plan's outside matches within {1000 * fit.rms_m:.0f} mm "
        f"(root mean square); outer walls {fit.thickness_m:.2f} m thick"
    )
    if fit.rivals:
        turned = ", ".join(
            f"{math.degrees(other - fit.rotation_rad) % 360.0:.0f} deg" for other in fit.rivals
        )
        note += f"; turned by {turned} it would fit as well, which the other evidence rules out"
    notes = (*gathered.notes[:at], note, "as the first end", *gathered.notes[at:])
    return replace(
        gathered,
        observations=observations.with_positions(FOOTPRINT, ENDS, plan, host, sigma),
        notes=notes,
    )


def _scaled(shape: Polygon | MultiPolygon, unit_m: float) -> Polygon | MultiPolygon:
    return shape if unit_m == 1.0 else shapely.transform(shape, lambda xy: xy * unit_m)


def _prior(gathered: Gathered, progress: Progress) -> Prior:
    """What the other evidence says of the pose."""
    observations = gathered.observations
    everything = np.ones(len(observations), dtype=bool)
    if rotation_known(observations, everything):
        judged, solution = judge(observations, gathered.notes, progress)
        east, north, rotation = solution.parameters[:3]
        middle = turn(
            observations.scale
            * judged.observations.plan_m[judged.use[: observations.positions]].mean(axis=0),
            rotation,
        )
        at = by_pose(middle)
        spread = at @ solution.fit_covariance @ at.T
        sigma = math.sqrt(float(np.trace(spread)) / 2)
        turned = max(math.sqrt(float(solution.covariance[2, 2])), LEAST_SIGMA_RAD)
        return Prior(east, north, rotation, max(sigma, LEAST_SIGMA_M), turned)
    # No direction: the positions' middle lies within the building, however it is turned.
    weight = observations.sigma[: observations.positions] ** -2.0
    weight = weight / weight.sum()
    plan, host = weight @ observations.plan_m, weight @ observations.host_m
    east, north = host - observations.scale * plan
    reach = np.hypot(*(observations.plan_m - plan).T).max()
    own = math.hypot(
        float((observations.sigma[: observations.positions] ** -2.0).sum()) ** -0.5,
        observations.sigma_datum_m,
    )
    return Prior(east, north, 0.0, max(own, LEAST_SIGMA_M) + float(reach), float("inf"))


def _two_points(
    fit: FootprintFit, outline: Polygon | MultiPolygon, scale: float
) -> tuple[Floats, Floats, Floats]:
    """Two plan points ``(2, 2)``, where the fit puts them, and their standard errors ``(2,)``."""
    centre = np.array(outline.centroid.coords[0])
    arm = turn(scale * centre, fit.rotation_rad)
    jacobian = by_pose(arm)
    spread = jacobian @ fit.covariance @ jacobian.T
    sigma = math.sqrt(float(np.trace(spread)) / 2)
    half = sigma / math.sqrt(float(fit.covariance[2, 2])) / scale
    low = np.array(outline.bounds[:2])
    high = np.array(outline.bounds[2:])
    along = np.array([1.0, 0.0]) if (high - low)[0] >= (high - low)[1] else np.array([0.0, 1.0])
    plan = centre + half * np.array([along, -along])
    host = scale * turn(plan, fit.rotation_rad) + (fit.east_m, fit.north_m)
    return plan, host, np.full(2, math.sqrt(2.0) * sigma)
