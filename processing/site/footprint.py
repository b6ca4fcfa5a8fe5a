# SPDX-License-Identifier: GPL-2.0-or-later
"""The plan's outside fitted to the building's outline on a site map.

What a plan has of the outside are the inner faces of outer walls; the outline on a map lies a
wall's thickness further out. Points along the plan's outer edges, pushed out by one thickness that
is estimated with the pose, are brought onto the map's edges that face the same way: first from many
starts, with a cost that what has no counterpart (a part of the building that was not surveyed)
hardly moves, then by robust least squares (`footprint_match`).

A building that looks the same when it is turned fits in several ways. Every way that fits as well
is kept as a rival, and what is known of the pose beforehand decides between them, or nothing does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.ops import unary_union

from ..angles import Floats, azimuth_of, turn, wrap_half
from ..errors import SurveyError
from ..progress import SILENT, Progress
from ..stations.connect_frames import turned
from ..walls.model import Rooms
from .footprint_match import FARTHEST_SIGMAS, WALL_M, Edges, Match, Samples

MAP_SIGMA_M = 0.10
"""Standard error of an edge of a building outline on a site map, unless told otherwise."""

WIDEST_INNER_WALL_M = 0.6
"""Rooms nearer to each other than this have an inner wall between them, not an outside."""

ODDS = 3.0
"""A pose is chosen over another when it is e^3, 20 to 1, more probable."""

WIDE_M = (1.0, 0.3)
"""Errors that the map is given at first, so that a start some way off is still drawn in."""

STEP_M, STEP_RAD = 2.0, np.radians(6.0)
MOST_REFINED = 24
MOST_BUILDINGS = 4
SAME_M, SAME_RAD = 1.0, np.radians(5.0)
LEAST_MATCHED = 0.5


@dataclass(frozen=True)
class Prior:
    """What is known of the pose beforehand: east, north (m) of the plan's origin and rotation
    (rad), with standard errors; an infinite one for a rotation that nobody knows."""

    east_m: float
    north_m: float
    rotation_rad: float
    sigma_m: float
    sigma_rad: float


@dataclass(frozen=True, eq=False)
class FootprintFit:
    """The pose of the plan (as in `SiteFit`) that the outline gives by itself, its covariance
    ``(3, 3)``, the thickness of the outer walls, the root mean square (m) of what matched, the
    share of the plan's outer edges that did, and the `rivals`: rotations (rad) of poses that fit
    as well by the outline alone, which the prior ruled out."""

    east_m: float
    north_m: float
    rotation_rad: float
    covariance: Floats
    thickness_m: float
    rms_m: float
    matched: float
    rivals: tuple[float, ...]


class FootprintAmbiguous(SurveyError):
    """The outline fits in several ways and nothing decides between them."""


def outline_of(rooms: Sequence[Polygon]) -> Polygon | MultiPolygon:
    """The outside of a storey's rooms: their union with the inner walls between them, as far as its
    outer edges are faces of rooms."""
    half = WIDEST_INNER_WALL_M / 2
    grown = unary_union([room.buffer(half, join_style="mitre") for room in rooms])
    shrunk = grown.buffer(-half, join_style="mitre").simplify(0.01)
    if shrunk.is_empty or not isinstance(shrunk, (Polygon, MultiPolygon)):
        raise SurveyError("The plan has no rooms whose outside could be fitted to a footprint.")
    return shrunk


def outlines_of(rooms: Rooms) -> dict[int, Polygon | MultiPolygon]:
    """The outside of each connected group with rooms, all storeys seen from above."""
    numbers = {int(number) for number in rooms.network}
    return {
        number: outline_of([p for p, n in zip(rooms.polygon, rooms.network) if n == number])
        for number in sorted(numbers)
    }


def fit_footprint(
    outline: Polygon | MultiPolygon,
    buildings: Sequence[Polygon | MultiPolygon],
    prior: Prior,
    *,
    scale: float = 1.0,
    sigma_map_m: float = MAP_SIGMA_M,
    progress: Progress = SILENT,
) -> FootprintFit:
    """Fit a plan's outline (plan frame, m) to the outline of one of the buildings of a map (target
    CRS, m).

    Building and pose are looked for within three standard errors of the prior. Raises
    `FootprintAmbiguous` where poses that differ fit alike and the prior does not decide,
    SurveyError where no building is near or less than half of the plan's outer edges find a
    counterpart.
    """
    plan = Edges.of(outline)
    points = Samples.of(plan, scale)
    near = _near(buildings, points, prior)
    found: list[tuple[float, Floats, Match]] = []
    for step, building in progress.each(near):
        match = Match(points, Edges.of(building), sigma_map_m)
        for pose in _poses(plan, points, match, prior, step):
            if not any(_same(pose, other) for _, other, _ in found):
                cost = match.cost(pose[None]) + _prior_cost(pose[None], prior, points.middle)
                found.append((float(cost[0]), pose, match))
    shares = [own.share(other) for _, other, own in found]
    if max(shares) < LEAST_MATCHED:
        raise SurveyError(
            f"The footprint fits only {100 * max(shares):.0f} % of the plan's outside within "
            f"{100 * FARTHEST_SIGMAS * sigma_map_m:.0f} cm; expected at least "
            f"{100 * LEAST_MATCHED:.0f} %, the outline of this building on this storey."
        )
    found = [entry for entry, share in zip(found, shares) if share >= LEAST_MATCHED]
    found.sort(key=lambda entry: entry[0])
    first, pose, match = found[0]
    rivals = [other for cost, other, _ in found[1:] if cost - first < ODDS]
    if rivals:
        degrees = [float(np.degrees(wrap_half(other[2] - pose[2]))) for other in rivals[:3]]
        shifted = [float(np.hypot(*(other - pose)[:2])) for other in rivals[:3]]
        ways = ", ".join(f"{t:+.0f} deg and {m:.1f} m" for t, m in zip(degrees, shifted))
        raise FootprintAmbiguous(
            f"The plan fits the footprint in {len(rivals) + 1} ways (the others are off the first "
            f"by {ways}) and nothing decides between them; expected a compass bearing, control "
            "points or better geotags."
        )
    alone = match.cost(pose[None])[0]
    ruled_out = [
        float(other[2]) for _, other, own in found[1:] if own.cost(other[None])[0] - alone < ODDS
    ]
    covariance, rms = match.worth(pose)
    east, north, rotation, thickness = (float(value) for value in pose)
    return FootprintFit(
        east, north, rotation, covariance, thickness, rms, match.share(pose), tuple(ruled_out)
    )


def _near(
    buildings: Sequence[Polygon | MultiPolygon], points: Samples, prior: Prior
) -> list[Polygon | MultiPolygon]:
    """The buildings that the plan may be, the nearest first; a plan is no smaller part of its
    building than a tenth."""
    middle = turn(points.middle, prior.rotation_rad) + (prior.east_m, prior.north_m)
    own = float(np.prod(np.ptp(points.xy, axis=0)))
    size = float(np.hypot(*np.ptp(points.xy, axis=0)))
    at = Point(middle)
    reach = 3.0 * prior.sigma_m + size
    distance = np.array([building.distance(at) for building in buildings])
    fits = [
        k
        for k in np.argsort(distance, kind="stable")
        if distance[k] < reach and buildings[k].area > 0.1 * own
    ]
    if not fits:
        nearest = f"the nearest lies {distance.min():.0f} m away" if len(distance) else "none"
        raise SurveyError(
            f"Footprint: no building outline lies within {reach:.0f} m of where the plan is "
            f"({nearest}); expected the outline of this building in the target CRS."
        )
    return [buildings[k] for k in fits[:MOST_BUILDINGS]]


def _poses(
    plan: Edges, points: Samples, match: Match, prior: Prior, progress: Progress
) -> list[Floats]:
    """The poses at which one building's outline is met, from all starts."""
    wide = [match.with_sigma(max(sigma, match.sigma_m)) for sigma in WIDE_M]
    starts = _starts(plan, match.goal, points, prior)
    progress.at(0.0)
    cost = wide[0].cost(starts) + _prior_cost(starts, prior, points.middle)
    found = starts[_apart(starts, cost)]
    for step in progress.over((*wide, match)):
        found = step.refined(found)
    poses: list[Floats] = []
    for pose in found:
        if not any(_same(pose, other) for other in poses):
            poses.append(pose)
    return poses


