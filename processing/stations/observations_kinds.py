# SPDX-License-Identifier: GPL-2.0-or-later
"""The kinds of observation in a plane network, each as arrays over its items.

Places and scalars are numbered as in `observations`. Lists are taken for arrays; a sigma or a
covariance may be given once for all items.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Union

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..errors import SurveyError


def _none() -> Floats:
    return np.empty(0)


def _no_index() -> Ints:
    return np.empty(0, dtype=np.int64)


def _unlinked() -> Ints:
    return np.array(-1, dtype=np.int64)


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
