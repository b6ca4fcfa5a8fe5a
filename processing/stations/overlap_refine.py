# SPDX-License-Identifier: GPL-2.0-or-later
"""The pose of one capture in another's frame that brings their common faces together best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.face_model import Faces
from ..captures.model import Ints
from .connect_frames import moved, turned
from .overlap import View
from .overlap_loose import loose_equations
from .overlap_vertices import Vertices, vertex_equations

UNEVEN_OFFSET_M, UNEVEN_NORMAL_RAD = 1e-3, 3e-4
"""Least errors of a face between two captures of it: plaster is no plane (common practice)."""

LEVEL_OFFSET_M, LEVEL_NORMAL_RAD = 3e-4, 1e-4
"""The same for the weights of faces against each other: taken as flatter than plaster is, good
walls gain more than poor ones lose."""

START_SIGMA = (0.1, 0.1, 0.03)
"""A step starts from a pose known to this (m, m, rad): a direction that the faces leave open does
not run away."""

FINE_M = 0.06
"""From this gate on vertices must agree within their errors."""

VAGUE = 3.0
"""Short faces may differ in direction by so many of their standard errors."""


@dataclass(frozen=True, eq=False)
class Pairing:
    """Faces of two captures that are one face, at ``H`` poses: `weight (H, A, B)`, 0 where they are
    not, the robust weight (0 to 1) otherwise; residuals of the second face's line at its centre
    (`across_m`) and of its normal (`turn_rad`), and the position of the second's centre along the
    first face (`along_m`)."""

    weight: Floats
    across_m: Floats
    turn_rad: Floats
    along_m: Floats
    arm: Floats


def pair_faces(
    first: Faces, second: Faces, pose: Floats, gate_m: float, gate_rad: float, robust_m: float
) -> Pairing:
    """Pair faces that face the same side, lie in one line within the gates and overlap in extent,
    at poses ``(H, 3)`` of the second capture in the first one's frame."""
    spread = turned(second.centre_m, pose[:, 2:])
    centre = spread + pose[:, None, :2]
    normal_rad = second.normal_rad + pose[:, 2:]
    turn_rad = wrap_half(normal_rad[:, None, :] - first.normal_rad[:, None])
    offset = centre[:, None, :, :] - first.centre_m[:, None, :]
    normal, direction = first.normal[:, None, :], first.direction[:, None, :]
    across = offset[..., 0] * normal[..., 0] + offset[..., 1] * normal[..., 1]
    along = offset[..., 0] * direction[..., 0] + offset[..., 1] * direction[..., 1]
    common = np.minimum(first.span_m[:, None, 1], along + second.span_m[:, 1]) - np.maximum(
        first.span_m[:, None, 0], along + second.span_m[:, 0]
    )
    least = np.minimum(0.10, 0.5 * np.minimum(first.length_m[:, None], second.length_m))
    vague = VAGUE * np.hypot(first.sigma_normal_rad[:, None], second.sigma_normal_rad)
    paired = (
        (np.abs(turn_rad) < np.maximum(gate_rad, vague))
        & (np.abs(across) < gate_m)
        & (common > least)
    )
    weight = np.where(paired, 1.0 / (1.0 + (across / robust_m) ** 2), 0.0)
    # d(normal . centre)/d(turn): a clockwise turn moves v by (v_y, -v_x).
    arm = normal[..., 0] * spread[:, None, :, 1] - normal[..., 1] * spread[:, None, :, 0]
    return Pairing(weight, across, turn_rad, along, arm)


def _normal_equations(
    first: Faces,
    second: Faces,
    pairing: Pairing,
    uneven_m: float = LEVEL_OFFSET_M,
    uneven_rad: float = LEVEL_NORMAL_RAD,
) -> tuple[Floats, Floats]:
    """Normal equations ``(H, 3, 3)`` and right sides ``(H, 3)`` of the pose corrections.

    Each pair gives two observations, offset and direction, correlated through the first face's
    direction error: at `along_m` from its centre the line is off by that much times the error.
    """
    sigma_n1 = np.hypot(first.sigma_normal_rad, uneven_rad)[:, None]
    sigma_n2 = np.hypot(second.sigma_normal_rad, uneven_rad)
    sigma_o1 = np.hypot(first.sigma_offset_m, uneven_m)[:, None]
    sigma_o2 = np.hypot(second.sigma_offset_m, uneven_m)
    s = pairing.along_m
    v_oo = sigma_o1**2 + sigma_o2**2 + (s * sigma_n1) ** 2
    v_nn = sigma_n1**2 + sigma_n2**2
    v_on = s * sigma_n1**2
    scale = pairing.weight / (v_oo * v_nn - v_on**2)
    w_oo, w_nn, w_on = v_nn * scale, v_oo * scale, -v_on * scale
    nx, ny = first.normal[:, 0][:, None], first.normal[:, 1][:, None]
    arm, e_o, e_n = pairing.arm, pairing.across_m, pairing.turn_rad
    h = len(arm)
    total = np.empty((h, 3, 3))
    right = np.empty((h, 3))

    def summed(values: Floats) -> Floats:
        return values.reshape(h, -1).sum(axis=1)

    total[:, 0, 0] = summed(w_oo * nx * nx)
    total[:, 0, 1] = total[:, 1, 0] = summed(w_oo * nx * ny)
    total[:, 1, 1] = summed(w_oo * ny * ny)
    total[:, 0, 2] = total[:, 2, 0] = summed(nx * (w_oo * arm + w_on))
    total[:, 1, 2] = total[:, 2, 1] = summed(ny * (w_oo * arm + w_on))
    total[:, 2, 2] = summed(w_oo * arm * arm + 2 * w_on * arm + w_nn)
    force = w_oo * e_o + w_on * e_n
    right[:, 0] = -summed(force * nx)
    right[:, 1] = -summed(force * ny)
    right[:, 2] = -summed(force * arm + w_on * e_o + w_nn * e_n)
    return total, right


