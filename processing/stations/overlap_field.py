# SPDX-License-Identifier: GPL-2.0-or-later
"""How well the readings of two captures agree at a pose, without faces.

For captures whose noise hides their faces. A capture is a set of surface points with normals, each
standing for the length of wall around it, and a table of what it sees by bearing. Readings of the
other capture then lie on its surfaces (agreement, falling off with the distance across, as the
likelihood field of Thrun, Burgard and Fox, Probabilistic Robotics, 2005, section 6.4), stand where
it measured through (contradiction), or say nothing. Both captures are asked about each other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..angles import Floats, azimuth_of
from ..captures.model import Capture, Ints
from .connect_frames import inverse, moved, turned

BINS = 720
"""Bearings in a full turn at which a capture is looked up."""

EDGE_BINS = 3
"""Past an edge the eye is off by the angle's and the place's error: so many bearings at each side
are looked at, and the nearest counts."""

CELL_M = 0.05
MARGIN_M = 0.6
FARTHEST_M = 12.0
"""Farther readings of such instruments hang on the angle alone."""

MOST_POINTS = 240
FEWEST_POINTS = 40
LONGEST_M = 0.15
"""No reading stands for more wall than this."""

LONE_M = 0.06
FEWEST_FLAT, FEWEST_SOLID = 4, 6
"""Readings around one, both sweeps together, that give it a normal, and that make it a piece of
wall that nothing can be measured through."""
ANGLE_SLACK = 0.012
"""Allowance that grows with the range (m per m), for turns and scale errors."""

THROUGH_WEIGHT = 3.0
LONE_THROUGH = 0.1
"""A metre of wall that the other station measured through counts against this many that agree, a
lone reading much less: such instruments return many that are nowhere."""

UNSEEN_M = 2.0
"""What it counts against a pose when one station would see the other, which does not see it."""

_BLOCK = 100


@dataclass(frozen=True, eq=False)
class Field:
    """One capture as points in its instrument's frame.

    `point_m (n, 2)`, unit normals to the free side `normal (n, 2)` (zero where the surroundings are
    not `flat (n,)`), the metres of wall each stands for `length_m (n,)`, and how far it stands as a
    wall that nothing can be measured through, `standing (n,)` from 0 to 1. `near_m`, `far_m
    (BINS,)` are the least and greatest range by bearing (NaN: unknown), `nearest (X, Y)` the point
    nearest to each cell of a grid that begins at `corner_m (2,)`, `probe (m,)` the points that
    others are asked about.
    """

    point_m: Floats
    normal: Floats
    flat: np.ndarray
    standing: Floats
    length_m: Floats
    near_m: Floats
    far_m: Floats
    corner_m: Floats
    nearest: Ints
    probe: Ints

    def __len__(self) -> int:
        return len(self.point_m)

    @property
    def probe_m(self) -> Floats:
        """Metres of wall ``(m,)`` that each point asked about stands for."""
        return self.length_m[self.probe] * (len(self) / len(self.probe))

    @property
    def azimuth_rad(self) -> Floats:
        """Azimuths of the normals ``(n,)``."""
        return azimuth_of(self.normal)


def field_of(capture: Capture) -> Field | None:
    """Prepare a capture; None when it has too few readings."""
    used = np.flatnonzero(capture.usable_ring & (np.nan_to_num(capture.distance_m) < FARTHEST_M))
    if len(used) < FEWEST_POINTS:
        return None
    angle = capture.angle_rad[used] % (2 * np.pi)
    order = np.argsort(angle, kind="stable")
    used, angle = used[order], angle[order]
    distance, point = capture.distance_m[used], capture.xy_m[used]
    tree = cKDTree(point)
    radius = np.maximum(0.12, 0.05 * distance)
    around = tree.query_ball_point(point, radius)
    normal, flat, length = _surroundings(point, around, radius)
    readings = np.array([len(near) for near in around])
    standing = np.where(flat, np.where(readings < FEWEST_SOLID, 0.5, 1.0), LONE_THROUGH)
    near, far = _by_bearing(angle, distance)
    corner = point.min(axis=0) - MARGIN_M
    size = np.ceil((point.max(axis=0) + MARGIN_M - corner) / CELL_M).astype(np.int64) + 1
    axes = [corner[k] + (np.arange(size[k]) + 0.5) * CELL_M for k in (0, 1)]
    cells = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    _, nearest = tree.query(cells.reshape(-1, 2))
    probe = np.arange(0, len(used), max(int(np.ceil(len(used) / MOST_POINTS)), 1))
    at = nearest.reshape(size).astype(np.int64)
    return Field(point, normal, flat, standing, length, near, far, corner, at, probe)


def _by_bearing(angle: Floats, distance: Floats) -> tuple[Floats, Floats]:
    """Least and greatest range ``(BINS,)`` near each bearing, from readings sorted by angle."""
    steps = np.diff(angle)
    steps = steps[steps > 1e-9]
    step = float(np.median(steps)) if len(steps) else 2 * np.pi / BINS
    window = max(1.5 * step, np.radians(1.0))
    centre = (np.arange(BINS) + 0.5) * (2 * np.pi / BINS)
    around = np.concatenate([angle - 2 * np.pi, angle, angle + 2 * np.pi])
    low = np.searchsorted(around, centre - window)
    high = np.searchsorted(around, centre + window)
    three = np.tile(distance, 3)
    near, far = np.full(BINS, np.nan), np.full(BINS, np.nan)
    for k in np.flatnonzero(high > low):
        inside = three[low[k] : high[k]]
        near[k], far[k] = inside.min(), inside.max()
    beside = range(-EDGE_BINS, EDGE_BINS + 1)
    return np.fmin.reduce([np.roll(near, k) for k in beside]), far


def _surroundings(
    point: Floats, neighbours: list[list[int]], radius: Floats
) -> tuple[Floats, np.ndarray, Floats]:
    """Normals, whether they are known, and lengths of wall: principal axes of the neighbours."""
    count = len(point)
    normal, flat, length = np.zeros((count, 2)), np.zeros(count, dtype=bool), np.zeros(count)
    for k, near in enumerate(neighbours):
        length[k] = min(2 * radius[k] / len(near), LONGEST_M)
        if len(near) < FEWEST_FLAT:
            length[k] = min(length[k], LONE_M)
            continue
        offset = point[near] - point[near].mean(axis=0)
        values, vectors = np.linalg.eigh(offset.T @ offset)
        if values[0] < 0.1 * values[1]:
            flat[k] = True
            normal[k] = vectors[:, 0] * (-1.0 if vectors[:, 0] @ point[k] > 0 else 1.0)
    return normal, flat, length


@dataclass(frozen=True, eq=False)
class Asked:
    """What a field says about another's points at ``H`` poses: `agreed (H, n)` and `through (H, n)`
    from 0 to 1; `across_m (H, n)`, `ahead (H, n, 2)` the residual and the direction it is taken in,
    and the points themselves, `at_m (H, n, 2)`, in the field's frame."""

    agreed: Floats
    through: Floats
    across_m: Floats
    ahead: Floats
    at_m: Floats


