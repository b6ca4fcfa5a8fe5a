# SPDX-License-Identifier: GPL-2.0-or-later
"""How the storeys of a survey hang together.

Walls tie stations of one storey only. Storeys are joined by targets sighted from both, which the
open well of a stair makes possible: one halfway up its wall is seen upwards from below and
downwards from above. A storey that shares none is a network of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from ..captures.model import Ints
from .model import StoreyJoin
from .network_evidence import Evidence
from .network_group import AdjustedGroup


def storey_joins(evidence: Evidence, adjusted: Sequence[AdjustedGroup]) -> tuple[StoreyJoin, ...]:
    """Every two storeys that targets join, network by network."""
    s = evidence.sightings
    found = []
    for number, group in enumerate(adjusted, start=1):
        adjustment = group.snooping.adjustment
        used = adjustment.observations.by_item("sightings", adjustment.used).all(axis=1)
        rows = group.target_rows[used]
        level = evidence.level[s.station[rows]]
        for lower, upper in combinations(np.unique(evidence.level[group.members]).tolist(), 2):
            shared = np.intersect1d(s.target[rows[level == lower]], s.target[rows[level == upper]])
            if not len(shared):
                continue
            own = rows[np.isin(s.target[rows], shared) & np.isin(level, (lower, upper))]
            stations = np.unique(s.station[own])
            below = stations[evidence.level[stations] == lower]
            turn, place = _against(group, below[0], _of_level(evidence, group, upper))
            found.append(
                StoreyJoin(
                    number,
                    lower,
                    upper,
                    tuple(s.name[t] for t in shared),
                    tuple(evidence.names[k] for k in stations),
                    turn,
                    place,
                )
            )
    return tuple(found)


def storey_warnings(evidence: Evidence, number: Ints) -> list[str]:
    """The storeys that nothing joins to another; `number (S,)` is the network of each station, 0 or
    less where nothing ties it."""
    levels = np.unique(evidence.level)
    told = []
    for level in levels if len(levels) > 1 else ():
        own = np.unique(number[(evidence.level == level) & (number > 0)])
        if len(own) and not np.isin(own, number[evidence.level != level]).any():
            told.append(
                f"No target ties level {level} to another level: it is a network of its own, and "
                "where it lies over the others is a sketch. Two targets in the well of the stair, "
                "each sighted from both storeys, would join it."
            )
    return told


def _of_level(evidence: Evidence, group: AdjustedGroup, level: int) -> Ints:
    return np.asarray(group.members[evidence.level[group.members] == level])


def _against(group: AdjustedGroup, station: int, others: Ints) -> tuple[float, float]:
    """The largest 1-sigma errors of the turn and of the place (worst direction) of stations, seen
    from another one that is taken to stand fast."""
    members = group.members.tolist()
    first = members.index(int(station))
    adjustment = group.snooping.adjustment
    own = adjustment.station_covariance()
    others_with_it = adjustment.covariance(np.arange(3 * len(members)), 3 * first + np.arange(3))
    across = others_with_it.reshape(-1, 3, 3)
    here = group.pose[first, :2]
    turn, place = 0.0, 0.0
    for other in others:
        at = members.index(int(other))
        x, y = group.pose[at, :2] - here
        # A clockwise turn of the first station moves what is at (x, y) from it by (y, -x).
        back = np.array([[1.0, 0.0, y], [0.0, 1.0, -x], [0.0, 0.0, 1.0]])
        # An S-transformation (Baarda 1973).
        cross = across[at] @ back.T
        relative = own[at] + back @ own[first] @ back.T - cross - cross.T
        turn = max(turn, float(np.sqrt(max(relative[2, 2], 0.0))))
        place = max(place, float(np.sqrt(max(np.linalg.eigvalsh(relative[:2, :2])[-1], 0.0))))
    return turn, place
