# SPDX-License-Identifier: GPL-2.0-or-later
"""Vertices of a capture's faces, where walls of one direction leave the shift along them open.

Through a doorway two stations often share faces of one direction only; what fixes the shift along
those is where faces end: the corners of the jambs. A true end (a corner, or an edge past which the
next reading lies behind) is a vertex. An edge falls between the last reading on the face and the
next one, evenly likely anywhere there, so that its standard error along the face is that length
over the square root of twelve; across the face it is the line's.

Two captures see one vertex either as the same end of the same face, or, from the two sides of a
protruding corner, as the end of one of its faces and the start of the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..angles import Floats, along, unit, wrap_half
from ..captures.face_model import End, Faces
from ..captures.model import Ints
from .connect_frames import turned

FLAT_RAD = np.radians(12.0)
"""Lines that differ by less than this meet nowhere in particular."""

SHARP_RAD = np.radians(25.0)
"""The faces of a protruding corner differ at least by this, and at most by half a turn less it."""

LONGEST_DOUBT_M = 0.30
"""An edge that falls within a longer stretch than this is not known."""

LEAST_SIGMA_M = 2e-3
"""Corners are rounded, and the beam has a width."""

LARGE = 3.0
"""From so many standard errors on, vertices count less: they may be two."""


@dataclass(frozen=True, eq=False)
class Vertices:
    """``V`` ends of faces in the instrument's frame: `point_m (V, 2)`, the face's normal azimuth
    `normal_rad (V,)`, `side (V,)` 0 where the face starts there (in scan order) and 1 where it
    ends, standard errors along and across the face (m), the length of the face (m), and
    whether it is known to be the corner of a room, which no other side shows."""

    point_m: Floats
    normal_rad: Floats
    side: Ints
    sigma_along_m: Floats
    sigma_across_m: Floats
    length_m: Floats
    hollow: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.side)

    @property
    def direction(self) -> Floats:
        """Unit directions ``(V, 2)`` of the faces, as they are scanned."""
        return along(self.normal_rad)


def vertices_of(faces: Faces, angle: Floats, face: Ints) -> Vertices:
    """The vertices of faces, from the angles ``(n,)`` of the usable readings in scan order with
    their faces ``(n,)`` (-1: none)."""
    count = len(faces)
    parts = []
    if count and len(angle):
        place = np.flatnonzero(face >= 0)
        for side in (0, 1):
            at, sigma, sound = _edges(faces, angle, face, place, side)
            corner = faces.end[:, side] == End.CORNER
            meet, meet_sigma, met, hollow = _corners(faces, side)
            at = np.where(corner, meet, at)
            sigma = np.where(corner, meet_sigma, sigma)
            use = np.where(corner, met, sound & (faces.end[:, side] == End.EDGE))
            parts.append((np.flatnonzero(use), side, at[use], sigma[use], (corner & hollow)[use]))
    if not parts:
        none = np.empty(0)
        return Vertices(
            np.empty((0, 2)), none, none.astype(np.int64), none, none, none, none.astype(bool)
        )
    f = np.concatenate([p[0] for p in parts])
    at = np.concatenate([p[2] for p in parts])
    across = np.sqrt(faces.sigma_offset_m[f] ** 2 + (at * faces.sigma_normal_rad[f]) ** 2)
    return Vertices(
        faces.centre_m[f] + at[:, None] * faces.direction[f],
        faces.normal_rad[f],
        np.concatenate([np.full(len(p[0]), p[1], dtype=np.int64) for p in parts]),
        np.maximum(np.concatenate([p[3] for p in parts]), LEAST_SIGMA_M),
        np.maximum(across, LEAST_SIGMA_M),
        faces.length_m[f],
        np.concatenate([p[4] for p in parts]),
    )


def _edges(
    faces: Faces, angle: Floats, face: Ints, place: Ints, side: int
) -> tuple[Floats, Floats, np.ndarray]:
    """Where along each face ``(F,)`` an edge lies, its standard error and whether it is known."""
    n, count = len(angle), len(faces)
    step = 1 if side else -1
    # The reading of each face that is farthest along it on this side, round the turn.
    ray = unit(angle[place])
    own = face[place]
    # Range at which a ray meets its own face's line.
    height = np.einsum("ij,ij->i", faces.normal, faces.centre_m)
    reach = height[own] / np.einsum("ij,ij->i", faces.normal[own], ray)
    t = np.einsum("ij,ij->i", ray * reach[:, None] - faces.centre_m[own], faces.direction[own])
    order = np.lexsort((step * t, own))
    last = order[np.searchsorted(own[order], np.arange(count), side="right") - 1]
    has = own[last] == np.arange(count)
    tip = place[last]
    beyond = (tip + step) % n
    # A reading beside the edge that lies on no face may be a mixed one: look at the one after it.
    beyond = np.where(face[beyond] < 0, (beyond + step) % n, beyond)
    ray = unit(angle[beyond])
    cosine = np.einsum("ij,ij->i", faces.normal, ray)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = height / cosine
        far = np.einsum("ij,ij->i", ray * reach[:, None] - faces.centre_m, faces.direction)
    near = t[last]
    wide = step * (far - near)
    sound = has & (reach > 0) & (wide > 0) & (wide < LONGEST_DOUBT_M)
    wide = np.where(sound, wide, 0.0)
    return near + 0.5 * step * wide, wide / np.sqrt(12.0), sound


def _corners(faces: Faces, side: int) -> tuple[Floats, Floats, np.ndarray, np.ndarray]:
    """Where along each face ``(F,)`` it meets its neighbour, the standard error, whether it does,
    and whether the corner is a hollow one."""
    count = len(faces)
    other = (np.arange(count) + (1 if side else -1)) % count
    offset = faces.centre_m[other] - faces.centre_m
    sine = np.einsum("ij,ij->i", faces.direction, faces.normal[other])
    met = np.abs(sine) > np.sin(FLAT_RAD)
    sine = np.where(met, sine, 1.0)
    at = np.einsum("ij,ij->i", offset, faces.normal[other]) / sine
    there = faces.centre_m + at[:, None] * faces.direction
    arm = np.einsum("ij,ij->i", there - faces.centre_m[other], faces.direction[other])
    sigma = np.hypot(faces.sigma_offset_m[other], arm * faces.sigma_normal_rad[other])
    met &= other != np.arange(count)
    # In scan order the free side lies to the right, and the normal turns right in a hollow corner.
    turn = wrap_half(faces.normal_rad[other] - faces.normal_rad)
    hollow = (turn > 0) if side else (turn < 0)
    return at, sigma / np.abs(sine), met, hollow


def kin(
    first: Vertices, second: Vertices, turn_rad: ArrayLike, gate_rad: float
) -> tuple[np.ndarray, np.ndarray]:
    """Which vertices ``(..., A, B)`` may be the same end of one face, and which the two sides of a
    protruding corner, when the second capture is turned by angles ``(...)``."""
    turn = np.asarray(turn_rad, dtype=float)[..., None, None]
    off = wrap_half(second.normal_rad + turn - first.normal_rad[:, None])
    alike = first.side[:, None] == second.side
    same = alike & (np.abs(off) < gate_rad)
    # The free side lies to the right: round a protruding corner the normal turns to the left.
    round_corner = np.where(first.side[:, None] == 1, -off, off)
    protruding = ~alike & (round_corner > SHARP_RAD) & (round_corner < np.pi - SHARP_RAD)
    protruding &= ~first.hollow[:, None] & ~second.hollow
    return same, protruding


def vertex_shifts(
    first: Vertices, second: Vertices, turn: float, gate_rad: float
) -> tuple[Floats, Floats]:
    """Shifts ``(n, 2)`` that bring vertices onto each other at one turn, with their votes (m)."""
    same, protruding = kin(first, second, turn, gate_rad)
    a, b = np.nonzero(same | protruding)
    vote = 0.5 * np.minimum(first.length_m[a], second.length_m[b])
    return first.point_m[a] - turned(second.point_m[b], turn), vote


def vertex_equations(
    first: Vertices, second: Vertices, pose: Floats, gate_m: float, gate_rad: float, robust_m: float
) -> tuple[Floats, Floats, Ints]:
    """Normal equations ``(H, 3, 3)``, right sides ``(H, 3)`` and numbers ``(H,)`` of vertices that
    two captures have in common at poses ``(H, 3)``.

    The same end of one face says how far along the face the two lie; where they lie across it is
    the faces' own business. Round a protruding corner each says both. Vertices farther apart than
    their errors explain, `robust_m` added for a pose not yet fine, count less and less.
    """
    count = len(pose)
    total, right = np.zeros((count, 3, 3)), np.zeros((count, 3))
    if not len(first) or not len(second):
        return total, right, np.zeros(count, dtype=np.int64)
    spread = turned(second.point_m, pose[:, 2:])
    off = (spread + pose[:, None, :2])[:, None, :, :] - first.point_m[:, None, :]
    same, protruding = kin(first, second, pose[:, 2], gate_rad)
    near = np.hypot(off[..., 0], off[..., 1]) < gate_m + np.hypot(
        2 * first.sigma_along_m[:, None], 2 * second.sigma_along_m
    )
    h, a, b = np.nonzero((same | protruding) & near)
    if not len(h):
        return total, right, np.zeros(count, dtype=np.int64)
    e = off[h, a, b]
    d1 = first.direction[a]
    d2 = along(second.normal_rad[b] + pose[h, 2])
    alike = same[h, a, b]
    doubt = np.hypot(np.hypot(first.sigma_along_m[a], second.sigma_along_m[b]), LEAST_SIGMA_M)
    weight = _pencil(d1, 1.0 / np.square(doubt))
    other = ~alike
    weight[:, other] = _inverse(
        _ellipse(d1[other], first.sigma_along_m[a[other]], first.sigma_across_m[a[other]])
        + _ellipse(d2[other], second.sigma_along_m[b[other]], second.sigma_across_m[b[other]])
    )
    away = np.where(alike, np.abs(np.einsum("ij,ij->i", d1, e)), np.hypot(e[:, 0], e[:, 1]))
    weight /= (1.0 + np.square(away / np.hypot(LARGE * doubt, robust_m))) ** 2
    # A clockwise turn moves v by (v_y, -v_x).
    turned_x, turned_y = spread[h, b, 1], -spread[h, b, 0]
    xx, xy, yy = weight
    force_x, force_y = xx * e[:, 0] + xy * e[:, 1], xy * e[:, 0] + yy * e[:, 1]
    arm_x, arm_y = xx * turned_x + xy * turned_y, xy * turned_x + yy * turned_y
    for i, j, value in (
        (0, 0, xx),
        (0, 1, xy),
        (1, 1, yy),
        (0, 2, arm_x),
        (1, 2, arm_y),
        (2, 2, turned_x * arm_x + turned_y * arm_y),
    ):
        total[:, i, j] = total[:, j, i] = np.bincount(h, value, count)
    for i, value in enumerate((force_x, force_y, turned_x * force_x + turned_y * force_y)):
        right[:, i] = -np.bincount(h, value, count)
    return total, right, np.bincount(h, minlength=count)


def _pencil(direction: Floats, weight: Floats) -> Floats:
    """Weighted outer products of directions ``(n, 2)`` as xx, xy, yy ``(3, n)``."""
    x, y = direction.T
    return np.stack([x * x, x * y, y * y]) * weight


def _inverse(matrix: Floats) -> Floats:
    """Inverses of symmetric matrices given as xx, xy, yy ``(3, n)``."""
    xx, xy, yy = matrix
    return np.stack([yy, -xy, xx]) / (xx * yy - xy * xy)


def _ellipse(direction: Floats, along_m: Floats, across_m: Floats) -> Floats:
    """Covariances, as xx, xy, yy ``(3, n)``, with standard errors along and across directions."""
    normal = np.stack([-direction[:, 1], direction[:, 0]], axis=-1)
    return _pencil(direction, np.square(along_m)) + _pencil(normal, np.square(across_m))
