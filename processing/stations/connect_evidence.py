# SPDX-License-Identifier: GPL-2.0-or-later
"""What the captures of two groups say about ways to lay one group over the other.

Only captures that come within reach of each other are asked, and only faces that come near each
other, so that the cost goes with how much of two groups touches and not with their size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.face_model import Faces
from ..captures.model import Ints
from .connect_frames import between, composed, inverse, moved
from .connect_groups import Groups
from .connect_series import Series
from .connect_sight import sight_nats
from .connect_touching import touching
from .connect_weigh import POSE_NATS, refined, wall_nats, walls_of
from .network_walls import trusted
from .overlap import View
from .overlap_refine import joined_faces

CACHED_M, CACHED_RAD = 0.008, np.radians(0.06)
"""Poses that differ by less have the same said against them."""

FURTHER_NATS, WALLS_BY_CHANCE, WALLS_OF_SERIES = 0.8, 2, 4
"""What each common wall beyond so many is worth by being there at all: two always find partners, by
chance seldom more, and bare rooms of one series have their four in common. In such buildings (31 of
those tuned on) 1.3 % of the wrong poses that have evidence have five or more in common, and 31 % of
the right ones."""

MOST_AT_ONCE = 300_000
"""Poses times faces times faces that are refined in one piece."""

_HERE = np.zeros((1, 3))


@dataclass(frozen=True, eq=False)
class Laid:
    """Ways to lay one group over another: refined `pose (H, 3)` of the second group's frame in the
    first one's, `nats (H,)` of evidence by walls and captures, the largest standard error of the
    position (`sigma_m (H,)`), how many `walls (H,)` are common and what captures say `against (H,)`
    it, nats not negative, which `nats` is less by already."""

    pose: Floats
    nats: Floats
    sigma_m: Floats
    walls: Ints
    against: Floats


@dataclass(eq=False)
class Weigher:
    """Asks the captures; `level (S,)` are the storeys, `reach_m (S,)` how far each capture sees,
    `scatter` a factor on the errors of faces, `series` whether rooms are of one."""

    views: Sequence[View]
    groups: Groups
    level: Ints
    reach_m: Floats
    scatter: float = 1.0
    series: Series = Series.NONE
    _said: dict[tuple[int, int], tuple[Floats, Floats]] = field(default_factory=dict)

    @cached_property
    def _faces(self) -> Faces:
        """The faces of all captures, each in its instrument's frame."""
        return joined_faces([view.faces for view in self.views], np.zeros((len(self.views), 3)))

    @cached_property
    def _owner(self) -> Ints:
        """The station of each face."""
        return np.repeat(np.arange(len(self.views)), [len(view.faces) for view in self.views])

    def weigh(self, first: Ints, second: Ints, pose: Floats) -> Laid:
        """Lay the stations `second` over the stations `first` near poses ``(H, 3)``."""
        pose, sigma, nats, walls = self._by_walls(first, second, pose)
        speaking, against = self.sight(first, second, pose)
        bare = self.series == Series.BARE
        known = WALLS_OF_SERIES if bare else WALLS_BY_CHANCE
        nats += FURTHER_NATS * np.maximum(walls - known, 0)
        if not bare:
            nats += speaking
        return Laid(pose, nats - POSE_NATS - against, sigma, walls, against)

    def clash(self, first: Ints, second: Ints, pose: Floats) -> float:
        """Nats for two sets of stations at a pose ``(3,)`` as it is; 0 where they do not meet."""
        one, two, _ = self._near(first, second, pose[None])
        if not one.any():
            return 0.0
        a, b = (self._placed(of) for of in (first[one], second[two]))
        mask_a, mask_b = touching(a, b, pose[None])
        nats, _ = wall_nats(
            walls_of([a.without_readings(mask_a[0])], _HERE),
            walls_of([b.without_readings(mask_b[0])], _HERE),
            pose[None],
            self.scatter,
        )
        return float(nats[0]) - float(self.sight(first, second, pose[None])[1][0])

    def held_m(self, first: Ints, second: Ints, pose: Floats) -> float:
        """The largest standard error of the position (m) at a pose ``(3,)`` by those common walls
        alone that the network takes; infinite without any."""
        one, two, _ = self._near(first, second, pose[None])
        if not one.any():
            return np.inf
        a, b = (self._placed(of) for of in (first[one], second[two]))
        of_a, of_b = (mask[0] for mask in touching(a, b, pose[None]))
        of_a, of_b = of_a & trusted(a), of_b & trusted(b)
        if not (of_a.any() and of_b.any()):
            return np.inf
        mine, far = (
            walls_of([faces.without_readings(of)], _HERE) for faces, of in ((a, of_a), (b, of_b))
        )
        _, covariance = refined(mine, far, pose[None])
        return float(np.sqrt(np.linalg.eigvalsh(covariance[0, :2, :2])[1]))

    def _near(
        self, first: Ints, second: Ints, pose: Floats
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Which stations of each set come within reach of one of the other, ``(m,)`` and ``(n,)``,
        and at which poses which two do, ``(H, m, n)``."""
        at = self.groups.pose
        placed = composed(pose[:, None], at[second])[..., :2]
        off = at[first, None, :2] - placed[:, None]
        away = np.hypot(off[..., 0], off[..., 1])
        near = away < self.reach_m[first, None] + self.reach_m[second]
        near &= self.level[first, None] == self.level[second]
        return near.any(axis=(0, 2)), near.any(axis=(0, 1)), near

    def _placed(self, stations: Ints) -> Faces:
        """The faces of stations in their group's frame."""
        wanted = np.zeros(len(self.views), dtype=bool)
        wanted[stations] = True
        faces = self._faces.without_readings(wanted[self._owner])
        at = self.groups.pose[self._owner[wanted[self._owner]]]
        return replace(
            faces,
            centre_m=moved(at, faces.centre_m),
            normal_rad=faces.normal_rad + at[:, 2],
        )

    # --- for a pose ------------------------------------------------------------------------------

    def _by_walls(
        self, first: Ints, second: Ints, pose: Floats
    ) -> tuple[Floats, Floats, Floats, Ints]:
        """Poses moved to where walls agree best, their largest standard errors ``(H,)``, the nats
        ``(H,)`` of walls for them and the numbers of common walls ``(H,)``."""
        pose = pose.copy()
        sigma, nats = np.full(len(pose), np.inf), np.zeros(len(pose))
        walls = np.zeros(len(pose), dtype=np.int64)
        one, two, _ = self._near(first, second, pose)
        a, b = self._placed(first[one]), self._placed(second[two])
        mask_a, mask_b = touching(a, b, pose)
        whole = mask_a.any(axis=0).sum() * mask_b.any(axis=0).sum() * len(pose) <= MOST_AT_ONCE
        for part in [np.arange(len(pose))] if whole else np.arange(len(pose))[:, None]:
            of_a, of_b = mask_a[part].any(axis=0), mask_b[part].any(axis=0)
            if not of_a.any():
                continue
            mine, far = (
                walls_of([a.without_readings(of_a)], _HERE),
                walls_of([b.without_readings(of_b)], _HERE),
            )
            pose[part], covariance = refined(mine, far, pose[part])
            sigma[part] = np.sqrt(np.linalg.eigvalsh(covariance[:, :2, :2])[:, 1])
            nats[part], walls[part] = wall_nats(mine, far, pose[part], self.scatter)
        return pose, sigma, nats, walls

    # --- what captures looked at and through -----------------------------------------------------

    def sight(self, first: Ints, second: Ints, pose: Floats) -> tuple[Floats, Floats]:
        """What the captures of two sets of stations say for poses and against them, nats ``(H,)``
        each, not negative. For a pose speaks the pair that says most: others look at the same
        rooms. Against it each station's fault counts."""
        at = self.groups.pose
        one, two, near = self._near(first, second, pose)
        nats = np.zeros((len(pose), int(one.sum()), int(two.sum())))
        near = near[:, one][:, :, two]
        for row, column in np.argwhere(near.any(axis=0)):
            i, j = int(first[one][row]), int(second[two][column])
            where = np.flatnonzero(near[:, row, column])
            relative = between(at[i], composed(pose[where], at[j]))
            nats[where, row, column] = self._pair(i, j, relative)
        speaking = nats.max(axis=(1, 2), initial=0.0)
        return speaking, np.array([once_each(each) for each in np.maximum(-nats, 0.0)])

    def _pair(self, i: int, j: int, pose: Floats) -> Floats:
        """What two captures say for poses ``(H, 3)`` of the second in the first one's frame, each
        asked once."""
        if i > j:
            return self._pair(j, i, inverse(pose))
        known, nats = self._said.get((i, j), (np.empty((0, 3)), np.empty(0)))
        off = pose[:, None] - known
        near = (np.hypot(off[..., 0], off[..., 1]) < CACHED_M) & (
            np.abs(wrap_half(off[..., 2])) < CACHED_RAD
        )
        again = near.any(axis=1)
        result = np.empty(len(pose))
        result[again] = nats[np.argmax(near[again], axis=1)] if len(nats) else 0.0
        if not again.all():
            result[~again] = sight_nats(self.views[i], self.views[j], pose[~again])
            self._said[i, j] = (
                np.concatenate([known, pose[~again]]),
                np.concatenate([nats, result[~again]]),
            )
        return result


def once_each(nats: Floats) -> float:
    """What pairs of stations say against a pose, nats ``(m, n)``, each station's fault counted
    once: a mirrored wall in one capture is measured through from every other."""
    left, total = nats.copy(), 0.0
    while left.any():
        rows, columns = left.sum(axis=1), left.sum(axis=0)
        if rows.max() >= columns.max():
            at = int(np.argmax(rows))
            total += float(left[at].max())
            left[at] = 0.0
        else:
            at = int(np.argmax(columns))
            total += float(left[:, at].max())
            left[:, at] = 0.0
    return total
