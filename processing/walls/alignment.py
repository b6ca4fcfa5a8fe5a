# SPDX-License-Identifier: GPL-2.0-or-later
"""Walls in one plane on both sides of a gap: one least-squares line where the data allow it.

Pieces on both sides of a doorway or of a cupboard get a common line when their own lines, each with
all its readings and its stations' covariances, cannot be told apart and are known well enough that
they could have been. Where another wall stands across between them they are walls of two rooms:
that these lie in one plane would be an accident, however alike the readings look.
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats, unit, wrap_half
from ..captures.face_model import End
from ..captures.model import Ints
from ..progress import Progress
from .lines import Line, common_line, difference
from .matching import FLATNESS_M, NEAREST_ANGLE_RAD
from .planes import PlanFaces
from .stretches import DEEPEST_FURNITURE_M

WIDEST_GAP_M = 4.0
"""Pieces farther apart than this keep their own lines."""

VAGUE_M = 0.01
"""Pieces are only compared across a gap when their difference in position is known to this
(1 sigma)."""

ALIKE = 2.4
"""Chi-square with two degrees of freedom (30 %) up to which two pieces get one line across an
opening. Strict on purpose: three in ten keep their own line for nothing, but pieces that differ by
little get no line that its stated error does not cover."""


HIDDEN = 9.2
"""The same (1 %) for pieces that both end behind or at what stands before them: a wall goes on
there."""


def aligned(faces: PlanFaces, lines: list[Line], progress: Progress) -> list[Line]:
    """The lines with those that are one across a gap adjusted together."""
    count = len(faces.station_m)
    stations = faces.stations.transpose(0, 2, 1, 3).reshape(3 * count, 3 * count)
    chi: dict[tuple[int, int], float] = {}
    candidates = _candidates(faces, lines)
    for a in progress.over(range(len(lines))):
        for b in candidates[a]:
            value = _misfit(faces, lines[a], lines[b], stations)
            if value is not None:
                chi[a, int(b)] = value
    groups = {k: [k] for k in range(len(lines))}
    owner = list(range(len(lines)))
    for (a, b), value in sorted(chi.items(), key=lambda item: (round(item[1], 9), item[0])):
        left, right = owner[a], owner[b]
        if value >= 1.0 or left == right:
            continue
        pairs = [(min(i, j), max(i, j)) for i in groups[left] for j in groups[right]]
        # Every two that could be compared must agree.
        if all(chi.get(pair, 0.0) < 1.0 for pair in pairs):
            groups[min(left, right)] = sorted(groups[left] + groups[right])
            del groups[max(left, right)]
            for k in groups[min(left, right)]:
                owner[k] = min(left, right)
    return [
        lines[group[0]]
        if len(group) == 1
        else common_line(faces, np.sort(np.concatenate([lines[k].members for k in group])))
        for _, group in sorted(groups.items())
    ]


def _candidates(faces: PlanFaces, lines: list[Line]) -> list[Ints]:
    """For each line the later ones that could be in its plane: of one level, network and side, and
    not far off or away."""
    first = np.array([line.members[0] for line in lines], dtype=np.int64)
    level, network = faces.level[first], faces.network[first]
    normal = np.array([line.normal_rad for line in lines])
    extents = [line.extents_m(faces) for line in lines]
    half = np.array([0.5 * np.ptp(e) for e in extents])
    middle = np.array(
        [
            line.centre_m + 0.5 * (e.min() + e.max()) * line.direction
            for line, e in zip(lines, extents)
        ]
    ).reshape(-1, 2)
    result = []
    for a in range(len(lines)):
        away = middle[a + 1 :] - middle[a]
        longest = half[a] + half[a + 1 :] + WIDEST_GAP_M
        turned = np.abs(wrap_half(normal[a + 1 :] - normal[a]))
        fits = (
            (level[a + 1 :] == level[a])
            & (network[a + 1 :] == network[a])
            & (turned < NEAREST_ANGLE_RAD)
            & (np.hypot(*away.T) < longest)
            & (np.abs(away @ unit(normal[a])) < 0.3 + 0.25 * longest)
        )
        result.append(a + 1 + np.flatnonzero(fits))
    return result


def _misfit(faces: PlanFaces, a: Line, b: Line, stations: Floats) -> float | None:
    """The test value over its limit, or None where two lines cannot be compared."""
    own = a.extents_m(faces)
    other = np.sort((faces.ends_m[b.members] - a.centre_m) @ a.direction, axis=1)
    if own[:, 0].min() > other[:, 0].min():
        (before, face_b), (after, face_a) = (other, b), (own, a)
    else:
        (before, face_b), (after, face_a) = (own, a), (other, b)
    low, high = before[:, 1].max(), after[:, 0].min()
    if not 0.0 < high - low < WIDEST_GAP_M:
        return None
    nearest = (
        face_b.members[int(np.argmax(before[:, 1]))],
        face_a.members[int(np.argmin(after[:, 0]))],
    )
    tips = tuple(zip(nearest, (1, 0)))
    across = [float(faces.across_m[tip]) for tip in tips]
    if max(across) > DEEPEST_FURNITURE_M:  # another wall, not the side of a cupboard
        return np.inf
    delta, covariance = difference(a, b, stations, 0.5 * (low + high))
    if covariance[1, 1] > VAGUE_M**2:
        return None
    limit = ALIKE
    if all(faces.end[tip] == End.OCCLUDED or side > 0.0 for tip, side in zip(tips, across)):
        # A wall goes on behind what stands before it; there its flatness is the doubt.
        limit = HIDDEN
        length = [line.extents_m(faces) for line in (a, b)]
        covariance[1, 1] += 2.0 * FLATNESS_M**2
        covariance[0, 0] += sum((FLATNESS_M / max(float(np.ptp(e)), 0.2)) ** 2 for e in length)
    return float(delta @ np.linalg.solve(covariance, delta)) / limit
