# SPDX-License-Identifier: GPL-2.0-or-later
"""Poses under which two captures may overlap, without or with a starting guess.

Thousands of starts (`overlap_starts`) are judged by looking cells up, the best by all that both
captures measured; those are refined, judged again, finely, and ranked (`overlap_evidence`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats
from ..captures.model import Bools, Ints
from .connect_frames import apart
from .overlap import COARSE_M, View, rough_worth
from .overlap_evidence import evidence, rough_evidence, tolerance_m
from .overlap_refine import polish, refine
from .overlap_starts import Prior, shifts, turns

MOST_SHIFTS = 60
MOST_LOOKED_AT, MOST_REFINED, MOST_POLISHED, MOST_KEPT = 40, 12, 6, 5
"""How many starts of a turn go on, and how many poses are looked at closely, refined, refined with
all readings, and kept."""

MOST_VOTED = 2
"""So many shifts of a turn, those with most votes of faces and ends, are looked at closely whatever
their cells say: far stations of one long room share walls that lie beyond the cells."""

LEAST_COARSE_M = 0.5
FIXED_M = 0.05
"""A pose with a standard error below this stands without two faces in common."""

SAME_SHIFT_M, SAME_TURN_RAD = 0.12, np.radians(1.5)


@dataclass(frozen=True, eq=False)
class Hypotheses:
    """Poses of the second capture in the first one's frame, best first.

    `pose (H, 3)`, `covariance (H, 3, 3)`, `agreed_m (H,)` and `through_m (H,)` metres of face,
    `score_m (H,)` what they are worth together, `pairs (H,)` faces seen by both, `shared (H,)` and
    `sound (H,)` what single readings say (`overlap.Readings`).
    """

    pose: Floats
    covariance: Floats
    agreed_m: Floats
    through_m: Floats
    score_m: Floats
    pairs: Ints
    shared: Floats
    sound: Floats

    def __len__(self) -> int:
        return len(self.pose)

    @property
    def gap(self) -> float:
        """How far the second-best score lies below the best: 1 when there is no other, 0 when
        another pose explains the captures as well."""
        if not len(self) or self.score_m[0] <= 0:
            return 0.0
        if len(self) == 1:
            return 1.0
        return float(1.0 - max(self.score_m[1], 0.0) / self.score_m[0])

    @property
    def sigma_m(self) -> Floats:
        """Largest standard error ``(H,)`` of the position in any direction."""
        if not len(self):
            return np.empty(0)
        return np.sqrt(np.linalg.eigvalsh(self.covariance[:, :2, :2])[:, 1])


def no_hypotheses() -> Hypotheses:
    """When nothing fits."""
    none = np.empty(0)
    return Hypotheses(
        pose=np.empty((0, 3)),
        covariance=np.empty((0, 3, 3)),
        agreed_m=none,
        through_m=none,
        score_m=none,
        pairs=np.empty(0, dtype=np.int64),
        shared=none,
        sound=none,
    )


def match(
    first: View, second: View, prior: Prior | None = None, least_m: float = 0.0
) -> Hypotheses:
    """The poses of the second capture in the first one's frame that the two support, best first;
    none, and that sooner, where the best is worth less than `least_m`."""
    if len(first.faces) < 2 or len(second.faces) < 2:
        return no_hypotheses()
    starts, worth, voted = [], [], []
    for turn in turns(first, second, prior):
        shift = shifts(first, second, float(turn), prior)
        if not len(shift):
            continue
        rough = rough_worth(first, second, shift, float(turn))
        best = np.argsort(-rough, kind="stable")
        best = np.append(best[:MOST_SHIFTS], best[MOST_SHIFTS:][best[MOST_SHIFTS:] < MOST_VOTED])
        starts.append(np.column_stack([shift[best], np.full(len(best), turn)]))
        worth.append(rough[best])
        voted.append(best < MOST_VOTED)
    if not starts:
        return no_hypotheses()
    coarse = np.concatenate(worth)
    if coarse.max() < least_m:
        return no_hypotheses()
    found = _settled(first, second, np.concatenate(starts), coarse, np.concatenate(voted), least_m)
    return found if len(found) and found.score_m[0] >= least_m else no_hypotheses()


def _settled(
    first: View, second: View, starts: Floats, coarse: Floats, voted: Bools, least_m: float
) -> Hypotheses:
    """Judge, refine and rank starting poses ``(H, 3)`` that are worth `coarse (H,)`, those `voted
    (H,)` for in any case; poses that come out the same are one."""
    order = distinct(starts, coarse, 0.25, np.radians(3.0), MOST_LOOKED_AT)
    order = np.append(order, np.setdiff1d(np.flatnonzero(voted), order))
    order = order[coarse[order] > LEAST_COARSE_M]
    looked = rough_evidence(first, second, starts[order], COARSE_M)[0]
    order = order[distinct(starts[order], looked, 0.25, np.radians(3.0), MOST_REFINED)]
    if not len(order) or looked.max() < least_m:
        return no_hypotheses()
    fine = tolerance_m(first, second)
    gates = ((0.25, 0.10), (0.15, 0.07), (2 * fine, 0.05), (fine, 0.03))
    refined = refine(first, second, starts[order], gates)
    score = rough_evidence(first, second, refined.pose, fine)[0]
    keep = distinct(refined.pose, score, SAME_SHIFT_M, SAME_TURN_RAD, MOST_POLISHED)
    refined = polish(
        first,
        second,
        refined.pose[keep],
        ((0.12, 0.05), (2 * fine, 0.04), (fine, 0.03), (fine, 0.03)),
    )
    score, judged, said = evidence(first, second, refined)
    keep = distinct(refined.pose, score, SAME_SHIFT_M, SAME_TURN_RAD, MOST_KEPT)
    fixed = np.sqrt(np.linalg.eigvalsh(refined.covariance[:, :2, :2])[:, 1]) < FIXED_M
    keep = keep[(score[keep] > 0) & ((refined.pairs[keep] >= 2) | fixed[keep])]
    return Hypotheses(
        refined.pose[keep],
        refined.covariance[keep],
        judged.agreed_m[keep],
        judged.through_m[keep],
        score[keep],
        refined.pairs[keep],
        said.shared[keep],
        said.sound[keep],
    )


def distinct(pose: Floats, score: Floats, shift_m: float, turn_rad: float, most: int) -> Ints:
    """The best poses, best first, leaving out those near a better one."""
    order = np.argsort(-score, kind="stable")
    kept: list[int] = []
    free = np.ones(len(pose), dtype=bool)
    for index in order:
        if not free[index]:
            continue
        kept.append(int(index))
        if len(kept) == most:
            break
        shift, turn = apart(pose, pose[index])
        free &= (shift > shift_m) | (turn > turn_rad)
    return np.array(kept, dtype=np.int64)
