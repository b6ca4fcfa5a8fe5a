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
from dataclasses import dataclass, field, fields, replace
from typing import Any, ClassVar, Union

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..angles import Floats
from ..captures.model import Ints
from ..errors import SurveyError

Bools = NDArray[np.bool_]


def _none() -> Floats:
    return np.empty(0)


def _no_index() -> Ints:
    return np.empty(0, dtype=np.int64)


def _unlinked() -> Ints:
    return np.array(-1, dtype=np.int64)


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


class _Kind:
    """What the kinds of observation share: conversion of the arrays and checks of their shapes."""

    components: ClassVar[int] = 1
    """Scalar observations in one item."""
    correlated: ClassVar[bool] = False
    """Whether an item is tested as a whole (chi-square) and not component by component (w)."""
    _integers: ClassVar[tuple[str, ...]] = ()
    _shapes: ClassVar[dict[str, tuple[int, ...]]] = {}

    def __post_init__(self) -> None:
        label = type(self).__name__
        length = None
        for name in self._integers:
            raw = getattr(self, name)
            values = np.array(raw, dtype=np.int64).reshape(-1)
            length = len(values) if length is None and name == self._integers[0] else length
            if raw is None or (len(values) != length and len(values) <= 1):
                values = np.full(length or 0, values[0] if len(values) else -1, dtype=np.int64)
            if len(values) != length:
                raise SurveyError(f"{label}: {name} has {len(values)} values, expected {length}.")
            object.__setattr__(self, name, values)
        for name, shape in self._shapes.items():
            values = np.array(getattr(self, name), dtype=float)
            expected = (length or 0, *shape)
            if values.size == 0 and not length:
                values = values.reshape(expected)
            if values.shape == shape:
                values = np.broadcast_to(values, expected).copy()
            if values.shape != expected:
                raise SurveyError(f"{label}: {name} is {values.shape}, expected {expected}.")
            if not np.isfinite(values).all():
                raise SurveyError(f"{label}: {name} holds a value that is not a finite number.")
            if "sigma" in name and (values <= 0).any():
                raise SurveyError(f"{label}: {name} holds a standard error that is not positive.")
            object.__setattr__(self, name, values)

    def __len__(self) -> int:
        return len(getattr(self, self._integers[0]))


@dataclass(frozen=True, eq=False)
class Distances(_Kind):
    """Horizontal distances between places `at (n,)` and `to (n,)`.

    `zero (n,)` is the scalar holding the instrument's unknown zero error (read = true + zero), -1
    for none. Sigmas of every kind may be given once for all items.
    """

    at: Ints = field(default_factory=_no_index)
    to: Ints = field(default_factory=_no_index)
    distance_m: Floats = field(default_factory=_none)
    sigma_m: Floats = field(default_factory=_none)
    zero: Ints = field(default_factory=_unlinked)
    _integers = ("at", "to", "zero")
    _shapes: ClassVar = {"distance_m": (), "sigma_m": ()}


@dataclass(frozen=True, eq=False)
class Angles(_Kind):
    """Angles clockwise at place `at (n,)` from place `backsight (n,)` to place `foresight (n,)`."""

    at: Ints = field(default_factory=_no_index)
    backsight: Ints = field(default_factory=_no_index)
    foresight: Ints = field(default_factory=_no_index)
    angle_rad: Floats = field(default_factory=_none)
    sigma_rad: Floats = field(default_factory=_none)
    _integers = ("at", "backsight", "foresight")
    _shapes: ClassVar = {"angle_rad": (), "sigma_rad": ()}


@dataclass(frozen=True, eq=False)
class Azimuths(_Kind):
    """Plan azimuths from place `at (n,)` to place `to (n,)`."""

    at: Ints = field(default_factory=_no_index)
    to: Ints = field(default_factory=_no_index)
    azimuth_rad: Floats = field(default_factory=_none)
    sigma_rad: Floats = field(default_factory=_none)
    _integers = ("at", "to")
    _shapes: ClassVar = {"azimuth_rad": (), "sigma_rad": ()}


@dataclass(frozen=True, eq=False)
class Sightings(_Kind):
    """Polar sightings from `station (n,)` to place `to (n,)`: instrument angle (component 0) and
    horizontal distance (component 1), two uncorrelated observations each tested by itself.
    `zero (n,)` as in `Distances`."""

    station: Ints = field(default_factory=_no_index)
    to: Ints = field(default_factory=_no_index)
    angle_rad: Floats = field(default_factory=_none)
    distance_m: Floats = field(default_factory=_none)
    sigma_rad: Floats = field(default_factory=_none)
    sigma_m: Floats = field(default_factory=_none)
    zero: Ints = field(default_factory=_unlinked)
    components = 2
    _integers = ("station", "to", "zero")
    _shapes: ClassVar = {"angle_rad": (), "distance_m": (), "sigma_rad": (), "sigma_m": ()}


