# SPDX-License-Identifier: GPL-2.0-or-later
"""What the adjustment of a plane network solves for, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..angles import Floats
from ..captures.model import Ints
from ..errors import SurveyError

Bools = NDArray[np.bool_]


def _none() -> Floats:
    return np.empty(0)


@dataclass(frozen=True, eq=False)
class Unknowns:
    """Approximate or adjusted values of everything that is solved for.

    Stations are poses: `station_xy_m (S, 2)` and `orientation_rad (S,)`, the plan azimuth of the
    instrument's zero direction. Points are `point_xy_m (P, 2)`. Scalars are nuisance unknowns
    `scalar (N,)` in the unit of whatever refers to them: the common compass offset of a group,
    the azimuth of a surface's normal, the zero error of a distance meter.
    The masks `station_held (S, 3)` over (x, y, orientation), `point_held (P, 2)` and
    `scalar_held (N,)` say what keeps its value; left out, nothing is held.

    In the vector of unknowns ``(U,)`` stations come first (x, y, orientation each), then points
    (x, y each), then scalars.
    """

    station: tuple[str, ...] = ()
    station_xy_m: Floats = field(default_factory=lambda: np.empty((0, 2)))
    orientation_rad: Floats = field(default_factory=_none)
    point: tuple[str, ...] = ()
    point_xy_m: Floats = field(default_factory=lambda: np.empty((0, 2)))
    scalar_name: tuple[str, ...] = ()
    scalar: Floats = field(default_factory=_none)
    station_held: Bools | None = None
    point_held: Bools | None = None
    scalar_held: Bools | None = None

    def __post_init__(self) -> None:
        s, p, n = len(self.station), len(self.point), len(self.scalar_name)
        shapes = {
            "station_xy_m": (s, 2),
            "orientation_rad": (s,),
            "point_xy_m": (p, 2),
            "scalar": (n,),
        }
        for name, shape in shapes.items():
            values = np.array(getattr(self, name), dtype=float)
            if values.shape != shape:
                raise SurveyError(f"Unknowns: {name} is {values.shape}, expected {shape}.")
            object.__setattr__(self, name, values)
        masks = {"station_held": (s, 3), "point_held": (p, 2), "scalar_held": (n,)}
        for name, shape in masks.items():
            mask = getattr(self, name)
            mask = np.zeros(shape, dtype=bool) if mask is None else np.array(mask, dtype=bool)
            if mask.shape != shape:
                raise SurveyError(f"Unknowns: {name} is {mask.shape}, expected {shape}.")
            object.__setattr__(self, name, mask)

    @property
    def size(self) -> int:
        """Length ``U`` of the vector of unknowns, held ones included."""
        return 3 * len(self.station) + 2 * len(self.point) + len(self.scalar_name)

    @property
    def vector(self) -> Floats:
        """All values ``(U,)``, held ones included."""
        poses = np.column_stack([self.station_xy_m, self.orientation_rad])
        return np.concatenate([poses.ravel(), self.point_xy_m.ravel(), self.scalar])

    @property
    def held(self) -> Bools:
        """Which entries of the vector keep their value ``(U,)``."""
        masks: tuple[Any, ...] = (self.station_held, self.point_held, self.scalar_held)
        return np.concatenate([np.ravel(mask) for mask in masks]).astype(bool)

    def with_vector(self, vector: ArrayLike) -> Unknowns:
        """A copy with other values ``(U,)``; held masks and names stay."""
        v = np.asarray(vector, dtype=float)
        s, p = 3 * len(self.station), 2 * len(self.point)
        poses = v[:s].reshape(-1, 3)
        return replace(
            self,
            station_xy_m=poses[:, :2],
            orientation_rad=poses[:, 2],
            point_xy_m=v[s : s + p].reshape(-1, 2),
            scalar=v[s + p :],
        )

    def place(self, name: str) -> int:
        """The place of a station or a point; SurveyError when there is none of that name."""
        for first, names in ((0, self.station), (len(self.station), self.point)):
            if name in names:
                return first + names.index(name)
        raise SurveyError(f"The network has no station or point {name!r}.")

    def place_xy_m(self) -> Floats:
        """Coordinates ``(S+P, 2)`` of all places."""
        return np.concatenate([self.station_xy_m, self.point_xy_m])

    def place_column(self, place: ArrayLike) -> Ints:
        """Columns of the x of places in the vector of unknowns (y is the next one)."""
        index = np.asarray(place, dtype=np.int64)
        return np.where(index < len(self.station), 3 * index, len(self.station) + 2 * index)

    def orientation_column(self, station: ArrayLike) -> Ints:
        """Columns of the orientations of stations."""
        return 3 * np.asarray(station, dtype=np.int64) + 2

    def scalar_column(self, scalar: ArrayLike) -> Ints:
        """Columns of scalars."""
        return np.asarray(scalar, dtype=np.int64) + 3 * len(self.station) + 2 * len(self.point)

    def owner(self, column: int) -> str:
        """What a person calls the thing that a column belongs to, for messages."""
        s, p = 3 * len(self.station), 2 * len(self.point)
        if column < s:
            return f"station {self.station[column // 3]}"
        if column < s + p:
            return f"point {self.point[(column - s) // 2]}"
        return self.scalar_name[column - s - p]
