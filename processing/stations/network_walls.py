# SPDX-License-Identifier: GPL-2.0-or-later
"""Faces of several captures that are one flat surface, by the stations' approximate poses.

A surface seen from n stations gives n observations of one unknown line, not n (n - 1) / 2 relations
between stations: nothing is counted twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import STRtree, linestrings

from ..angles import Floats, along, unit, wrap_half
from ..captures.face_model import Faces
from ..captures.model import Bools, Ints
from .connect_frames import moved

VAGUEST_NORMAL_RAD = np.radians(3.0)
"""A face whose direction is less certain than this says nothing about a surface."""

FEWEST_READINGS = 6
"""Fewer readings leave three for the line, and are ends of several things that lie in a line by
chance more often: of simulated furnished storeys 4 of 537 such faces are off by five of their
standard errors and more, 3 of 560 with one reading more, 1 of 640 with two more."""

SHORTEST_M = 0.10
LEAST_COMMON_M = 0.08

BESIDE_M = 0.5
"""Lines that fit each other between the centres of their faces may be farther apart elsewhere."""


@dataclass(frozen=True, eq=False)
class Gate:
    """How near faces must be to count as one surface: `offset_m` and `normal_rad` at most, and at
    most `sigmas` of their own errors together with `sigma_m` and `sigma_rad` of the poses."""

    offset_m: float
    normal_rad: float
    sigmas: float = np.inf
    sigma_m: float = 0.0
    sigma_rad: float = 0.0


@dataclass(frozen=True, eq=False)
class Sights:
    """``n`` faces that belong to ``L`` surfaces seen from two or more stations each: `station (n,)`
    and `face (n,)` are indices, `surface (n,)` the surface from 0 to L-1."""

    station: Ints
    face: Ints
    surface: Ints

    def __len__(self) -> int:
        return len(self.station)

    def column(self, faces: Sequence[Faces], name: str) -> Floats:
        """What the faces of all captures have under a name, one after the other ``(n, ...)``."""
        return column_of(faces, self.station, self.face, name)

    @property
    def surfaces(self) -> int:
        return int(self.surface.max(initial=-1)) + 1

    def of_each(self) -> list[Ints]:
        """The places of each surface's faces, surface by surface."""
        order = np.argsort(self.surface, kind="stable")
        return np.split(order, np.cumsum(np.bincount(self.surface))[:-1])


def column_of(faces: Sequence[Faces], station: Ints, face: Ints, name: str) -> Floats:
    """What some faces ``(n,)`` of captures ``(n,)`` have under a name, ``(n, ...)``."""
    return np.array([getattr(faces[s], name)[f] for s, f in zip(station, face)], dtype=float)


def trusted(faces: Faces) -> Bools:
    """Which faces ``(F,)`` say something about a surface."""
    return np.asarray(
        (faces.sigma_normal_rad < VAGUEST_NORMAL_RAD)
        & (faces.length_m > SHORTEST_M)
        & (faces.readings >= FEWEST_READINGS)
    )


def common_surfaces(
    faces: Sequence[Faces], stations: Ints, pose: Floats, level: Ints, gate: Gate
) -> Sights:
    """Find the surfaces that stations `stations (m,)` with poses ``(S, 3)`` see in common.

    Faces of one storey are joined, nearest first, when they face the same side, lie in one line
    within the gate and overlap in extent, and only as long as every two faces of the surface keep
    within the gate: two sides of a step in a wall stay two surfaces.
    """
    station = np.concatenate([np.full(len(faces[s]), s) for s in stations]).astype(np.int64)
    face = np.concatenate([np.arange(len(faces[s])) for s in stations]).astype(np.int64)
    sound = np.concatenate([trusted(faces[s]) for s in stations]).astype(bool)
    station, face = station[sound], face[sound]
    if not len(station):
        return Sights(station, face, station)
    table = _Table.of(faces, station, face, pose, level)
    first, second, misfit = _near(table, gate)
    label = _joined(table, first, second, misfit, gate)
    return _shared(station, face, label)


