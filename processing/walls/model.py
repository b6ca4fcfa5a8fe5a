# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces, rooms and openings of a plan, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from ..angles import Floats
from ..captures.face_model import Facing
from ..captures.model import Ints
from .curve_model import Curves


@dataclass(frozen=True, eq=False)
class WallFaces(Facing):
    """``W`` wall faces in the plan frame, at one plot scale.

    A face is the line through `centre_m (W, 2)` whose unit normal ``unit(normal_rad)`` points to
    the free side; errors as in `captures.face_model.Faces`, with the stations' errors included.
    `span_m (W, 2)` is the extent along ``along(normal_rad)`` from the centre that readings support;
    `drawn_m (W, 2, 2)` the start and end points as drawn, where corners are closed.
    `plot_scale` is 20 to 200, or 0 for faces as measured (least squares, nothing turned).
    `squared_by_rad (W,)` is the turn that squaring applied (0: as measured).
    `wall_of_reading` and `residual_of_reading_m` have one array a capture: the face of each
    reading (-1: none) and its normal residual from the least-squares face (NaN: none). `curves`
    are the curved walls that some of the faces are chords of.
    """

    wall: tuple[str, ...]
    plot_scale: int
    level: Ints
    network: Ints
    centre_m: Floats
    normal_rad: Floats
    sigma_normal_rad: Floats
    sigma_offset_m: Floats
    span_m: Floats
    drawn_m: Floats
    readings: Ints
    stations: tuple[tuple[str, ...], ...]
    rms_m: Floats
    largest_residual_m: Floats
    squared_by_rad: Floats
    wall_of_reading: tuple[Ints, ...]
    residual_of_reading_m: tuple[Floats, ...]
    curves: Curves

    def __len__(self) -> int:
        return len(self.wall)

    def in_order(self, order: Ints) -> WallFaces:
        """The same faces in another order ``(W,)``, readings and curves with them."""
        place = np.append(np.argsort(order), -1)
        rows = {name: _picked(getattr(self, name), order) for name in OF_FACE}
        return replace(
            self,
            **rows,
            wall_of_reading=tuple(place[wall] for wall in self.wall_of_reading),
            curves=self.curves.of(order),
        )

    @property
    def offset_m(self) -> Floats:
        """Signed distances ``(W,)`` of the lines from the plan's origin along their normals."""
        return np.einsum("ij,ij->i", self.normal, self.centre_m)

    @property
    def length_m(self) -> Floats:
        """Lengths ``(W,)`` as drawn."""
        return np.hypot(*(self.drawn_m[:, 1] - self.drawn_m[:, 0]).T)


OF_FACE = tuple(
    field.name
    for field in fields(WallFaces)
    if field.name not in ("plot_scale", "wall_of_reading", "residual_of_reading_m", "curves")
)
"""The fields of `WallFaces` that have one value a face."""


def _picked(values: Any, order: Ints) -> Any:
    return tuple(values[k] for k in order) if isinstance(values, tuple) else values[order]


@dataclass(frozen=True, eq=False)
class Rooms:
    """``R`` rooms at one plot scale: valid polygons that do not overlap, in the plan frame.

    `room` are UUIDs (version 5), `name` what a person reads. `sigma_area_m2 (R,)` counts what
    nobody saw, `sigma_seen_m2 (R,)` only what the walls' lines make of it; `sigma_perimeter_m (R,)`
    counts both. `seen_share (R,)` is the share of the boundary that readings back, `stations` the
    stations that stand in each room; `niches` whether shallow recesses of walls count to the rooms.
    """

    room: tuple[str, ...]
    name: tuple[str, ...]
    plot_scale: int
    level: Ints
    network: Ints
    polygon: tuple[Polygon, ...]
    area_m2: Floats
    sigma_area_m2: Floats
    sigma_seen_m2: Floats
    perimeter_m: Floats
    sigma_perimeter_m: Floats
    seen_share: Floats
    stations: tuple[tuple[str, ...], ...]
    niches: bool = True

    def __len__(self) -> int:
        return len(self.room)


@dataclass(frozen=True, eq=False)
class Openings:
    """``O`` openings at one plot scale, in the plan frame.

    `kind` is ``doorway``, ``window`` or ``unseen``; `room_a` and `room_b` are UUIDs of rooms or
    empty; `wall_thickness_m` is NaN where only one side was seen.
    """

    opening: tuple[str, ...]
    kind: tuple[str, ...]
    plot_scale: int
    level: Ints
    network: Ints
    line: tuple[LineString, ...]
    width_m: Floats
    sigma_width_m: Floats
    wall_thickness_m: Floats
    room_a: tuple[str, ...]
    room_b: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.opening)


@dataclass(frozen=True, eq=False)
class Plan:
    """What is drawn at one plot scale; `bounding (W,)` tells which faces bound a room,
    `moved_m` how far a face was moved at most from its own least-squares face."""

    walls: WallFaces
    rooms: Rooms
    openings: Openings
    bounding: NDArray[np.bool_]
    moved_m: float