@dataclass(frozen=True, eq=False)
class RelativePoses(_Kind):
    """Poses of station `to (n,)` in the frame of station `station (n,)`.

    `pose (n, 3)`: x, y in metres in the first station's instrument frame (+y along its zero
    direction), so that ``turn(xy, orientation of first) + position of first`` is the second's
    position, and orientation of the second less orientation of the first in radians.
    `covariance (n, 3, 3)` of these three numbers, x and y in the first station's frame.
    One item is one correlated observation of three components.
    """

    station: Ints = field(default_factory=_no_index)
    to: Ints = field(default_factory=_no_index)
    pose: Floats = field(default_factory=_none)
    covariance: Floats = field(default_factory=_none)
    components = 3
    correlated = True
    _integers = ("station", "to")
    _shapes: ClassVar = {"pose": (3,), "covariance": (3, 3)}


@dataclass(frozen=True, eq=False)
class Positions(_Kind):
    """Observed coordinates of places `place (n,)`: weighted control, geotags in the plan frame.
    `xy_m (n, 2)`, `covariance_m2 (n, 2, 2)`. One item is one correlated observation."""

    place: Ints = field(default_factory=_no_index)
    xy_m: Floats = field(default_factory=_none)
    covariance_m2: Floats = field(default_factory=_none)
    components = 2
    correlated = True
    _integers = ("place",)
    _shapes: ClassVar = {"xy_m": (2,), "covariance_m2": (2, 2)}


@dataclass(frozen=True, eq=False)
class Orientations(_Kind):
    """Observed orientations of stations `station (n,)`: a prior, or a compass bearing of the zero
    direction. Observed azimuth = orientation + the scalar `offset (n,)` of its group (-1: none)."""

    station: Ints = field(default_factory=_no_index)
    azimuth_rad: Floats = field(default_factory=_none)
    sigma_rad: Floats = field(default_factory=_none)
    offset: Ints = field(default_factory=_unlinked)
    _integers = ("station", "offset")
    _shapes: ClassVar = {"azimuth_rad": (), "sigma_rad": ()}


@dataclass(frozen=True, eq=False)
class SurfaceDirections(_Kind):
    """Directions of a flat surface's normal seen from stations: `angle_rad (n,)` is the instrument
    angle of the normal at `station (n,)`, so that orientation + angle = the scalar `surface (n,)`,
    the plan azimuth of the normal."""

    station: Ints = field(default_factory=_no_index)
    surface: Ints = field(default_factory=_no_index)
    angle_rad: Floats = field(default_factory=_none)
    sigma_rad: Floats = field(default_factory=_none)
    _integers = ("station", "surface")
    _shapes: ClassVar = {"angle_rad": (), "sigma_rad": ()}


@dataclass(frozen=True, eq=False)
class SurfaceOffsets(_Kind):
    """Offsets of a flat surface seen from stations: `centre_m (n, 2)` is a point of the surface in
    the instrument's frame of `station (n,)`, known across the surface to `sigma_m (n,)` whatever
    the error of its direction (the weighted centroid of its readings).

    The scalar `surface (n,)` is the plan azimuth of the surface's normal, the scalar
    `normal_distance (n,)` how far the surface lies from place `reference (n,)` along that normal.
    The reference may be the station itself.
    """

    station: Ints = field(default_factory=_no_index)
    reference: Ints = field(default_factory=_no_index)
    surface: Ints = field(default_factory=_no_index)
    normal_distance: Ints = field(default_factory=_no_index)
    centre_m: Floats = field(default_factory=_none)
    sigma_m: Floats = field(default_factory=_none)
    _integers = ("station", "reference", "surface", "normal_distance")
    _shapes: ClassVar = {"centre_m": (2,), "sigma_m": ()}


@dataclass(frozen=True, eq=False)
class ScalarValues(_Kind):
    """Observed values of scalars `scalar (n,)`, in their own unit: a calibrated zero error, a
    declination with its standard error."""

    scalar: Ints = field(default_factory=_no_index)
    value: Floats = field(default_factory=_none)
    sigma: Floats = field(default_factory=_none)
    _integers = ("scalar",)
    _shapes: ClassVar = {"value": (), "sigma": ()}


Kind = Union[
    Distances,
    Angles,
    Azimuths,
    Sightings,
    RelativePoses,
    Positions,
    Orientations,
    SurfaceDirections,
    SurfaceOffsets,
    ScalarValues,
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
