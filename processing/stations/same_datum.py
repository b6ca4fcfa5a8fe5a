# SPDX-License-Identifier: GPL-2.0-or-later
"""An adjusted network in the datum of an earlier one, so that a plan that grows does not jump.

Observations leave open where a free network lies and how it is turned. Each of its groups is moved
as a whole to where the stations that it has in common with the earlier network stood, by robust
least squares: a datum transformation (an S-transformation of the coordinates; Baarda 1973), which
changes no distance and no angle.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from ..angles import Floats, turn_matrix, wrap_half
from ..captures.model import Ints
from .connect_frames import composed, fitted, moved, turned, turned_covariance
from .model import Network, Status

LEVER_M = 1.0
"""An orientation counts as much as a point this far from its station: all that one station in
common tells of how the network is turned."""

UNTURNED_RAD = 1e-12
"""Less than this is what rounding and full turns leave of an angle."""

ROUNDS = 10
FIRM_M = 0.002
"""A station that moved less than this has full weight; one that moved further, by a change of its
ties, does not draw the others along (weights of the least sum of distances)."""


@dataclass(frozen=True, eq=False)
class EarlierPoses:
    """Stations of an earlier plan: ``pose (S, 3)`` of x, y (m) and orientation (rad) in its frame,
    ``network (S,)`` their groups."""

    station: tuple[str, ...]
    pose: Floats
    network: Ints

    def only(self, names: Collection[str]) -> EarlierPoses:
        """Those of some stations."""
        rows = np.flatnonzero([name in names for name in self.station])
        return EarlierPoses(
            tuple(self.station[row] for row in rows), self.pose[rows], self.network[rows]
        )


def on_earlier_datum(network: Network, earlier: EarlierPoses) -> Network:
    """The network with each group moved onto the earlier plan; groups without a station in common
    with it, and all where there are none, stay.

    Of several earlier groups that are one now, the one with the most stations in common decides
    (then the first). A group with a held station stays: that is its datum. Groups that are all new
    go with the first, beside which they were drawn.
    """
    first: Floats | None = None
    for group in np.unique(network.network):
        here = np.flatnonzero(network.network == group)
        now, before = _common(network, here, earlier)
        if any(network.status[s] is Status.HELD for s in here):
            first = np.zeros(3) if first is None else first
            continue
        if not len(now):
            network = _moved(network, int(group), here, np.zeros(3) if first is None else first)
            continue
        main = earlier.network[before] == _most_common(earlier.network[before])
        motion = motion_between(network_poses(network)[now[main]], earlier.pose[before[main]])
        first = motion if first is None else first
        network = _moved(network, int(group), here, motion)
    return network


def came_from_groups(network: Network, earlier: EarlierPoses) -> dict[int, int]:
    """For each group that has stations of the earlier plan, the earlier group that most of them
    are from."""
    found = {}
    for group in np.unique(network.network):
        _, before = _common(network, np.flatnonzero(network.network == group), earlier)
        if len(before):
            found[int(group)] = _most_common(earlier.network[before])
    return found


def _most_common(groups: Ints) -> int:
    of, count = np.unique(groups, return_counts=True)
    return int(of[np.argmax(count)])


def network_poses(network: Network) -> Floats:
    """The poses ``(S, 3)`` of x, y (m) and orientation (rad)."""
    return np.column_stack([network.xy_m, network.orientation_rad])


def motion_between(before: Floats, after: Floats) -> Floats:
    """The motion (3,) that brings poses ``(n, 3)``, n >= 1, onto others: by all alike where they
    moved as a whole, by most of them where some moved on their own."""
    turned_by = wrap_half(after[:, 2] - before[:, 2])
    if np.array_equal(before[:, :2], after[:, :2]) and np.abs(turned_by).max() < UNTURNED_RAD:
        return np.zeros(3)
    source, target = _levers(before), _levers(after)
    weight = np.ones(len(source))
    for _ in range(ROUNDS):
        motion = fitted(source, target, weight)
        left = np.hypot(*(moved(motion, source) - target).T)
        weight = 1.0 / np.maximum(left, FIRM_M)
    return motion


def _levers(pose: Floats) -> Floats:
    """Each station as two points on either side of it, so that it tells a direction too."""
    arm = turned(np.array([0.0, LEVER_M]), pose[:, 2])
    return np.concatenate([pose[:, :2] + arm, pose[:, :2] - arm])


def _common(network: Network, here: Ints, earlier: EarlierPoses) -> tuple[Ints, Ints]:
    known = np.isfinite(earlier.pose).all(axis=1)
    place = {name: row for row, name in enumerate(earlier.station) if known[row]}
    pairs = [(int(s), place[network.station[s]]) for s in here if network.station[s] in place]
    found = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    return found[:, 0], found[:, 1]


def _moved(network: Network, group: int, here: Ints, motion: Floats) -> Network:
    if not motion.any():
        return network
    pose = network_poses(network)
    pose[here] = composed(motion, pose[here])
    plane = turn_matrix(motion[2])
    covariance = network.covariance.copy()
    rows = (3 * here[:, None] + np.arange(3)).ravel()
    own = np.ix_(rows, rows)
    covariance[own] = turned_covariance(covariance[own], float(motion[2]))
    targets = network.targets
    own = targets.network == group
    xy, of_targets = targets.xy_m.copy(), targets.covariance_m2.copy()
    xy[own] = moved(motion, xy[own])
    of_targets[own] = plane @ of_targets[own] @ plane.T
    return replace(
        network,
        xy_m=pose[:, :2],
        orientation_rad=wrap_half(pose[:, 2]),
        covariance=covariance,
        targets=replace(targets, xy_m=xy, covariance_m2=of_targets),
    )
