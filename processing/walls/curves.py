# SPDX-License-Identifier: GPL-2.0-or-later
"""Curved walls and columns of a survey: the arcs that several stations saw of one become one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from ..angles import Floats, azimuth_of
from ..captures.arcs import Arcs, find_arcs, without_arcs
from ..captures.face_model import Faces
from ..captures.model import Ints, Survey
from ..progress import SILENT, Progress
from ..stations.connect_frames import pose_matrix
from ..stations.model import Network
from .planes import station_covariance

ALIKE_M = 0.005
"""Plaster and plinth may make arcs of one curve differ by this (1 sigma) beyond their errors."""

SAME = float(chdtri(3, 0.001))

UNSEEN_M = 0.3
"""Along an arc, readings further apart than this leave an unseen stretch between them."""


@dataclass(frozen=True, eq=False)
class Curve:
    """One circle in the plan frame: what several stations saw of it.

    `covariance (3, 3)` of centre x, y and radius has the stations' errors in it; `arcs` are pairs
    (capture, arc of that capture); `seen` the arcs ``(start, extent)`` in radians, azimuths from
    the centre, that readings back.
    """

    centre_m: Floats
    radius_m: float
    covariance: Floats
    hollow: bool
    level: int
    network: int
    arcs: tuple[tuple[int, int], ...]
    seen: tuple[tuple[float, float], ...]


@dataclass(frozen=True, eq=False)
class Curved:
    """A survey's curves, the arcs of each capture, and the faces left when theirs are gone."""

    curves: tuple[Curve, ...]
    arcs: tuple[Arcs, ...]
    straight: tuple[Faces, ...]


def find_curves(
    survey: Survey, faces: Sequence[Faces], network: Network, progress: Progress = SILENT
) -> Curved:
    """The curves of a survey with adjusted stations; ``faces`` are those of each capture. Raises
    `Cancelled`."""
    seen = list(zip(survey.captures, faces))
    arcs = tuple(find_arcs(capture, own) for capture, own in progress.part(0.0, 0.8).over(seen))
    if not any(len(own) for own in arcs):
        return Curved((), arcs, tuple(faces))
    straight = tuple(
        own.only(without_arcs(own, arc)) if len(arc) else own for own, arc in zip(faces, arcs)
    )
    every = _PlanArcs.of(survey, network, arcs)
    groups = _grouped(every, progress.part(0.8, 0.9))
    curves = [
        _joined(survey, network, arcs, every, group)
        for group in progress.part(0.9, 1.0).over(groups)
    ]
    curves.sort(key=lambda c: (c.level, -round(c.centre_m[1], 3), round(c.centre_m[0], 3)))
    return Curved(tuple(curves), arcs, straight)


@dataclass(frozen=True, eq=False)
class _PlanArcs:
    """``A`` arcs of all captures in the plan frame, the one with the most readings first; by names,
    so that the order of files plays no part.

    `capture` and `arc (A,)` say where each comes from, `circle (A, 3)` are centre and radius, `own
    (A, 3, 3)` their covariance by the readings, `by_station (A, 3, 3)` how they follow the
    station's x, y and orientation, `stations (S, S, 3, 3)` the covariances of these by pairs.
    """

    capture: Ints
    arc: Ints
    circle: Floats
    own: Floats
    by_station: Floats
    level: Ints
    network: Ints
    hollow: NDArray[np.bool_]
    stations: Floats

    def __len__(self) -> int:
        return len(self.arc)

    @classmethod
    def of(cls, survey: Survey, network: Network, arcs: Sequence[Arcs]) -> _PlanArcs:
        every = [(s, a) for s in range(len(arcs)) for a in range(len(arcs[s]))]
        every.sort(
            key=lambda sa: (-np.sum(arcs[sa[0]].arc_of_reading == sa[1]), survey.names[sa[0]])
        )
        capture, arc = np.array(every, dtype=np.int64).T
        circles = [arcs[s].circle[a] for s, a in every]
        centre = np.array([network.to_plan(s, c.centre_m) for (s, _), c in zip(every, circles)])
        turned = pose_matrix(network.orientation_rad[capture])
        own = turned @ np.array([c.covariance for c in circles]) @ np.swapaxes(turned, 1, 2)
        x, y = (centre - network.xy_m[capture]).T
        by_station = np.zeros((len(every), 3, 3))
        by_station[:, 0, 0] = by_station[:, 1, 1] = 1.0
        # A clockwise turn moves the centre at (x, y) from the station along (y, -x).
        by_station[:, 0, 2], by_station[:, 1, 2] = y, -x
        level = np.array([c.level for c in survey.captures], dtype=np.int64)
        return cls(
            capture,
            arc,
            np.column_stack([centre, [c.radius_m for c in circles]]),
            own,
            by_station,
            level[capture],
            network.network[capture],
            np.array([arcs[s].hollow[a] for s, a in every], dtype=bool),
            station_covariance(network),
        )

    def shared(self, i: Ints | int, j: Ints | int) -> Floats:
        """The covariances ``(..., 3, 3)`` that arcs ``(...)`` have by their stations."""
        between = self.stations[self.capture[i], self.capture[j]]
        return np.asarray(self.by_station[i] @ between @ np.swapaxes(self.by_station[j], -1, -2))