def asked(field: Field, other: Field, pose: Floats, tolerance_m: float) -> Asked:
    """Ask a field about another at poses ``(H, 3)`` of the other in the field's frame."""
    at = moved(pose[:, None, :], other.point_m[other.probe])
    normal = turned(other.normal[other.probe][None], pose[:, 2:])
    other_flat = other.flat[other.probe]
    size = np.array(field.nearest.shape)
    cell = np.floor((at - field.corner_m) / CELL_M).astype(np.int64)
    inside = ((cell >= 0) & (cell < size)).all(axis=-1)
    cell = np.clip(cell, 0, size - 1)
    own = field.nearest[cell[..., 0], cell[..., 1]]
    offset = at - field.point_m[own]
    away = np.hypot(offset[..., 0], offset[..., 1])
    own_flat, own_normal = field.flat[own], field.normal[own]
    signed = np.einsum("hij,hij->hi", offset, own_normal)
    across = np.where(own_flat, signed, away)
    ahead = np.where(own_flat[..., None], own_normal, offset / np.maximum(away, 1e-9)[..., None])
    facing = np.clip((np.einsum("hij,hij->hi", normal, own_normal) - 0.5) / 0.37, 0.0, 1.0)
    alike = np.where(own_flat & other_flat, facing, 0.5)
    distance = np.hypot(at[..., 0], at[..., 1])
    spread = np.hypot(tolerance_m, ANGLE_SLACK * distance)
    close = inside & (away < np.maximum(0.25, 2 * spread))
    agreed = close * alike * np.exp(-0.5 * (across / spread) ** 2)
    incidence = np.abs(np.einsum("hij,hij->hi", normal, at)) / np.maximum(distance, 1e-9)
    incidence = np.where(other_flat, np.maximum(incidence, 0.05), 1.0)
    depth = np.nan_to_num((field.near_m[bearing_bin(at)] - distance) * incidence, nan=-1.0)
    through = np.clip((depth - 2 * spread) / (2 * spread), 0.0, 1.0) * (away > 2 * spread)
    through *= other.standing[other.probe]
    return Asked(agreed, through, across, ahead, at)


@dataclass(frozen=True, eq=False)
class Verdict:
    """At ``H`` poses: metres of wall that agree and that were measured through (means of both
    ways), and whether the stations contradict each other about seeing one another."""

    agreed_m: Floats
    through_m: Floats
    contradicts: np.ndarray

    @property
    def score_m(self) -> Floats:
        """Metres of agreement less the contradiction ``(H,)``."""
        return self.agreed_m - THROUGH_WEIGHT * self.through_m - UNSEEN_M * self.contradicts