def _apart(starts: Floats, cost: Floats) -> list[int]:
    """The best starts, each some way from those before it."""
    chosen: list[int] = []
    for k in np.argsort(cost, kind="stable"):
        apart = np.hypot(*(starts[chosen, :2] - starts[k, :2]).T) > 0.75 * STEP_M
        aside = np.abs(wrap_half(starts[chosen, 2] - starts[k, 2])) > STEP_RAD / 2
        if (apart | aside).all():
            chosen.append(int(k))
        if len(chosen) == MOST_REFINED:
            break
    return chosen


def _same(a: Floats, b: Floats) -> bool:
    apart = np.hypot(*(a[:2] - b[:2]))
    return bool(apart < SAME_M and abs(wrap_half(a[2] - b[2])) < SAME_RAD)


def _prior_cost(poses: Floats, prior: Prior, middle: Floats) -> Floats:
    """Minus the logarithm of the prior density of poses ``(n, 4)``, up to a constant: of where they
    put the plan's middle ``(2,)``, and of their rotation."""
    there = turned(middle, poses[:, 2]) + poses[:, :2]
    apart = there - turn(middle, prior.rotation_rad) - (prior.east_m, prior.north_m)
    off = wrap_half(poses[:, 2] - prior.rotation_rad) / prior.sigma_rad
    return np.asarray(0.5 * ((apart**2).sum(axis=1) / prior.sigma_m**2 + off**2))


