# SPDX-License-Identifier: GPL-2.0-or-later
"""Motions of a frame that common targets ask for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats, azimuth_of, wrap_half
from ..captures.model import Ints
from .connect_frames import fitted, moved, turned

SHORTEST_BASE_M = 0.30
"""Two common targets nearer to each other than this leave the turn to chance."""

MOST_BASES = 4000
"""So many pairs of common targets are tried."""


@dataclass(frozen=True, eq=False)
class Points:
    """Positions ``(n, 2)`` of targets in a frame, their 1-sigma errors ``(n,)`` and which targets
    they are ``(n,)``."""

    xy_m: Floats
    sigma_m: Floats
    target: Ints

    def __len__(self) -> int:
        return len(self.target)

    def at(self, target: int) -> Floats:
        """Where one target is ``(2,)``; it must be among them."""
        (place,) = np.flatnonzero(self.target == target)
        return np.asarray(self.xy_m[place])

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


def common_of(first: Points, second: Points) -> Common:
    """The targets known in two frames."""
    target, i, j = np.intersect1d(first.target, second.target, return_indices=True)
    sigma_m = np.hypot(first.sigma_m[i], second.sigma_m[j])
    return Common(first.xy_m[i], second.xy_m[j], sigma_m, target)


def pose_from_targets(common: Common) -> tuple[Floats, np.ndarray] | None:
    """The motion (3,) of the second frame that brings most common targets together, and which of
    them agree ``(n,)``; None when no two agree on a base long enough to fix the turn.

    Where they do not all agree, every pair is tried, as two targets determine the motion (as in
    Fischler and Bolles 1981, but exhaustively), and the motion fitted again to all that agree with
    the best pair.
    """
    n = len(common)
    if n > 1 and fixes_turn(common.first_m) and fixes_turn(common.second_m):
        pose = fitted(common.second_m, common.first_m, common.sigma_m**-2.0)
        if np.all(common.misfit_m(pose) < common.allowed_m()):
            return pose, np.ones(n, dtype=bool)
    i, j = np.triu_indices(n, 1)
    ahead, behind = common.first_m[j] - common.first_m[i], common.second_m[j] - common.second_m[i]
    base = np.minimum(np.hypot(*ahead.T), np.hypot(*behind.T))
    # The longest bases fix the turn best; of very many they are enough.
    tried = np.argsort(-base, kind="stable")[:MOST_BASES]
    tried = tried[base[tried] >= SHORTEST_BASE_M]
    if not len(tried):
        return None
    members = _most_agreeing(common, i[tried], j[tried])
    if members is None:
        return None
    pose = fitted(
        common.second_m[members], common.first_m[members], common.sigma_m[members] ** -2.0
    )
    return pose, members


def _most_agreeing(common: Common, i: Ints, j: Ints) -> np.ndarray | None:
    """Which targets ``(n,)`` agree with the motion that lays one of the pairs i, j ``(P,)`` of
    targets over itself: the motion with the most of them, of equals that with the least misfit.
    None where no pair agrees with itself."""
    ahead, behind = common.first_m[j] - common.first_m[i], common.second_m[j] - common.second_m[i]
    turn = wrap_half(azimuth_of(ahead) - azimuth_of(behind))
    middle = (common.first_m[i] + common.first_m[j]) / 2
    back = turned((common.second_m[i] + common.second_m[j]) / 2, turn)
    pose = np.column_stack([middle - back, turn])
    off = moved(pose[:, None], common.second_m) - common.first_m
    misfit = np.hypot(off[..., 0], off[..., 1])
    # The other targets inherit the pair's turn error with their distance from it.
    away = common.first_m - middle[:, None]
    lever = np.hypot(away[..., 0], away[..., 1]) / np.hypot(*ahead.T)[:, None]
    agree = misfit < common.allowed_m() * (1.0 + lever)
    pairs = np.arange(len(i))
    own = agree[pairs, i] & agree[pairs, j]
    if not own.any():
        return None
    count = np.where(own, agree.sum(axis=1), 0)
    square = np.sum(np.where(agree, misfit, 0.0) ** 2, axis=1)
    return np.asarray(agree[np.lexsort((square, -count))[0]])


def fixes_turn(points_m: Floats) -> bool:
    """Whether two of the points lie far enough apart to fix a turn."""
    return bool(np.hypot(*(points_m - points_m[0]).T).max() >= SHORTEST_BASE_M)


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
