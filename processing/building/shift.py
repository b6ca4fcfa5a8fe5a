# SPDX-License-Identifier: GPL-2.0-or-later
"""The common shift of a maintained layer: one motion of all rooms, told apart from changes.

Rooms that kept their shape say where the layer lies: the motion that most of them agree on is
found by votes (where the layer is so far off that its rooms no longer overlap), refined by least
absolute deviations and fitted to those that agree by least squares.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.stats import chi2, norm

from ..angles import Floats
from ..captures.model import Ints
from .model import RoomSet
from .overlap import overlaps

FEWEST = 3
"""Fewer rooms do not tell a shift of the layer from moves of their own."""
SAME_AREA = 0.05
VOTE_M = 0.6
ROUNDS = 30
VOTERS = 500


@dataclass(frozen=True)
class Shift:
    """A rigid motion of the old rooms: a turn by `rotation_rad` (counterclockwise) about `about`,
    then a step of `step_m`. The identity when `significant` is false: the errors explain it."""

    step_m: tuple[float, float] = (0.0, 0.0)
    rotation_rad: float = 0.0
    about: tuple[float, float] = (0.0, 0.0)
    sigma_step_m: float = float("nan")
    sigma_rotation_rad: float = float("nan")
    rooms: int = 0
    significant: bool = False

    def apply(self, xy: Floats) -> Floats:
        """Points ``(n, 2)`` of the old layer where the survey has them."""
        return _turned(xy - self.about, self.rotation_rad) + self.about + self.step_m

    def inverse(self, xy: Floats) -> Floats:
        """Points ``(n, 2)`` of the survey where the old layer would have them."""
        back = xy - self.about - np.array(self.step_m)
        return _turned(back, -self.rotation_rad) + self.about

    def moved(self, polygon: NDArray[Any]) -> NDArray[Any]:
        """Old outlines where the survey has them; the very same ones for the identity."""
        return shapely.transform(polygon, self.apply) if self.significant else polygon


def _turned(xy: Floats, angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return xy @ np.array([[c, s], [-s, c]])


def common_shift(old: RoomSet, new: RoomSet, confidence: float) -> Shift:
    """The motion that takes the old rooms to the new ones; the identity where fewer than three
    rooms, or fewer than half of those that kept their size, agree on one."""
    if min(len(old), len(new)) < FEWEST:
        return Shift()
    centre_old, centre_new = _centres(old), _centres(new)
    start = np.zeros(2)
    pairs = _pairs(old, new)
    if len(pairs) < max(FEWEST, 0.5 * min(len(old), len(new))):
        first, second = _largest(old), _largest(new)
        voted = _voted(old.taken(first), new.taken(second), centre_old[first], centre_new[second])
        if voted is not None:
            moved = old.placed(shapely.transform(old.polygon, lambda xy: xy + voted))
            found = _pairs(moved, new)
            if len(found) > len(pairs):
                start, pairs = voted, found
    if len(pairs) < FEWEST:
        return Shift()
    i, j = pairs.T
    # A centre lies half way between two edges in each direction.
    sigma = np.hypot(old.sigma_edge_m[i], new.sigma_edge_m[j]) / np.sqrt(2.0)
    return _fitted(centre_old[i], centre_new[j], np.maximum(sigma, 1e-6), start, confidence)


def _centres(rooms: RoomSet) -> Floats:
    return shapely.get_coordinates(shapely.centroid(rooms.polygon))


def _largest(rooms: RoomSet) -> Ints:
    """Indices of so many rooms as may vote, the largest."""
    return np.sort(np.argsort(-rooms.area_m2, kind="stable")[:VOTERS])


def _pairs(old: RoomSet, new: RoomSet) -> Ints:
    """Rooms ``(m, 2)`` that share most of each and have about one size."""
    found = overlaps(old, new)
    alike = (found.of_old > 0.5) & (found.of_new > 0.5)
    gap = np.abs(old.area_m2[found.old] - new.area_m2[found.new])
    alike &= gap <= SAME_AREA * new.area_m2[found.new]
    return np.column_stack([found.old, found.new])[alike]


def _voted(old: RoomSet, new: RoomSet, a: Floats, b: Floats) -> Floats | None:
    """The step that most rooms of like size and extent vote for, None without a majority."""
    size_old, size_new = (_extents(rooms) for rooms in (old, new))
    alike = old.level[:, None] == new.level[None]
    gap = np.abs(old.area_m2[:, None] - new.area_m2[None])
    alike &= gap <= SAME_AREA * new.area_m2[None]
    alike &= (np.abs(size_old[:, None] - size_new[None]) < 0.1 * size_new[None] + 0.3).all(axis=2)
    i, j = np.nonzero(alike)
    if not len(i):
        return None
    steps = b[j] - a[i]
    best: tuple[int, Floats] | None = None
    # Four grids, each half a cell off, so that no cluster is cut in all of them.
    for shift in (0.0, 0.5):
        for other in (0.0, 0.5):
            cells = np.floor(steps / VOTE_M + np.array([shift, other])).astype(np.int64)
            _, cell, pairs = np.unique(cells, axis=0, return_inverse=True, return_counts=True)
            near = cell.reshape(-1) == np.argmax(pairs)
            votes = len(np.unique(i[near]))
            if best is None or votes > best[0]:
                best = votes, np.asarray(np.median(steps[near], axis=0))
    if best is None or best[0] < max(FEWEST, 0.5 * min(len(old), len(new))):
        return None
    return best[1]


def _extents(rooms: RoomSet) -> Floats:
    low_high = shapely.bounds(rooms.polygon)
    return low_high[:, 2:] - low_high[:, :2]


def _fitted(a: Floats, b: Floats, sigma: Floats, start: Floats, confidence: float) -> Shift:
    """The rigid motion from centres `a` to `b (n, 2)` with standard errors `sigma (n,)`."""
    about = a.mean(axis=0)
    arm, gap = a - about, b - a - start
    weight = 1.0 / sigma**2
    for _ in range(ROUNDS):
        step, turn, _, _ = _solved(arm, gap, weight)
        left = np.hypot(*(gap - _offset(arm, step, turn)).T)
        weight = 1.0 / (sigma * np.maximum(left, sigma))
    bound = sigma * np.sqrt(chi2.ppf(0.999, 2))
    inside = left <= np.maximum(bound, 3.0 * np.median(left))
    if inside.sum() < max(FEWEST, 0.5 * len(a)):
        return Shift()
    arm, gap, sigma = arm[inside], gap[inside], sigma[inside]
    step, turn, sigma_step, sigma_turn = _solved(arm, gap, 1.0 / sigma**2)
    turns = abs(turn) > norm.ppf(0.5 + confidence / 2.0) * sigma_turn
    if not turns:
        step, turn, sigma_step, _ = _solved(arm, gap, 1.0 / sigma**2, turning=False)
    whole = step + start
    moves = float(whole @ whole) > chi2.ppf(confidence, 2) * sigma_step**2
    if not (turns or moves):
        return Shift(sigma_step_m=sigma_step, sigma_rotation_rad=sigma_turn, rooms=len(arm))
    return Shift(
        (float(whole[0]), float(whole[1])),
        float(turn),
        (float(about[0]), float(about[1])),
        sigma_step,
        sigma_turn,
        len(arm),
        True,
    )


def _offset(arm: Floats, step: Floats, turn: float) -> Floats:
    return step + turn * np.column_stack([-arm[:, 1], arm[:, 0]])


def _solved(
    arm: Floats, gap: Floats, weight: Floats, turning: bool = True
) -> tuple[Floats, float, float, float]:
    """Step, small turn and their standard errors by weighted least squares: errors as known, or as
    the residuals show where these are larger."""
    n = len(arm)
    design = np.zeros((2 * n, 3 if turning else 2))
    design[:n, 0] = design[n:, 1] = 1.0
    if turning:
        design[:n, 2], design[n:, 2] = -arm[:, 1], arm[:, 0]
    w = np.concatenate([weight, weight])
    normal = design.T @ (w[:, None] * design)
    cofactor = np.linalg.pinv(normal)
    seen = np.concatenate([gap[:, 0], gap[:, 1]])
    found = cofactor @ (design.T @ (w * seen))
    free = 2 * n - design.shape[1]
    left = seen - design @ found
    factor = max(1.0, float(left @ (w * left)) / free if free > 0 else 1.0)
    errors = np.sqrt(factor * np.maximum(np.diag(cofactor), 0.0))
    sigma_step = float(np.sqrt((errors[0] ** 2 + errors[1] ** 2) / 2.0))
    if turning:
        return found[:2], float(found[2]), sigma_step, float(errors[2])
    return found, 0.0, sigma_step, float("nan")
