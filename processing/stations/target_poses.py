# SPDX-License-Identifier: GPL-2.0-or-later
"""Motions of a frame that common targets ask for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.model import Ints
from .connect_frames import fitted, moved, turned

SHORTEST_BASE_M = 0.30
"""Two common targets nearer to each other than this leave the turn to chance."""


@dataclass(frozen=True, eq=False)
class Points:
    """Positions ``(n, 2)`` of targets in a frame, their 1-sigma errors ``(n,)`` and which targets
    they are ``(n,)``."""

    xy_m: Floats
    sigma_m: Floats
    target: Ints

    def __len__(self) -> int:
        return len(self.target)

    def of(self, targets: Ints) -> Points:
        """Only those of some targets."""
        keep = np.isin(self.target, targets)
        return Points(self.xy_m[keep], self.sigma_m[keep], self.target[keep])


@dataclass(frozen=True, eq=False)
class Common:
    """Targets known in two frames: points ``(n, 2)`` in each, the 1-sigma error of their difference
    ``(n,)``, and their indices ``(n,)``."""

    first_m: Floats
    second_m: Floats
    sigma_m: Floats
    target: Ints

    def __len__(self) -> int:
        return len(self.target)

    def misfit_m(self, pose: Floats) -> Floats:
        """Distances ``(n,)`` between the two points of each target when the second frame is laid
        over the first by the pose."""
        return np.hypot(*(moved(pose, self.second_m) - self.first_m).T)

    def allowed_m(self) -> Floats:
        """Misfits ``(n,)`` that noise explains."""
        return 4.0 * self.sigma_m + 0.005


def pose_from_targets(common: Common) -> tuple[Floats, np.ndarray] | None:
    """The motion (3,) of the second frame that brings most common targets together, and which of
    them agree ``(n,)``; None when no two agree on a base long enough to fix the turn.

    Two targets determine the motion, so every pair is tried (as in Fischler and Bolles 1981, but
    exhaustively) and the motion fitted again to all that agree with the best pair.
    """
    n = len(common)
    best: tuple[int, float] = (1, np.inf)
    chosen: Floats | None = None
    allowed = common.allowed_m()
    for i in range(n - 1):
        for j in range(i + 1, n):
            base = common.first_m[j] - common.first_m[i]
            other = common.second_m[j] - common.second_m[i]
            if min(np.hypot(*base), np.hypot(*other)) < SHORTEST_BASE_M:
                continue
            two = np.array([i, j])
            pose = fitted(common.second_m[two], common.first_m[two], np.ones(2))
            misfit = common.misfit_m(pose)
            # The other targets inherit the pair's turn error with their distance from it.
            lever = np.hypot(*(common.first_m - common.first_m[two].mean(axis=0)).T)
            slack = allowed * (1.0 + lever / np.hypot(*base))
            agree = misfit < slack
            if not agree[two].all():
                continue
            rank = (int(agree.sum()), float(np.sum(misfit[agree] ** 2)))
            if rank[0] > best[0] or (rank[0] == best[0] and rank[1] < best[1]):
                best, chosen = rank, pose
                members = agree
    if chosen is None:
        return None
    pose = fitted(
        common.second_m[members], common.first_m[members], common.sigma_m[members] ** -2.0
    )
    return pose, members


def turn_sigma_rad(common: Common, members: np.ndarray) -> float:
    """1-sigma error of the turn that common targets give."""
    weight = common.sigma_m[members] ** -2.0
    centre = weight @ common.first_m[members] / weight.sum()
    lever = np.sum(weight * np.sum((common.first_m[members] - centre) ** 2, axis=1))
    return float(1.0 / np.sqrt(max(lever, 1e-12)))


def pose_from_direction(
    first_m: Floats, second_m: Floats, first_normal_rad: float, second_normal_rad: float
) -> Floats:
    """The motion (3,) from one target and the direction of the surface that carries it, both known
    in the two frames."""
    turn = float(wrap_half(first_normal_rad - second_normal_rad))
    return np.append(first_m - turned(second_m, turn), turn)