def _grouped(arcs: _PlanArcs, progress: Progress) -> list[Ints]:
    """Arcs that cannot be told apart from the first of their group."""
    place = np.arange(len(arcs))
    spread = np.trace(arcs.own + arcs.shared(place, place), axis1=1, axis2=2)
    lead = np.empty(len(arcs), dtype=np.int64)
    groups: list[list[int]] = []
    for k in progress.over(range(len(arcs))):
        first = lead[: len(groups)]
        apart = arcs.circle[k] - arcs.circle[first]
        # No covariance of a difference has a larger eigenvalue than this.
        most = 2.0 * (spread[k] + spread[first]) + 3.0 * ALIKE_M**2
        may = (arcs.level[first] == arcs.level[k]) & (arcs.network[first] == arcs.network[k])
        may &= (arcs.hollow[first] == arcs.hollow[k]) & (np.sum(apart**2, axis=1) < SAME * most)
        for g in np.flatnonzero(may):
            j = int(first[g])
            cross = arcs.shared(k, j)
            covariance = (
                arcs.own[k]
                + arcs.own[j]
                + arcs.shared(k, k)
                + arcs.shared(j, j)
                - cross
                - cross.T
                + ALIKE_M**2 * np.eye(3)
            )
            if apart[g] @ np.linalg.solve(covariance, apart[g]) < SAME:
                groups[g].append(k)
                break
        else:
            lead[len(groups)] = k
            groups.append([k])
    return [np.array(group) for group in groups]


def _joined(
    survey: Survey, network: Network, arcs: Sequence[Arcs], every: _PlanArcs, group: Ints
) -> Curve:
    """The generalised least-squares mean of a group's circles, whose stations are correlated
    (Mikhail and Ackermann, *Observations and Least Squares*, chapter 4)."""
    count = len(group)
    blocks = every.shared(group[:, None], group[None])
    blocks[np.arange(count), np.arange(count)] += every.own[group]
    covariance = blocks.transpose(0, 2, 1, 3).reshape(3 * count, 3 * count)
    design = np.tile(np.eye(3), (count, 1))
    observed = every.circle[group].ravel()
    weighted = np.linalg.solve(covariance, design)
    cofactor = np.linalg.inv(design.T @ weighted)
    estimate = cofactor @ weighted.T @ observed
    left = observed - design @ estimate
    freedom = 3 * count - 3
    misfit = float(left @ np.linalg.solve(covariance, left))
    scale = misfit / freedom if freedom and misfit > chdtri(freedom, 0.001) else 1.0
    of = [(int(every.capture[k]), int(every.arc[k])) for k in group]
    azimuths = [
        azimuth_of(
            network.to_plan(s, survey.captures[s].xy_m[arcs[s].arc_of_reading == a]) - estimate[:2]
        )
        for s, a in of
    ]
    first = group[0]
    return Curve(
        centre_m=estimate[:2],
        radius_m=float(estimate[2]),
        covariance=scale * cofactor,
        hollow=bool(every.hollow[first]),
        level=int(every.level[first]),
        network=int(every.network[first]),
        arcs=tuple(of),
        seen=tuple(_stretches(np.concatenate(azimuths), UNSEEN_M / float(estimate[2]))),
    )


def _stretches(azimuth_rad: Floats, unseen_rad: float) -> list[tuple[float, float]]:
    """The arcs (start, extent) between gaps wider than ``unseen_rad``, but no wider than a quarter
    turn; a full turn begins at north."""
    unseen_rad = min(unseen_rad, 0.5 * np.pi)
    azimuth = np.sort(azimuth_rad % (2 * np.pi))
    gap = np.diff(np.append(azimuth, azimuth[0] + 2 * np.pi))
    wide = np.flatnonzero(gap > unseen_rad)
    if len(wide) == 0:
        return [(0.0, 2 * np.pi)]
    starts = azimuth[(wide + 1) % len(azimuth)]
    stops = azimuth[np.roll(wide, -1)]
    return [(float(a), float((b - a) % (2 * np.pi))) for a, b in zip(starts, stops) if a != b]


def reading_on(curved: Curved, capture: int) -> Ints:
    """The curve of each reading ``(n,)`` of a capture, or -1."""
    arcs = curved.arcs[capture]
    table = np.full(len(arcs) + 1, -1, dtype=np.int64)
    for number, curve in enumerate(curved.curves):
        for s, a in curve.arcs:
            if s == capture:
                table[a] = number
    return np.asarray(table[arcs.arc_of_reading])