def verdict(first: Field, second: Field, pose: Floats, tolerance_m: float) -> Verdict:
    """What two fields say about poses ``(H, 3)`` of the second in the first one's frame."""
    agreed, through = np.zeros(len(pose)), np.zeros(len(pose))
    for start in range(0, len(pose), _BLOCK):
        of = slice(start, start + _BLOCK)
        one = asked(first, second, pose[of], tolerance_m)
        two = asked(second, first, inverse(pose[of]), tolerance_m)
        agreed[of] = (one.agreed @ second.probe_m + two.agreed @ first.probe_m) / 2
        through[of] = (one.through @ second.probe_m + two.through @ first.probe_m) / 2
    sees_a, hides_a = _sees(first, pose[:, :2])
    sees_b, hides_b = _sees(second, inverse(pose)[:, :2])
    return Verdict(agreed, through, (sees_a & hides_b) | (sees_b & hides_a))


def _sees(field: Field, points: Floats) -> tuple[np.ndarray, np.ndarray]:
    """Whether a field looks past points ``(H, 2)``, and whether something hides them from it."""
    place, distance = bearing_bin(points), np.hypot(points[:, 0], points[:, 1])
    with np.errstate(invalid="ignore"):
        return field.near_m[place] > distance + 0.3, field.far_m[place] < distance - 0.3


def bearing_bin(points: Floats) -> Ints:
    """The bearing ``(...)`` of points ``(..., 2)`` as a place in the tables."""
    bearing = azimuth_of(points)
    return np.floor(bearing * (BINS / (2 * np.pi))).astype(np.int64) % BINS


def refined(
    first: Field, second: Field, pose: Floats, tolerances_m: tuple[float, ...]
) -> tuple[Floats, Floats]:
    """Poses ``(H, 3)`` moved to where readings agree best, and normal matrices ``(H, 3, 3)``.

    Gauss-Newton steps of the distances across, one a tolerance, both ways, each weighted by how
    well it agrees and by the metres it stands for (iteratively reweighted least squares, Welsch's
    weight): the matrix is in metres of wall a square metre or radian of motion.
    """
    pose = pose.copy()
    total = np.zeros((len(pose), 3, 3))
    for tolerance in tolerances_m:
        for start in range(0, len(pose), _BLOCK):
            of = slice(start, start + _BLOCK)
            matrix, right = equations(first, second, pose[of], tolerance)
            ridge = 0.02 * np.array([1.0, 1.0, 1.0])
            step = np.linalg.solve(matrix + np.diag(ridge), right[..., None])[..., 0]
            step[:, :2] = np.clip(step[:, :2], -0.2, 0.2)
            step[:, 2] = np.clip(step[:, 2], -0.08, 0.08)
            pose[of] = pose[of] + step
            total[of] = matrix
    return pose, total


def equations(
    first: Field, second: Field, pose: Floats, tolerance_m: float
) -> tuple[Floats, Floats]:
    """Normal equations ``(H, 3, 3)`` and right sides ``(H, 3)`` of a step of the pose, in the first
    one's frame: a shift, and a clockwise turn about the second station."""
    one = asked(first, second, pose, tolerance_m)
    two = asked(second, first, inverse(pose), tolerance_m)
    shift = pose[:, None, :2]
    # Seen in the first one's frame, the second's surface moves and the first one's point stays.
    at = np.concatenate(
        [one.at_m - shift, np.broadcast_to(first.point_m[first.probe], two.at_m.shape) - shift], 1
    )
    ahead = np.concatenate([one.ahead, -turned(two.ahead, pose[:, 2:])], axis=1)
    across = np.concatenate([one.across_m, two.across_m], axis=1)
    weight = np.concatenate([one.agreed * second.probe_m, two.agreed * first.probe_m], axis=1) / 2
    # A clockwise turn moves v by (v_y, -v_x).
    arm = ahead[..., 0] * at[..., 1] - ahead[..., 1] * at[..., 0]
    row = np.concatenate([ahead, arm[..., None]], axis=-1)
    matrix = np.einsum("hn,hni,hnj->hij", weight, row, row)
    return matrix, -np.einsum("hn,hni,hn->hi", weight, row, across)


def misfit_m(first: Field, second: Field, pose: Floats, gate_m: float) -> float:
    """Root mean square of the distances across between surfaces that agree at a pose ``(3,)``
    within a gate, both ways."""
    square, total = 0.0, 0.0
    for own, other, at in ((first, second, pose), (second, first, inverse(pose))):
        said = asked(own, other, at[None], gate_m)
        weight = said.agreed[0] * other.probe_m * other.flat[other.probe]
        square += float(weight @ said.across_m[0] ** 2)
        total += float(weight.sum())
    return float(np.sqrt(square / total)) if total > 0 else gate_m
