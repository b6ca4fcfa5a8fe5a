# SPDX-License-Identifier: GPL-2.0-or-later
"""What a join of two groups of stations is worth, and what it needs to be made."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ..angles import Floats, wrap_half
from .connect_evidence import Laid
from .connect_frames import apart
from .connect_groups import Groups
from .connect_judge import Judge

LEAST_NATS, LEAST_LEAD, ALONE_NATS = 5.0, 4.0, 8.0
"""What a join needs: evidence, a lead over every other one, and the evidence for two captures that
no other stands by. Chosen on simulated buildings of rooms built alike and not, so that no join
there was wrong."""

FEW_WALLS, FEW_NATS, FEW_ALONE_NATS = 3, 7.5, 12.0
"""Two rooms of one width agree in so few walls as finely as one room does with itself: evidence of
so few must be this much, and for two captures that no other stands by."""

WALL_NATS = 1.0
"""Walls of one place agree by two nats and more each, net of what counts against the pose; where
many lie near each other and each tells less than this, they are of places built alike."""

DOUBT = 2.1
"""How many nats more a join needs for each that speaks against it: what captures say against each
other in their true places stays within a few, and in rooms built alike it is all there is."""

SURE_NATS = 14.0
"""With less, a join waits until every pair has been looked at, also past its compass."""

RULED_NATS, RULED_LEAD = 2.5, 20.0
"""What is enough where every other pose is ruled out so clearly."""

OTHER_M, OTHER_RAD = 0.12, np.radians(1.4)
"""A pose that differs by more is another one."""

SHARP_M = 0.02
"""A join must fix the position so well (1 sigma)."""

TARGET_NATS = 8.0
BENT_SHARE = 0.15
"""How many compasses are bent by steel (common practice), to any direction."""


@dataclass(frozen=True, eq=False)
class Join:
    """The likeliest pose of a group in another's frame: `nats` of evidence, `lead` over the next
    other pose (or over none), the nats of that, `rival`; how many `walls` are common and what the
    captures say `against` it, nats not negative; the two stations nearest to each other and how
    they lie, once it is made or given up."""

    first: int
    second: int
    pose: Floats
    nats: float
    lead: float
    rival: float
    walls: int = 0
    against: float = 0.0

    stations: tuple[int, int] = (-1, -1)
    relative: Floats = field(default_factory=lambda: np.zeros(3))

    @property
    def weight(self) -> float:
        """What joins are put in order by."""
        return min(self.nats, self.lead)

    @property
    def gap(self) -> float:
        """How far the next pose lies below this one, as a share."""
        return self.lead / self.nats if self.nats > 0 else 0.0


def likeliest(groups: Groups, judge: Judge, a: int, b: int, laid: Laid) -> Join | None:
    """The join of two groups by the ways to lay b over a, their compasses and targets; None where
    nothing speaks for one."""
    pose, total, sigma = laid.pose, laid.nats.copy(), laid.sigma_m.copy()
    turn = groups.compass_turn(a, b)
    if turn is not None:
        total += compass_nats(pose[:, 2], *turn)
    common = groups.common(a, b)
    if len(common):
        for k in range(len(pose)):
            fits = common.misfit_m(pose[k]) < common.allowed_m() + 0.05
            total[k] += TARGET_NATS * (fits.sum() - (~fits).sum())
            if fits.any():
                sigma[k] = min(sigma[k], float(common.sigma_m[fits].min()))
    top = int(np.argmax(total))
    best = pose[top]
    if total[top] < 0 or sigma[top] > SHARP_M or judge.forbids(a, b, best):
        return None
    shift, off = apart(pose, best)
    other = (shift > OTHER_M) | (off > OTHER_RAD)
    rival = float(total[other].max(initial=-np.inf))
    nats = float(total[top])
    walls, against = int(laid.walls[top]), float(laid.against[top])
    return Join(a, b, best, nats, nats - max(rival, 0.0), rival, walls, against)


def enough(groups: Groups, join: Join, scatter: float = 1.0) -> bool:
    """Whether a join has the evidence and the lead that it needs, where the errors of all faces are
    `scatter` times the stated ones."""
    if join.nats < WALL_NATS * join.walls / scatter:
        return False
    alone = len(groups.members(join.first)) + len(groups.members(join.second)) == 2
    needed = ALONE_NATS if alone else LEAST_NATS
    if join.walls <= FEW_WALLS and not len(groups.common(join.first, join.second)):
        needed = FEW_ALONE_NATS if alone else FEW_NATS
    # What speaks against the pose has lowered the evidence already; but rooms built alike agree
    # in much and not in all, so it counts as doubt, too.
    if join.nats >= needed + DOUBT * join.against and join.lead >= LEAST_LEAD:
        return True
    # Where the captures rule out all else (not where nothing else was found), little is enough.
    ruled = np.isfinite(join.rival) and join.nats - join.rival > RULED_LEAD
    return bool(not alone and ruled and join.nats >= RULED_NATS)


def compass_nats(turn_rad: Floats, asked_rad: float, sigma_rad: float) -> Floats:
    """Nats ``(H,)`` that two compasses give turns ``(H,)``, against all turns being alike likely;
    a few compasses are bent."""
    z = wrap_half(turn_rad - asked_rad) / sigma_rad
    straight = np.exp(-0.5 * z**2) * np.sqrt(2 * np.pi) / sigma_rad
    return np.log((1 - BENT_SHARE) * straight + BENT_SHARE)
