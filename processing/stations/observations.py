# SPDX-License-Identifier: GPL-2.0-or-later
"""Unknowns and observations of a plane network, as arrays.

Two numberings are used throughout:

- a **place** is anything with plane coordinates: the ``S`` stations are places ``0 .. S-1``, the
  ``P`` points are places ``S .. S+P-1``;
- a **row** is one scalar observation: the kinds of `Observations` in the order of its fields, the
  items of a kind in their order, the components of an item last.

Azimuths, orientations and instrument angles run clockwise; lengths are metres, angles radians.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import NDArray

from .observations_kinds import (
    Angles,
    Azimuths,
    Distances,
    Kind,
    Orientations,
    Positions,
    RelativePoses,
    ScalarValues,
    Sightings,
    SurfaceDirections,
    SurfaceOffsets,
)
from .observations_unknowns import Bools, Unknowns

__all__ = [
    "Angles",
    "Azimuths",
    "Bools",
    "Distances",
    "Kind",
    "Observations",
    "Orientations",
    "Positions",
    "RelativePoses",
    "ScalarValues",
    "Sightings",
    "SurfaceDirections",
    "SurfaceOffsets",
    "Unknowns",
]


@dataclass(frozen=True, eq=False)
class Observations:
    """All observations of a network, by kind; what is left out is empty."""

    distances: Distances = field(default_factory=Distances)
    angles: Angles = field(default_factory=Angles)
    azimuths: Azimuths = field(default_factory=Azimuths)
    sightings: Sightings = field(default_factory=Sightings)
    relative_poses: RelativePoses = field(default_factory=RelativePoses)
    positions: Positions = field(default_factory=Positions)
    orientations: Orientations = field(default_factory=Orientations)
    surface_directions: SurfaceDirections = field(default_factory=SurfaceDirections)
    surface_offsets: SurfaceOffsets = field(default_factory=SurfaceOffsets)
    scalar_values: ScalarValues = field(default_factory=ScalarValues)

    def kinds(self) -> Iterator[tuple[str, Kind, slice]]:
        """Field name, observations and rows of every kind, in order (empty ones included)."""
        start = 0
        for entry in fields(self):
            kind: Kind = getattr(self, entry.name)
            stop = start + len(kind) * kind.components
            yield entry.name, kind, slice(start, stop)
            start = stop

    @property
    def rows(self) -> int:
        """Number ``m`` of scalar observations."""
        return sum(len(kind) * kind.components for _, kind, _ in self.kinds())

    def rows_of(self, name: str) -> slice:
        """The rows of one kind, by field name."""
        return next(rows for kind, _, rows in self.kinds() if kind == name)

    def by_item(self, name: str, values: NDArray) -> NDArray:
        """Row values ``(m,)`` of one kind as ``(n, components)``."""
        return np.asarray(values)[self.rows_of(name)].reshape(-1, getattr(self, name).components)

    def locate(self, row: int) -> tuple[str, int, int]:
        """Kind (field name), item and component of a row."""
        for name, kind, rows in self.kinds():
            if rows.start <= row < rows.stop:
                item, component = divmod(row - rows.start, kind.components)
                return name, item, component
        raise IndexError(row)

    def all_used(self) -> Bools:
        """A mask over the rows ``(m,)`` that takes every observation in."""
        return np.ones(self.rows, dtype=bool)

    def describe(self, unknowns: Unknowns, row: int) -> str:
        """An observation in words, for messages and reports: ``angle R-Q-S``."""
        name, item, component = self.locate(row)
        kind = getattr(self, name)
        word = _WORDS[name][component if not kind.correlated else 0]
        ends = []
        for index in _ENDS[name]:
            number = int(getattr(kind, index)[item])
            if index in ("surface", "scalar"):
                ends.append(unknowns.scalar_name[number])
            elif number < len(unknowns.station):
                ends.append(unknowns.station[number])
            else:
                ends.append(unknowns.point[number - len(unknowns.station)])
        return f"{word} {'-'.join(ends)}"


_WORDS = {
    "distances": ("distance",),
    "angles": ("angle",),
    "azimuths": ("azimuth",),
    "sightings": ("direction", "distance"),
    "relative_poses": ("relative pose",),
    "positions": ("position",),
    "orientations": ("orientation",),
    "surface_directions": ("surface direction",),
    "surface_offsets": ("surface offset",),
    "scalar_values": ("value",),
}
_ENDS = {
    "distances": ("at", "to"),
    "angles": ("backsight", "at", "foresight"),
    "azimuths": ("at", "to"),
    "sightings": ("station", "to"),
    "relative_poses": ("station", "to"),
    "positions": ("place",),
    "orientations": ("station",),
    "surface_directions": ("station", "surface"),
    "surface_offsets": ("station", "surface"),
    "scalar_values": ("scalar",),
}
