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
from .connect_series import Series

LEAST_NATS, LEAST_LEAD = 3.0, 3.0
"""What a join needs: evidence, and a lead over every other one. In the 42 simulated buildings that
this was tuned on, the likeliest wrong ways to lay two groups over each other reached 2.4 of both,
and 2.1 where a group has four stations or more; two captures alone reached 3.5."""

PAIR_NATS = {Series.NONE: 4.0, Series.FURNISHED: 8.0, Series.BARE: 7.0}
"""What a join of two captures needs that no other one stands by: of many rooms of one series some
two agree in width, depth and angles to a millimetre, as four walls did that reached 6.5 nats, and
three that reached 6.8 with what the captures look at, which counts unless the rooms are bare. Of 88
right pairs that were joined where such rooms are furnished one had less."""

SURE_NATS = 8.0
"""With less, a join waits until every pair has been looked at, also past its compass."""

FEWEST_WALLS = 3
"""So many walls two captures must have in common unless that much is known for them, by targets
say: two walls fix the pose and leave hardly anything over to check it by. Two that were alike by
chance reached 4.9 nats; of 293 right joins of two captures none had fewer but with targets."""

RULED_NATS, RULED_LEAD = 1.5, 9.0
"""The less is enough the more clearly every other pose is ruled out: at this lead, so much."""

BARE_NATS, BARE_LEAD = 5.0, 4.0
"""What is asked instead where rooms of one series are bare: five walls of two such rooms reached
4.6, with a lead of 3.4 over the true place, of which a doorway showed little."""

SERIES_NATS, STANDING = 2.5, 4
"""Where rooms are of one series the true place may be one without a capture, so that to be ruled
out elsewhere tells less: at that lead so much is enough, and only where so many stations of a group
stand by, which know what lies around. There the likeliest wrong way to lay a capture over a group
that led by so much reached 1.8, of 41 buildings tuned on."""

LAST_NATS, LAST_FEW_NATS, LAST_PAIR_NATS = 0.5, 1.5, 3.5
"""What is enough at the end, when nothing else is clear any more: where so many of a group stand
by, where fewer do and for two captures alone. All that is likelier has its place then. Of the ways
to lay groups over each other that had anything for them then, in 150 buildings tuned on, 133 were
right and one of 0.1 was wrong."""

LAST_RIVAL, LAST_AGAINST = -4.0, 1.5
"""But every other pose must have so much against it, and the pose itself no more than this. Where a
third of the rooms had been closed to the captures outside, in 89 of those buildings, a wrong pose
of 2.2 nats led over one that had 3 against it; of those that fulfil this and have three walls one
of a group reached 0.1, and one of two captures 2.3."""

FAULT_NATS = 5.0
"""Unless something speaks against the pose itself, the less the more, and with so much not at all:
rooms built alike agree in much and not in all."""

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


def enough_at_last(groups: Groups, join: Join) -> bool:
    """Whether a join has what it needs when nothing else is clear any more."""
    sizes = [len(groups.members(of)) for of in (join.first, join.second)]
    least = LAST_NATS if max(sizes) >= STANDING else LAST_FEW_NATS
    if sum(sizes) == 2:
        least = LAST_PAIR_NATS
    return (
        join.nats >= least
        and join.walls >= FEWEST_WALLS
        and join.rival <= LAST_RIVAL
        and join.against <= LAST_AGAINST
    )


def enough(groups: Groups, join: Join, series: Series = Series.NONE) -> bool:
    """Whether a join has the evidence and the lead that it needs, where rooms are of one `series`
    or not."""
    bare = series == Series.BARE
    if join.lead < min(BARE_LEAD if bare else LEAST_LEAD, join.nats):
        return False
    sizes = [len(groups.members(of)) for of in (join.first, join.second)]
    # Of two captures alone the true place may not be among what was found, and where nothing else
    # was found nothing is ruled out.
    if sum(sizes) == 2:
        checked = join.walls >= FEWEST_WALLS or join.nats >= SURE_NATS
        return checked and join.nats >= PAIR_NATS[series]
    needed = BARE_NATS if bare else LEAST_NATS
    if np.isfinite(join.rival) and (not series or max(sizes) >= STANDING):
        ruled = (join.nats - join.rival - LEAST_LEAD) / (RULED_LEAD - LEAST_LEAD)
        sound = 1.0 - min(join.against / FAULT_NATS, 1.0)
        least = SERIES_NATS if series else RULED_NATS
        needed -= float(np.clip(ruled, 0.0, 1.0)) * sound * (needed - least)
    return join.nats >= needed


def compass_nats(turn_rad: Floats, asked_rad: float, sigma_rad: float) -> Floats:
    """Nats ``(H,)`` that two compasses give turns ``(H,)``, against places built alike, which lie
    at any quarter turn of each other; a few compasses are bent."""
    quarters = np.arange(4) * (np.pi / 2)
    z = wrap_half(np.asarray(turn_rad)[..., None] - asked_rad - quarters) / sigma_rad
    straight = np.exp(-0.5 * z**2) * np.sqrt(2 * np.pi) / sigma_rad
    right = (1 - BENT_SHARE) * straight[..., 0] + BENT_SHARE
    return np.log(right / ((1 - BENT_SHARE) * straight.mean(axis=-1) + BENT_SHARE))