@dataclass(frozen=True, eq=False)
class Refined:
    """Refined poses ``(H, 3)``, their covariances ``(H, 3, 3)`` (infinite where the faces leave a
    direction open) and the numbers of paired faces and vertices ``(H,)``."""

    pose: Floats
    covariance: Floats
    pairs: Ints
    vertices: Ints


def joined_faces(faces: Sequence[Faces], pose: Floats) -> Faces:
    """The faces of several captures as one set, in the frame in which the captures have these poses
    ``(n, 3)``. The readings' own numbering is left out."""
    return Faces(
        centre_m=np.concatenate([moved(p, f.centre_m) for f, p in zip(faces, pose)]),
        normal_rad=np.concatenate([f.normal_rad + p[2] for f, p in zip(faces, pose)]),
        sigma_normal_rad=np.concatenate([f.sigma_normal_rad for f in faces]),
        sigma_offset_m=np.concatenate([f.sigma_offset_m for f in faces]),
        span_m=np.concatenate([f.span_m for f in faces]),
        end=np.concatenate([f.end for f in faces]),
        readings=np.concatenate([f.readings for f in faces]),
        rms_m=np.concatenate([f.rms_m for f in faces]),
        face_of_reading=np.empty(0, dtype=np.int64),
        line_of_reading=np.empty(0, dtype=np.int64),
    )


def refine(
    first: View, second: View, pose: Floats, gates: tuple[tuple[float, float], ...]
) -> Refined:
    """`refine_faces` of two views."""
    vertices = (first.vertices, second.vertices)
    return refine_faces(first.faces, second.faces, pose, gates, vertices)


def polish(
    first: View, second: View, pose: Floats, gates: tuple[tuple[float, float], ...]
) -> Refined:
    """The same with the readings that lie on no face of their own, for the last steps."""
    vertices, loose = (first.vertices, second.vertices), (first.loose_m, second.loose_m)
    noise = (first.noise_m, second.noise_m)
    return refine_faces(first.faces, second.faces, pose, gates, vertices, loose, noise)


def refine_faces(
    first: Faces,
    second: Faces,
    pose: Floats,
    gates: tuple[tuple[float, float], ...],
    vertices: tuple[Vertices, Vertices] | None = None,
    loose: tuple[Floats, Floats] | None = None,
    noise_m: tuple[float, float] = (2e-3, 2e-3),
) -> Refined:
    """Weighted line-to-line refinement of poses ``(H, 3)``; one step a gate (m, rad).

    The lines stand for their readings, so that this is point-to-line adjustment at the cost of a
    few dozen numbers. A direction that the faces do not fix keeps its start (a weak prior).
    """
    pose = pose.copy()
    pairs = np.zeros(len(pose), dtype=np.int64)
    common = np.zeros(len(pose), dtype=np.int64)
    total = np.zeros((len(pose), 3, 3))
    if not len(first) or not len(second) or not len(pose):
        return Refined(pose, np.full((len(pose), 3, 3), np.inf), pairs, pairs)
    prior = np.diag(1.0 / np.square(START_SIGMA))
    for gate_m, gate_rad in gates:
        robust = max(gate_m / 3, 0.01)
        pairing = pair_faces(first, second, pose, gate_m, gate_rad, robust)
        matrix, right = _normal_equations(first, second, pairing)
        total = matrix.copy()
        if vertices is not None:
            slack = robust if gate_m > FINE_M else 0.0
            more, push, common = vertex_equations(*vertices, pose, gate_m, gate_rad, slack)
            total += more
            right += push
        if loose is not None:
            more, push = loose_equations(first, second, loose, pose, gate_m, noise_m)
            total += more
            right += push
        step = np.linalg.solve(total + prior, right[..., None])[..., 0]
        step[:, :2] = np.clip(step[:, :2], -0.5, 0.5)
        step[:, 2] = np.clip(step[:, 2], -0.1, 0.1)
        pose += step
        pairs = (pairing.weight > 0.1).any(axis=2).sum(axis=1)
    pose[:, 2] = wrap_half(pose[:, 2])
    # What is stated allows for uneven plaster.
    total += (
        _normal_equations(first, second, pairing, UNEVEN_OFFSET_M, UNEVEN_NORMAL_RAD)[0] - matrix
    )
    return Refined(pose, np.linalg.inv(total + prior * 1e-8), pairs, common)