@dataclass(frozen=True, eq=False)
class _Table:
    """Faces of many captures in one frame, as columns."""

    station: Ints
    level: Ints
    centre_m: Floats
    normal_rad: Floats
    span_m: Floats
    sigma_normal_rad: Floats
    sigma_offset_m: Floats

    @classmethod
    def of(
        cls, faces: Sequence[Faces], station: Ints, face: Ints, pose: Floats, level: Ints
    ) -> _Table:
        def column(name: str) -> Floats:
            return column_of(faces, station, face, name)

        return cls(
            station,
            level[station],
            moved(pose[station], column("centre_m")),
            column("normal_rad") + pose[station, 2],
            column("span_m"),
            column("sigma_normal_rad"),
            column("sigma_offset_m"),
        )

    def misfit(self, a: Ints, b: Ints, gate: Gate) -> tuple[np.ndarray, Floats]:
        """Whether faces a and b ``(k,)`` keep within the gate, and by how much they differ, as a
        share of the gate."""
        # The offset is taken between the two centres, where both lines are best known.
        middle = wrap_half(self.normal_rad[b] - self.normal_rad[a])
        normal = unit(self.normal_rad[a] + middle / 2)
        offset = np.abs(np.einsum("ij,ij->i", normal, self.centre_m[b] - self.centre_m[a]))
        apart = np.abs(
            np.einsum("ij,ij->i", along(self.normal_rad[a]), self.centre_m[b] - self.centre_m[a])
        )
        sigma_n = np.sqrt(
            self.sigma_normal_rad[a] ** 2 + self.sigma_normal_rad[b] ** 2 + gate.sigma_rad**2
        )
        sigma_o = np.sqrt(
            self.sigma_offset_m[a] ** 2
            + self.sigma_offset_m[b] ** 2
            + gate.sigma_m**2
            + (apart * sigma_n / 2) ** 2
        )
        most_o = np.minimum(gate.offset_m, gate.sigmas * sigma_o)
        most_n = np.minimum(gate.normal_rad + 2 * sigma_n, gate.sigmas * sigma_n)
        share = np.maximum(offset / most_o, np.abs(middle) / most_n)
        return share <= 1.0, share


def _near(table: _Table, gate: Gate) -> tuple[Ints, Ints, Floats]:
    """Pairs of faces of different stations that may be one surface, with their misfit. Only faces
    near each other are compared, so that neither time nor memory grow with the square of their
    number."""
    lines = linestrings(
        table.centre_m[:, None] + table.span_m[:, :, None] * along(table.normal_rad)[:, None]
    )
    a, b = STRtree(lines).query(lines, predicate="dwithin", distance=gate.offset_m + BESIDE_M)
    window = gate.normal_rad + 2 * np.hypot(2 * VAGUEST_NORMAL_RAD, gate.sigma_rad)
    keep = a < b
    a, b = a[keep], b[keep]
    keep = np.abs(wrap_half(table.normal_rad[b] - table.normal_rad[a])) < window
    a, b = a[keep], b[keep]
    keep = (table.station[a] != table.station[b]) & (table.level[a] == table.level[b])
    a, b = a[keep], b[keep]
    fits, share = table.misfit(a, b, gate)
    a, b, share = a[fits], b[fits], share[fits]
    direction = along(table.normal_rad[a])
    shift = np.einsum("ij,ij->i", direction, table.centre_m[b] - table.centre_m[a])
    common = np.minimum(table.span_m[a, 1], table.span_m[b, 1] + shift) - np.maximum(
        table.span_m[a, 0], table.span_m[b, 0] + shift
    )
    keep = common > LEAST_COMMON_M
    a, b, share = a[keep], b[keep], share[keep]
    order = np.lexsort((b, a, share))
    return a[order], b[order], share[order]


def _joined(table: _Table, first: Ints, second: Ints, misfit: Floats, gate: Gate) -> Ints:
    """The surface of each face: complete linkage, nearest pairs first."""
    label = np.arange(len(table.station))
    member: dict[int, list[int]] = {int(k): [int(k)] for k in label}
    for a, b in zip(first, second):
        p, q = int(label[a]), int(label[b])
        if p == q:
            continue
        if len(member[p]) > 1 or len(member[q]) > 1:
            i = np.repeat(member[p], len(member[q]))
            j = np.tile(member[q], len(member[p]))
            fits, _ = table.misfit(i, j, gate)
            if not fits.all():
                continue
        member[p].extend(member.pop(q))
        label[member[p]] = p
    return label


def _shared(station: Ints, face: Ints, label: Ints) -> Sights:
    """Only the surfaces seen from two or more stations, numbered in order."""
    pairs = np.unique(np.stack([label, station]), axis=1)
    several = np.bincount(pairs[0], minlength=len(label)) > 1
    keep = several[label]
    _, surface = np.unique(label[keep], return_inverse=True)
    return Sights(station[keep], face[keep], surface.reshape(-1).astype(np.int64))
