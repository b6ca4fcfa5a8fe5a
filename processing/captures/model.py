# SPDX-License-Identifier: GPL-2.0-or-later
"""What one set-up of the instrument recorded, and a survey of several."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import IntEnum
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, unit
from .defaults import COMPASS_SIGMA_DEG, GEOTAG_SIGMA_M, UNCALIBRATED_DEG

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
NAN = float("nan")


class Kind(IntEnum):
    """What a reading was taken on."""

    RING = 0
    TARGET = 1
    SURFACE = 2

    @property
    def text(self) -> str:
        return self.name.lower()


class Flag(IntEnum):
    """Why a reading is not used; the first value means that it is."""

    USABLE = 0
    NO_RETURN = 1
    TOO_NEAR = 2
    TOO_FAR = 3
    MIXED = 4
    ISOLATED = 5
    DUPLICATE = 6
    THROUGH_GLASS = 7
    REFLECTION = 8
    PASSER_BY = 9
    TILTED = 10
    MOVED = 11
    CLUTTER = 12
    RETAKEN = 13

    @property
    def text(self) -> str:
        """The word in the ``flag`` field of the readings layer; empty for a usable reading."""
        if self is Flag.USABLE:
            return ""
        if self is Flag.PASSER_BY:
            return "passer-by"
        return self.name.lower().replace("_", " ")


@dataclass(frozen=True)
class Remark:
    """What a check found about one capture: which check (a word or two, such as "level"), one
    sentence with the figure, and whether the station should be measured again while on site."""

    check: str
    sentence: str
    again: bool = False


@dataclass(frozen=True)
class KnownPoint:
    """A point whose coordinates a file gives: metres in the file's reference system, named by its
    EPSG code or WKT (empty where the file names none); NaN for what it does not give. `station`
    says that it is where the station of that name stood, not a target."""

    name: str
    east_m: float
    north_m: float
    height_m: float = NAN
    sigma_m: float = NAN
    crs: str = ""
    station: bool = False


@dataclass(frozen=True, eq=False)
class Capture:
    """One set-up: header values and ``n`` readings in the order of the file.

    Instrument angles are degrees clockwise from the instrument's zero direction, lengths metres.
    A value that the file does not give is NaN (numbers), None (time, yes/no) or empty (text).
    `seq` numbers the readings from 1 in file order; `line` is the line of the file.
    `zenith_deg` is 90 for a horizontal reading. `slope_distance_m` is as measured, freed of
    what is known of the instrument (`distance_zero_m`, `axis_eccentricity_m`, `angle_scale`: see
    `instrument_errors`), `distance_m` the horizontal one; both NaN where nothing came back.
    `flag` holds `Flag` values, `kind` `Kind` values, `target` names (empty for ring readings).
    `remarks` are what the checks found about the capture as a whole.
    """

    station: str
    capture_file: str
    seq: Ints
    angle_deg: Floats
    zenith_deg: Floats
    slope_distance_m: Floats
    distance_m: Floats
    kind: Ints
    target: NDArray[np.str_]
    intensity: Floats
    flag: Ints
    line: Ints
    level: int = 0
    captured_at: datetime | None = None
    instrument_height_m: float = NAN
    tilt_deg: float = NAN
    moved: bool | None = None
    compass_calibrated: bool | None = None
    magnetic_azimuth_deg: float = NAN
    magnetic_azimuth_sigma_deg: float = NAN
    longitude_deg: float = NAN
    latitude_deg: float = NAN
    geotag_sigma_m: float = NAN
    ellipsoidal_height_m: float = NAN
    distance_sigma_m: float = NAN
    angle_sigma_deg: float = NAN
    distance_zero_m: float = 0.0
    axis_eccentricity_m: float = 0.0
    angle_scale: float = 0.0
    comment: str = ""
    other: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    remarks: tuple[Remark, ...] = ()

    def __len__(self) -> int:
        return len(self.seq)

    @property
    def angle_rad(self) -> Floats:
        """Instrument angles ``(n,)`` in radians."""
        return np.radians(self.angle_deg)

    @property
    def as_read_m(self) -> Floats:
        """Distances ``(n,)`` as the instrument read them, not freed of its errors."""
        slope = self.slope_distance_m
        if self.axis_eccentricity_m:
            slope = np.sqrt(np.maximum(slope**2 - self.axis_eccentricity_m**2, 0.0))
        return slope + self.distance_zero_m

    @property
    def xy_m(self) -> Floats:
        """Readings ``(n, 2)`` in the instrument's frame (origin at the instrument, +y along its
        zero direction); NaN where nothing came back."""
        return self.distance_m[:, None] * unit(self.angle_rad)

    @property
    def usable(self) -> NDArray[np.bool_]:
        """Which readings are used ``(n,)``."""
        return self.flag == Flag.USABLE

    @property
    def usable_ring(self) -> NDArray[np.bool_]:
        """Which ring readings are used ``(n,)``."""
        return self.usable & (self.kind == Kind.RING)

    @property
    def has_compass(self) -> bool:
        return bool(np.isfinite(self.magnetic_azimuth_deg))

    @property
    def has_geotag(self) -> bool:
        return bool(np.isfinite(self.longitude_deg) and np.isfinite(self.latitude_deg))

    @property
    def bearing_sigma_deg(self) -> float:
        """The compass bearing's standard error: the file's, else the usual one; more for a compass
        that was not calibrated."""
        given = self.magnetic_azimuth_sigma_deg
        own = given if given > 0 else COMPASS_SIGMA_DEG
        return float(np.hypot(own, UNCALIBRATED_DEG)) if self.compass_calibrated is False else own

    @property
    def place_sigma_m(self) -> float:
        """The geotag's standard error: the file's, else the usual one."""
        return self.geotag_sigma_m if self.geotag_sigma_m > 0 else GEOTAG_SIGMA_M

    def with_flags(self, mask: NDArray[np.bool_], flag: Flag) -> Capture:
        """A copy in which the still usable readings under ``mask (n,)`` carry the flag."""
        flags = self.flag.copy()
        flags[mask & (flags == Flag.USABLE)] = flag
        return replace(self, flag=flags)


@dataclass(frozen=True, eq=False)
class Survey:
    """The captures of one job, in the order read; names of stations are unique.

    `skipped` holds a sentence for each line or file that was left out because the user allowed
    it, `warnings` what a person should know, `digests` the SHA-256 of each file by its path,
    `known_points` the coordinates that files give of stations and targets.
    """

    captures: tuple[Capture, ...]
    skipped: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    digests: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    known_points: tuple[KnownPoint, ...] = ()

    def __len__(self) -> int:
        return len(self.captures)

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(capture.station for capture in self.captures)

    def index(self, station: str) -> int:
        """The place of a station's capture; ValueError when there is none."""
        return self.names.index(station)
