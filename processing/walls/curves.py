# SPDX-License-Identifier: GPL-2.0-or-later
"""Curved walls and columns of a survey: the arcs that several stations saw of one become one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from ..angles import Floats, azimuth_of, turn
from ..captures.arcs import Arcs, find_arcs, without_arcs
from ..captures.face_model import Faces
from ..captures.model import Ints, Survey
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


def find_curves(survey: Survey, faces: Sequence[Faces], network: Network) -> Curved:
    """The curves of a survey with adjusted stations; ``faces`` are those of each capture."""
    arcs = tuple(find_arcs(capture, own) for capture, own in zip(survey.captures, faces))
    if not any(len(own) for own in arcs):
        return Curved((), arcs, tuple(faces))
    straight = tuple(
        own.only(without_arcs(own, arc)) if len(arc) else own for own, arc in zip(faces, arcs)
    )
    groups = _grouped(survey, network, arcs)
    curves = [_joined(survey, network, arcs, group) for group in groups]
    curves.sort(key=lambda c: (c.level, -round(c.centre_m[1], 3), round(c.centre_m[0], 3)))
    return Curved(tuple(curves), arcs, straight)


def _in_plan(network: Network, arcs: Sequence[Arcs], capture: int, arc: int) -> Floats:
    circle = arcs[capture].circle[arc]
    return np.append(network.to_plan(capture, circle.centre_m), circle.radius_m)


def _own_covariance(network: Network, arcs: Sequence[Arcs], capture: int, arc: int) -> Floats:
    """The covariance of an arc's centre and radius by its readings, in the plan's axes."""
    turned = np.eye(3)
    turned[:2, :2] = turn(np.eye(2), float(network.orientation_rad[capture])).T
    return np.asarray(turned @ arcs[capture].circle[arc].covariance @ turned.T)


def _by_station(network: Network, arcs: Sequence[Arcs], capture: int, arc: int) -> Floats:
    """How centre and radius in the plan follow the station's x, y and orientation ``(3, 3)``."""
    x, y = network.to_plan(capture, arcs[capture].circle[arc].centre_m) - network.xy_m[capture]
    return np.array([[1.0, 0.0, y], [0.0, 1.0, -x], [0.0, 0.0, 0.0]])


def _grouped(survey: Survey, network: Network, arcs: Sequence[Arcs]) -> list[list[tuple[int, int]]]:
    """Arcs that cannot be told apart, the one with the most readings first; by names, so that the
    order of files plays no part."""
    every = [(s, a) for s in range(len(arcs)) for a in range(len(arcs[s]))]
    every.sort(key=lambda sa: (-np.sum(arcs[sa[0]].arc_of_reading == sa[1]), survey.names[sa[0]]))
    blocks = station_covariance(network)
    groups: list[list[tuple[int, int]]] = []
    for s, a in every:
        for group in groups:
            t, b = group[0]
            if survey.captures[s].level != survey.captures[t].level:
                continue
            if network.network[s] != network.network[t]:
                continue
            if arcs[s].hollow[a] != arcs[t].hollow[b]:
                continue
            apart = _in_plan(network, arcs, s, a) - _in_plan(network, arcs, t, b)
            first, second = _by_station(network, arcs, s, a), _by_station(network, arcs, t, b)
            covariance = (
                _own_covariance(network, arcs, s, a)
                + _own_covariance(network, arcs, t, b)
                + first @ blocks[s, s] @ first.T
                + second @ blocks[t, t] @ second.T
                - first @ blocks[s, t] @ second.T
                - second @ blocks[t, s] @ first.T
                + ALIKE_M**2 * np.eye(3)
            )
            if apart @ np.linalg.solve(covariance, apart) < SAME:
                group.append((s, a))
                break
        else:
            groups.append([(s, a)])
    return groups


def _joined(
    survey: Survey, network: Network, arcs: Sequence[Arcs], group: list[tuple[int, int]]
) -> Curve:
    """The generalised least-squares mean of a group's circles, whose stations are correlated
    (Mikhail and Ackermann, *Observations and Least Squares*, chapter 4)."""
    blocks = station_covariance(network)
    count = len(group)
    covariance = np.zeros((3 * count, 3 * count))
    for i, (s, a) in enumerate(group):
        rows = slice(3 * i, 3 * i + 3)
        covariance[rows, rows] = _own_covariance(network, arcs, s, a)
        for j, (t, b) in enumerate(group):
            covariance[rows, 3 * j : 3 * j + 3] += (
                _by_station(network, arcs, s, a) @ blocks[s, t] @ _by_station(network, arcs, t, b).T
            )
    design = np.tile(np.eye(3), (count, 1))
    observed = np.concatenate([_in_plan(network, arcs, s, a) for s, a in group])
    weighted = np.linalg.solve(covariance, design)
    cofactor = np.linalg.inv(design.T @ weighted)
    estimate = cofactor @ weighted.T @ observed
    left = observed - design @ estimate
    freedom = 3 * count - 3
    misfit = float(left @ np.linalg.solve(covariance, left))
    scale = misfit / freedom if freedom and misfit > chdtri(freedom, 0.001) else 1.0
    azimuths = [
        azimuth_of(
            network.to_plan(s, survey.captures[s].xy_m[arcs[s].arc_of_reading == a]) - estimate[:2]
        )
        for s, a in group
    ]
    first = group[0][0]
    return Curve(
        centre_m=estimate[:2],
        radius_m=float(estimate[2]),
        covariance=scale * cofactor,
        hollow=bool(arcs[first].hollow[group[0][1]]),
        level=survey.captures[first].level,
        network=int(network.network[first]),
        arcs=tuple(group),
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
