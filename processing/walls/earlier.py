# SPDX-License-Identifier: GPL-2.0-or-later
"""The walls, rooms and openings of an earlier plan, as far as a new plan is compared with them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from ..angles import Floats
from ..captures.model import Ints
from ..stations.connect_frames import moved

Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class EarlierWalls:
    """Wall faces as drawn, ``ends_m (W, 2, 2)`` in the order of the face, ``sigma_offset_m (W,)``
    their standard errors (NaN: unknown)."""

    wall: tuple[str, ...]
    level: Ints
    network: Ints
    plot_scale: Ints
    ends_m: Floats
    sigma_offset_m: Floats


@dataclass(frozen=True, eq=False)
class EarlierRooms:
    """Rooms; ``by_hand (R,)`` says that the name is a person's."""

    room: tuple[str, ...]
    name: tuple[str, ...]
    level: Ints
    network: Ints
    plot_scale: Ints
    polygon: tuple[Polygon, ...]
    by_hand: Bools


@dataclass(frozen=True, eq=False)
class EarlierOpenings:
    """Openings, with the identifiers of the `rooms` at their sides; ``by_hand (O,)`` says that the
    kind, or the whole opening, is a person's."""

    opening: tuple[str, ...]
    kind: tuple[str, ...]
    level: Ints
    network: Ints
    plot_scale: Ints
    line: tuple[LineString, ...]
    wall_thickness_m: Floats
    by_hand: Bools
    rooms: tuple[frozenset[str], ...]


@dataclass(frozen=True, eq=False)
class EarlierDrawing:
    """What an earlier plan drew, in plan coordinates. ``wall_of_reading`` has for each station the
    numbers of its readings ``(n,)`` and the wall that each lay on ``(n,)``, empty for none."""

    walls: EarlierWalls
    rooms: EarlierRooms
    openings: EarlierOpenings
    wall_of_reading: Mapping[str, tuple[Ints, NDArray[np.str_]]]

    def moved(self, motions: Mapping[int, Floats]) -> EarlierDrawing:
        """The same with each group moved by its motion (3,); groups without one stay."""

        def place(network: int, xy_m: Floats) -> Floats:
            return moved(motions[network], xy_m) if network in motions else xy_m

        ends = self.walls.ends_m.copy()
        for group in np.unique(self.walls.network):
            own = self.walls.network == group
            ends[own] = place(int(group), ends[own])

        def carried(geometries: tuple, network: Ints) -> tuple:
            return tuple(
                shapely.transform(shape, lambda xy, number=int(group): place(number, xy))
                for shape, group in zip(geometries, network)
            )

        return replace(
            self,
            walls=replace(self.walls, ends_m=ends),
            rooms=replace(self.rooms, polygon=carried(self.rooms.polygon, self.rooms.network)),
            openings=replace(
                self.openings, line=carried(self.openings.line, self.openings.network)
            ),
        )


def rows_at(plot_scale: Ints, wanted: int) -> Ints:
    """The rows of a plot scale; of the finest that there is where the wanted one is missing."""
    if len(plot_scale) and not (plot_scale == wanted).any():
        wanted = int(plot_scale.min())
    return np.flatnonzero(plot_scale == wanted)