def _starts(plan: Edges, goal: Edges, points: Samples, prior: Prior) -> Floats:
    """Poses ``(n, 4)`` to start from: rotations that bring a long edge of the plan onto one of the
    map within the prior, each with the shifts around the prior's place."""
    turns = np.array([0.0])
    window = min(3.0 * prior.sigma_rad, np.pi)
    if window > 0.0:
        own = azimuth_of(plan.normal[np.argsort(-plan.length)[:6]])
        other = azimuth_of(goal.normal[np.argsort(-goal.length)[:12]])
        turns = wrap_half(np.add.outer(other, -own).ravel() - prior.rotation_rad)
        turns = turns[np.abs(turns) <= window + STEP_RAD]
        turns = _distinct(np.append(turns, 0.0))
    middle = points.middle
    at = turn(middle, prior.rotation_rad) + (prior.east_m, prior.north_m)
    reach = 3.0 * prior.sigma_m
    steps = np.arange(-reach, reach + STEP_M, STEP_M) if reach > STEP_M else np.array([0.0])
    shift = np.stack(np.meshgrid(steps, steps, indexing="ij"), axis=-1).reshape(-1, 2)
    shift = shift[np.hypot(*shift.T) <= reach + STEP_M]
    poses = []
    for change in turns:
        rotation = prior.rotation_rad + change
        # The plan turns about its own middle, which the prior places.
        origin = at - turn(middle, rotation)
        pose = np.column_stack(
            [origin + shift, np.full(len(shift), rotation), np.full(len(shift), WALL_M)]
        )
        poses.append(pose)
    return np.concatenate(poses)


def _distinct(turns: Floats) -> Floats:
    """Turns at least a few degrees apart."""
    kept: list[float] = []
    for value in np.sort(turns):
        if not kept or value - kept[-1] > STEP_RAD / 3:
            kept.append(float(value))
    return np.array(kept)
