# SPDX-License-Identifier: GPL-2.0-or-later
"""How well two captures agree when one is laid over the other.

A capture is looked up by bearing: what does it see in that direction, how far, on which face? So
each sample of the other capture's faces either lies on a surface seen there that faces the same
side (agreement), or stands in free space that was measured through (contradiction), or is hidden.
Both captures are asked about each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..angles import Floats, azimuth_of
from ..captures.face_model import Faces
from ..captures.model import Bools, Capture, Ints
from .connect_frames import inverse, moved, turned
from .overlap_field import Field, field_of
from .overlap_raster import Codes, raster_of, raster_worth
from .overlap_samples import Samples, samples_of
from .overlap_solid import solid
from .overlap_vertices import Vertices, vertices_of

BINS = 720
"""Bearings in a full turn at which a view is looked up: half a degree each."""

MOST_UNKNOWN = 3
"""Across so many bins of which nothing is known their neighbours on either side are neighbours."""

MOST_POINTS = 240
MOST_LOOSE = 150
JUMP_M = 0.25

ROUGH_ANGLE_DEG = 0.1
"""A capture whose angles scatter by more bends its walls: it is matched by its readings, not by
faces."""

THROUGH_WEIGHT = 1.5
"""A metre of wall that the other station measured through counts against this many that agree."""

UNSEEN_M = 2.0
"""What it counts against a pose when one station would see the other, which does not see it."""

COARSE_M = 0.12
ROUGH_STEP = 2
"""Of the samples of a face every second one tells enough where cells are looked up."""


@dataclass(frozen=True, eq=False)
class View:
    """One capture prepared for looking up; lengths in metres, the instrument's frame.

    By bearing (``B`` bins clockwise from the zero direction): `range_m (B,)` of what is seen there
    (NaN: unknown), `near_m` and `far_m (B,)` the least and greatest range in the bin and the known
    ones beside it, `face_at (B,)` the face seen there or -1. `samples` are points on the faces.
    `point_m (R, 2)` are readings, spread over all bearings, whether on a face or not, `solid (R,)`
    whether they lie on what nobody looks through (`overlap_solid`), `loose_m (L, 2)` those on no
    face, `jump_m (J, 2)` those past which the range jumps away. `noise_m` is
    the 1-sigma error of a distance. `field` is that of a capture too rough for its faces (None: it
    is not, or has too few readings).
    """

    faces: Faces
    range_m: Floats
    near_m: Floats
    far_m: Floats
    face_at: Ints
    samples: Samples
    point_m: Floats
    solid: Bools
    loose_m: Floats
    jump_m: Floats
    noise_m: float
    vertices: Vertices
    rough: bool = False
    field: Field | None = None

    @cached_property
    def raster(self) -> Codes:
        """What is seen, by cells; made when first asked for."""
        return raster_of(self.faces, self.near_m, self.face_at)


def view_of(capture: Capture, faces: Faces) -> View:
    """Prepare a capture with its faces for matching."""
    used = np.flatnonzero(capture.usable_ring)
    angle = capture.angle_rad[used] % (2 * np.pi)
    order = np.argsort(angle, kind="stable")
    used, angle = used[order], angle[order]
    range_m, face_at = _by_bearing(
        angle, capture.distance_m[used], faces.face_of_reading[used], faces
    )
    neighbours = np.stack([_beside(range_m, 1), range_m, _beside(range_m, -1)])
    known = np.isfinite(range_m)
    near = np.where(known, np.fmin.reduce(neighbours), np.nan)
    far = np.where(known, np.fmax.reduce(neighbours), np.nan)
    noise = capture.distance_sigma_m if np.isfinite(capture.distance_sigma_m) else 2e-3
    rough = bool(np.nan_to_num(capture.angle_sigma_deg) > ROUGH_ANGLE_DEG)
    point = used[:: max(len(used) // MOST_POINTS, 1)]
    firm = solid(capture)
    loose = used[faces.face_of_reading[used] < 0]
    loose = loose[:: len(loose) // MOST_LOOSE + 1]
    return View(
        faces=faces,
        range_m=range_m,
        near_m=near,
        far_m=far,
        face_at=face_at,
        samples=samples_of(faces, capture.xy_m, used[firm[used]]),
        point_m=capture.xy_m[point],
        solid=firm[point],
        loose_m=capture.xy_m[loose],
        jump_m=_jumps(capture.xy_m[used], capture.distance_m[used], angle),
        noise_m=float(noise),
        vertices=vertices_of(faces, angle, faces.face_of_reading[used]),
        rough=rough,
        field=field_of(capture) if rough else None,
    )


def _by_bearing(angle: Floats, distance: Floats, face: Ints, faces: Faces) -> tuple[Floats, Ints]:
    """Range and face ``(B,)`` in each bin, from readings sorted by angle."""
    range_m, face_at = np.full(BINS, np.nan), np.full(BINS, -1, dtype=np.int64)
    if len(angle) < 2:
        return range_m, face_at
    centre = (np.arange(BINS) + 0.5) * (2 * np.pi / BINS)
    after = np.searchsorted(angle, centre) % len(angle)
    before = after - 1
    behind, ahead = (centre - angle[before]) % (2 * np.pi), (angle[after] - centre) % (2 * np.pi)
    nearest = np.where(behind <= ahead, before, after)
    steps = np.diff(angle)
    step = np.median(steps[steps > 1e-9]) if (steps > 1e-9).any() else 2 * np.pi / BINS
    close = np.minimum(behind, ahead) <= max(0.75 * step, np.pi / BINS)
    same = (face[before] == face[after]) & (face[before] >= 0) & (behind + ahead <= 4 * step)
    known = close | same
    range_m[known] = distance[nearest[known]]
    face_at[known] = face[nearest[known]]
    # On a face the range at the bin's own bearing is where the ray meets the line.
    on = np.flatnonzero(face_at >= 0)
    normal, middle = faces.normal[face_at[on]], faces.centre_m[face_at[on]]
    ray = np.stack([np.sin(centre[on]), np.cos(centre[on])], axis=-1)
    across = np.einsum("ij,ij->i", normal, ray)
    with np.errstate(divide="ignore", invalid="ignore"):
        meets = np.einsum("ij,ij->i", normal, middle) / across
    sound = np.isfinite(meets) & (np.abs(meets - range_m[on]) < 0.5) & (meets > 0)
    range_m[on[sound]] = meets[sound]
    return range_m, face_at


def _beside(range_m: Floats, side: int) -> Floats:
    """The range ``(B,)`` in the next bin on one side of each, past those of which nothing is known:
    along a wall seen at a grazing angle a lost reading hides metres."""
    beside = np.roll(range_m, side)
    for further in range(2, 2 + MOST_UNKNOWN):
        beside = np.where(np.isfinite(beside), beside, np.roll(range_m, side * further))
    return beside


def _jumps(xy_m: Floats, distance_m: Floats, angle: Floats) -> Floats:
    """Readings ``(J, 2)``, in scan order, past which what is seen next lies well behind: edges of
    what stands before it."""
    if len(angle) < 2:
        return np.empty((0, 2))
    step = np.median(np.diff(angle))
    found = []
    for side in (-1, 1):
        behind = np.roll(distance_m, -side) - distance_m
        close = np.abs(np.roll(angle, -side) - angle) < 3 * step
        steady = np.abs(np.roll(distance_m, side) - distance_m) < 0.1 + 0.02 * distance_m
        found.append(np.flatnonzero(close & steady & (behind > JUMP_M)))
    return xy_m[np.concatenate(found)]


@dataclass(frozen=True, eq=False)
class Agreement:
    """For ``H`` poses of the second capture in the first one's frame: metres of face that agree and
    metres measured through (`agreed_m`, `through_m`, mean of both ways), and whether the two
    stations contradict each other about whether they see one another."""

    agreed_m: Floats
    through_m: Floats
    contradicts: np.ndarray

    @property
    def score_m(self) -> Floats:
        """Metres of agreement less the weighted contradiction."""
        return self.agreed_m - THROUGH_WEIGHT * self.through_m - UNSEEN_M * self.contradicts


@dataclass(frozen=True, eq=False)
class Readings:
    """What single readings say, straight face or not, at ``H`` poses.

    `shared (H,)` is the share of readings that lie on what the other capture sees, `contact (H,)`
    the share that the other looks at, be it to or through them, and `sound (H,)` the part of the
    latter that it does not look through, in the worse of the two ways.
    """

    shared: Floats
    contact: Floats
    sound: Floats


def readings_agree(first: View, second: View, pose: Floats, tolerance_m: float) -> Readings:
    """Lay the second capture's readings over the first and the other way round, at poses
    ``(H, 3)``."""
    agreed_a, through_a = _looked_at(first, second, pose, tolerance_m)
    agreed_b, through_b = _looked_at(second, first, inverse(pose), tolerance_m)
    n_a, n_b = max(len(second.point_m), 1), max(len(first.point_m), 1)
    shared = (agreed_a / n_a + agreed_b / n_b) / 2
    contact = ((agreed_a + through_a) / n_a + (agreed_b + through_b) / n_b) / 2
    sound = np.minimum(
        agreed_a / np.maximum(agreed_a + through_a, 1),
        agreed_b / np.maximum(agreed_b + through_b, 1),
    )
    return Readings(shared, contact, sound)


def _looked_at(view: View, other: View, pose: Floats, tolerance_m: float) -> tuple[Floats, Floats]:
    """Numbers ``(H,)`` of the other's readings that lie on what a view sees, and that it looks
    through."""
    points = moved(pose[:, None, :], other.point_m)
    place = _bin_of(points)
    distance = np.hypot(points[..., 0], points[..., 1])
    # A small error of the turn moves far points most.
    slack = tolerance_m + 0.015 * distance
    with np.errstate(invalid="ignore"):
        beyond = distance - view.near_m[place]
        agreed = (beyond > -slack) & (distance < view.far_m[place] + slack)
        through = other.solid & (beyond < -(2 * slack + 0.1))
    return agreed.sum(axis=1).astype(float), through.sum(axis=1).astype(float)


def agreement(
    first: View,
    second: View,
    pose: Floats,
    tolerance_m: float,
    tolerance_rad: float,
) -> Agreement:
    """Lay the second capture over the first at poses ``(H, 3)`` and ask each about the other."""
    back = inverse(pose)
    agree_a, through_a = _asked(first, second, pose, tolerance_m, tolerance_rad)
    agree_b, through_b = _asked(second, first, back, tolerance_m, tolerance_rad)
    seen_a, hidden_a = _sees(first, pose[:, :2], tolerance_m)
    seen_b, hidden_b = _sees(second, back[:, :2], tolerance_m)
    contradicts = (seen_a & hidden_b) | (seen_b & hidden_a)
    return Agreement((agree_a + agree_b) / 2, (through_a + through_b) / 2, contradicts)


def rough_worth(first: View, second: View, shift: Floats, turn: float) -> Floats:
    """Metres ``(H,)`` of agreement less contradiction, mean of both ways, to a raster's cell: the
    second capture laid over the first at one turn and shifts ``(H, 2)``."""
    back = -turned(shift, -turn)
    total = np.zeros(len(shift))
    for view, other, move, by in ((first, second, shift, turn), (second, first, back, -turn)):
        samples = other.samples
        normal = other.faces.normal_rad[samples.face[::ROUGH_STEP]]
        length = ROUGH_STEP * samples.length_m[::ROUGH_STEP]
        total += raster_worth(
            view.raster, samples.point_m[::ROUGH_STEP], normal, length, move, by, THROUGH_WEIGHT
        )
    seen_a, hidden_a = _sees(first, shift, COARSE_M)
    seen_b, hidden_b = _sees(second, back, COARSE_M)
    return total / 2 - UNSEEN_M * ((seen_a & hidden_b) | (seen_b & hidden_a))


def _bin_of(points: Floats) -> Ints:
    return np.floor(azimuth_of(points) * (BINS / (2 * np.pi))).astype(np.int64) % BINS


def _asked(
    view: View, other: View, pose: Floats, tolerance_m: float, tolerance_rad: float
) -> tuple[Floats, Floats]:
    """Metres ``(H,)`` of the other's faces that the view sees too, and that it saw through."""
    samples = other.samples
    points = moved(pose[:, None, :], samples.point_m)
    place = _bin_of(points)
    normal_rad = other.faces.normal_rad[samples.face] + pose[:, 2:]
    length = samples.length_m
    face = view.face_at[place]
    own_normal = view.faces.normal_rad[face] if len(view.faces) else np.zeros_like(normal_rad)
    alike = (face >= 0) & (np.cos(own_normal - normal_rad) > np.cos(tolerance_rad))
    if len(view.faces):
        offset = points - view.faces.centre_m[face]
        across = offset[..., 0] * np.sin(own_normal) + offset[..., 1] * np.cos(own_normal)
        alike &= np.abs(across) < tolerance_m
    distance = np.hypot(points[..., 0], points[..., 1])
    facing = np.abs(
        points[..., 0] * np.sin(normal_rad) + points[..., 1] * np.cos(normal_rad)
    ) / np.maximum(distance, 1e-9)
    with np.errstate(invalid="ignore"):
        depth = (view.near_m[place] - distance) * facing
        through = ~alike & (depth > 2.0 * tolerance_m) & samples.seen
    return alike @ length, through @ length


def _sees(view: View, points: Floats, tolerance_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Whether a view looks past points ``(H, 2)``, and whether something hides them from it."""
    place = _bin_of(points)
    distance = np.hypot(points[:, 0], points[:, 1])
    with np.errstate(invalid="ignore"):
        return (
            view.near_m[place] > distance + 2 * tolerance_m,
            view.far_m[place] < distance - 2 * tolerance_m,
        )
