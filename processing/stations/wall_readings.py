# SPDX-License-Identifier: GPL-2.0-or-later
"""Readings that lie on a wall of which another station has a face.

A station that sees a few readings of a wall only, through a doorway or past a cupboard, has no face
there, or none that counts. That there is a wall they need not show: the other station's face does.
What they tell of the pose adds to what faces tell, as the information of independent readings does
(Kay, *Fundamentals of Statistical Signal Processing: Estimation Theory*, 1993, ch. 3).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

import numpy as np
from shapely import STRtree, linestrings, points

from ..angles import Floats, along, turn, unit
from ..captures.face_model import Faces
from ..captures.model import Bools, Ints
from .connect_frames import moved
from .loose_readings import LooseReadings
from .network_walls import Gate, Sights, column_of, trusted

LEAST_COSINE = np.cos(np.radians(80.0))
"""A beam that grazes a wall is near it for so long that whatever sends it back seems to lie on it:
beyond 80 degrees of incidence 7 to 10 % of the readings in simulated furnished storeys (seeds 500
to 599) are off by more than 1.96 of their standard errors."""

DOUBT = 2.0
"""What lies so many times as near as the gate asks to another wall as well may be of either."""

BESIDE_M = 0.10
"""A wall goes on beyond the end of its face by up to this, to the corner, where it is another."""


@dataclass(frozen=True, eq=False)
class WallReadings:
    """``n`` points on surfaces: `point_m (n, 2)` in the frame of the instrument at `station (n,)`
    lies on the surface `surface (n,)` with the 1-sigma error `sigma_m (n,)` across it."""

    station: Ints = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    surface: Ints = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    point_m: Floats = field(default_factory=lambda: np.empty((0, 2)))
    sigma_m: Floats = field(default_factory=lambda: np.empty(0))

    def __len__(self) -> int:
        return len(self.station)


def readings_on_walls(
    loose: LooseReadings,
    faces: Sequence[Faces],
    sights: Sights,
    stations: Ints,
    pose: Floats,
    level: Ints,
    gate: Gate,
    barred: Collection[tuple[int, int]] = (),
) -> tuple[Sights, WallReadings]:
    """Find the loose readings of `stations (m,)` with poses ``(S, 3)`` that lie on walls of others.

    A reading lies on a wall when it is within the gate of a face that counts, between its ends and
    on its free side, when it may be of no other wall and of no face of its own capture, and when so
    does the reading before it or after it; stations of a `barred` pair share none. Gives the common
    `sights` with those faces added that one station alone has of a surface, and the readings: of
    each station and surface two points that tell of the line what all its readings tell.
    """
    walls = _Walls.of(faces, sights, stations, pose)
    loose = loose.of_stations(stations)
    if not len(loose) or not len(walls.station):
        return sights, WallReadings()
    where = moved(pose[loose.station], loose.point_m)
    row, wall = STRtree(walls.lines()).query(
        points(where), predicate="dwithin", distance=np.hypot(gate.offset_m, BESIDE_M)
    )
    same = level[loose.station[row]] == level[walls.station[wall]]
    row, wall = row[same], wall[same]
    ray = turn(loose.point_m[row], pose[loose.station[row], 2])
    reach = np.hypot(ray[:, 0], ray[:, 1])
    cosine = -np.einsum("ij,ij->i", unit(walls.normal_rad[wall]), ray) / reach
    variance = (cosine * loose.ahead_m[row]) ** 2 + (1 - cosine**2) * loose.aside_m[row] ** 2
    share, between = walls.share_of_gate(wall, where[row], reach, variance, gate)
    on = between & (share <= 1.0) & (cosine > LEAST_COSINE)
    beside = share <= DOUBT
    on &= ~_doubtful(loose, walls, row, wall, beside)
    on &= ~_barred(loose, walls, row, wall, barred)
    # The first face of a surface will do.
    row, first = np.unique(row[on], return_index=True)
    wall, variance = wall[on][first], variance[on][first]
    several = _several(loose, walls, row, wall)
    row, wall, variance = row[several], wall[several], variance[several]
    return _condensed(loose.station[row], where[row], variance, wall, walls, sights, pose)


@dataclass(frozen=True, eq=False)
class _Walls:
    """The ``F`` faces that count, in the plan, each with its surface: those of which no other
    station has a face have the number of the face added to that of the `common` surfaces."""

    station: Ints
    face: Ints
    surface: Ints
    common: int
    centre_m: Floats
    normal_rad: Floats
    span_m: Floats
    sigma_offset_m: Floats
    sigma_normal_rad: Floats

    @classmethod
    def of(cls, faces: Sequence[Faces], sights: Sights, stations: Ints, pose: Floats) -> _Walls:
        sound = [np.flatnonzero(trusted(faces[s])) for s in stations]
        station = np.repeat(stations, [len(of) for of in sound]).astype(np.int64)
        face = np.concatenate([np.empty(0, dtype=np.int64), *sound])
        ends = zip(sights.station.tolist(), sights.face.tolist())
        number = dict(zip(ends, sights.surface.tolist()))
        surface = [
            number.get(end, sights.surfaces + k)
            for k, end in enumerate(zip(station.tolist(), face.tolist()))
        ]

        def column(name: str) -> Floats:
            return column_of(faces, station, face, name)

        return cls(
            station,
            face,
            np.array(surface, dtype=np.int64),
            sights.surfaces,
            moved(pose[station], column("centre_m").reshape(-1, 2)),
            column("normal_rad") + pose[station, 2],
            column("span_m").reshape(-1, 2),
            column("sigma_offset_m"),
            column("sigma_normal_rad"),
        )

    def lines(self) -> np.ndarray:
        """The extents as lines ``(F,)`` of the plan."""
        ends = self.span_m[:, :, None] * along(self.normal_rad)[:, None]
        return np.asarray(linestrings(self.centre_m[:, None] + ends))

    def share_of_gate(
        self, wall: Ints, where: Floats, reach_m: Floats, variance: Floats, gate: Gate
    ) -> tuple[Floats, Bools]:
        """How far points ``(k, 2)`` of the plan are from the walls ``(k,)``, as a share of the
        gate, and whether they lie between their ends. They are `reach_m (k,)` from their instrument
        and known to `variance (k,)` across the walls."""
        t, height = _along_and_above(self.centre_m[wall], self.normal_rad[wall], where)
        sigma = np.sqrt(
            variance
            + self.sigma_offset_m[wall] ** 2
            + (t * self.sigma_normal_rad[wall]) ** 2
            + gate.sigma_m**2
            + (reach_m * gate.sigma_rad) ** 2
        )
        between = (t >= self.span_m[wall, 0]) & (t <= self.span_m[wall, 1])
        return np.abs(height) / np.minimum(gate.offset_m, gate.sigmas * sigma), between


def _along_and_above(centre_m: Floats, normal_rad: Floats, where: Floats) -> tuple[Floats, Floats]:
    """Points ``(k, 2)`` by how far along lines ``(k,)`` from their centres, and how far above."""
    away = where - centre_m
    return (
        np.asarray(np.einsum("ij,ij->i", along(normal_rad), away)),
        np.asarray(np.einsum("ij,ij->i", unit(normal_rad), away)),
    )


def _doubtful(loose: LooseReadings, walls: _Walls, row: Ints, wall: Ints, beside: Bools) -> Bools:
    """Which of the pairs ``(k,)`` of readings and walls are of readings `beside` two surfaces, or a
    face of their own capture, which has left them out."""
    out = np.zeros(len(loose), dtype=bool)
    out[row[beside & (walls.station[wall] == loose.station[row])]] = True
    surface = walls.surface[wall]
    lowest, highest = (
        np.full(len(loose), len(walls.station) + walls.common),
        np.full(len(loose), -1),
    )
    np.minimum.at(lowest, row[beside], surface[beside])
    np.maximum.at(highest, row[beside], surface[beside])
    return np.asarray((out | (lowest < highest))[row])


def _barred(
    loose: LooseReadings,
    walls: _Walls,
    row: Ints,
    wall: Ints,
    barred: Collection[tuple[int, int]],
) -> Bools:
    """Which of the pairs ``(k,)`` of readings and walls a person took apart: those of a station and
    a surface that the other station of a barred pair has a face of."""
    found = np.zeros(len(row), dtype=bool)
    for pair in barred:
        for one, other in (pair, pair[::-1]):
            theirs = walls.surface[walls.station == other]
            found |= (loose.station[row] == one) & np.isin(walls.surface[wall], theirs)
    return found


def _several(loose: LooseReadings, walls: _Walls, row: Ints, wall: Ints) -> Bools:
    """Which of the readings ``(k,)``, in scan order, have another of the same surface next to them.

    One by itself may be a mixture of the wall and of what stands before it: in simulated furnished
    storeys (seeds 500 to 599) 9 % of those are off by more than 1.96 of their standard errors, 5 %
    of two and more in a row.
    """
    next_to = (
        (np.diff(loose.station[row]) == 0)
        & (np.diff(walls.surface[wall]) == 0)
        & (np.diff(loose.place[row]) == 1)
    )
    found = np.zeros(len(row), dtype=bool)
    found[:-1] |= next_to
    found[1:] |= next_to
    return found


def _condensed(
    station: Ints,
    where: Floats,
    variance: Floats,
    wall: Ints,
    walls: _Walls,
    sights: Sights,
    pose: Floats,
) -> tuple[Sights, WallReadings]:
    """The readings ``(k,)`` of each station on each surface as two points, and the sights with the
    surfaces they need.

    Readings with the weights w at t along a line and h above it tell h at their centre to 1 / W,
    W = sum w, and its slope to 1 / S, S = sum w (t - centre)^2. So do two points on the fitted line
    with the weight W / 2 each, sqrt(S / W) before and behind the centre: their normal equations are
    the same.
    """
    key, patch = np.unique(np.stack([station, walls.surface[wall]]), axis=1, return_inverse=True)
    patch, count = patch.reshape(-1), key.shape[1]
    # One line for all readings of a patch, whichever face of the surface each of them is on.
    line = np.full(count, len(walls.station))
    np.minimum.at(line, patch, wall)
    centre, normal = walls.centre_m[line], walls.normal_rad[line]
    t, h = _along_and_above(centre[patch], normal[patch], where)

    def summed(values: Floats) -> Floats:
        return np.asarray(np.bincount(patch, values / variance, minlength=count))

    total = summed(np.ones(len(t)))
    middle, height = summed(t) / total, summed(h) / total
    t, h = t - middle[patch], h - height[patch]
    square = np.maximum(summed(t * t), 1e-300)
    half = np.sqrt(square / total)
    rise = summed(t * h) / square * half
    ends = [
        centre
        + (middle + side * half)[:, None] * along(normal)
        + (height + side * rise)[:, None] * unit(normal)
        for side in (-1.0, 1.0)
    ]
    station = np.tile(key[0], 2)
    plan = np.concatenate(ends)
    sights, surface = _with_lone(walls, sights, key[1])
    return sights, WallReadings(
        station,
        np.tile(surface, 2),
        turn(plan - pose[station, :2], -pose[station, 2]),
        np.tile(np.sqrt(2.0 / total), 2),
    )


def _with_lone(walls: _Walls, sights: Sights, surface: Ints) -> tuple[Sights, Ints]:
    """The sights with those faces that alone stand for one of the surfaces ``(k,)``, and the
    numbers of these surfaces there."""
    lone = surface >= walls.common
    added, place = np.unique(surface[lone], return_inverse=True)
    number = surface.copy()
    number[lone] = walls.common + place.reshape(-1)
    at = added - walls.common
    every = Sights(
        np.append(sights.station, walls.station[at]),
        np.append(sights.face, walls.face[at]),
        np.append(sights.surface, walls.common + np.arange(len(added))),
    )
    return every, number
