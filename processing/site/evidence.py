# SPDX-License-Identifier: GPL-2.0-or-later
"""From captures, network and control points to the observations of one connected group."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from pyproj import CRS, Transformer

from ..angles import Floats
from ..captures.model import Capture, Survey
from ..errors import SurveyError
from ..stations.model import Network, Status
from .control import Control, Known, known_in
from .declination import magnetic_field
from .grid import GridPlace, geographic_to, grid_at
from .model import Bearing, North
from .observations import COMPASS, CONTROL, GEOTAG, Observations
from .target_crs import horizontal, middle_of_area, middle_of_geotags

DATES_APART = timedelta(days=180)
FAR_APART_M = 10_000.0


@dataclass(frozen=True, eq=False)
class Group:
    """One connected group: its `number`, the indices of its stations in the network, and those of
    its targets; `sketched` for a station that the adjustment left apart."""

    number: int
    stations: tuple[int, ...]
    targets: tuple[int, ...]
    sketched: bool

    def title(self, network: Network) -> str:
        if self.sketched:
            return f"station {network.station[self.stations[0]]}, which is connected to no other"
        return f"network {self.number}"


@dataclass(frozen=True, eq=False)
class Gathered:
    """The observations of a group, the place and the parts of north that they were reduced with,
    notes by item (empty: nothing to say) and warnings of the group."""

    observations: Observations
    place: GridPlace
    north: North
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    bearings: tuple[Bearing, ...] = ()
    datum: str = ""


def groups_of(network: Network) -> tuple[Group, ...]:
    """The groups in the order of their numbers; a station without ties is a group of its own."""
    alone = np.array([status is Status.UNCONNECTED for status in network.status], dtype=bool)
    groups = []
    for number in np.unique(network.network).tolist():
        members = np.flatnonzero(network.network == number)
        targets = tuple(np.flatnonzero(network.targets.network == number).tolist())
        groups.append(Group(number, tuple(members.tolist()), targets, bool(alone[members].all())))
    return tuple(groups)


def gather(
    group: Group,
    survey: Survey,
    network: Network,
    target_crs: CRS | str,
    on: date | None,
    height_m: float | None,
    control: Control | None,
) -> Gathered | None:
    """The observations of a group; None where it has no position at all (no geotag, no control).

    Raises SurveyError when the target CRS does not do (see `grid_at`), when a compass needs a date
    that nobody gave, or when control and geotags are not even in the same region.
    """
    captures = {i: _capture(survey, network.station[i]) for i in group.stations}
    tagged = [i for i in group.stations if captures[i].has_geotag]
    known = known_in(network, control, group.targets, group.stations)
    if not tagged and not known:
        return None
    pointed = [i for i in group.stations if captures[i].has_compass]
    warnings: list[str] = []
    longitude, latitude = _place([captures[i] for i in tagged], known, target_crs)
    height = _height([captures[i] for i in group.stations], height_m, warnings)
    place = grid_at(target_crs, longitude, latitude, height)
    warnings.extend(place.warnings)

    host, sigma, names, plan, notes = [], [], [], [], []
    accuracy, told = 0.0, ""
    if tagged:
        datum = geographic_to(place.crs, longitude, latitude)
        warnings.extend(datum.warnings)
        accuracy, told = datum.accuracy_m, datum.told
    for i in tagged:
        capture = captures[i]
        host.append(_tagged_position(capture, place, datum.transformer))
        sigma.append(capture.place_sigma_m)
        names.append(capture.station)
        plan.append(network.xy_m[i])
        notes.append("")
    for point in known:
        host.append(point.xy * place.unit_m)
        sigma.append(point.sigma_m)
        names.append(point.name)
        plan.append(point.plan_m)
        notes.append("")

    north = _north(pointed, captures, place, on, warnings)
    bearings = tuple(_bearing(captures[i], float(network.orientation_rad[i])) for i in pointed)
    to_host = north.declination_rad + place.true_north_rad
    for bearing in bearings:
        sigma.append(bearing.sigma_rad)
        names.append(bearing.station)
        doubtful = bearing.calibrated is False
        notes.append("compass not calibrated: weakened" if doubtful else "")

    kinds = [GEOTAG] * len(tagged) + [CONTROL] * len(known) + [COMPASS] * len(pointed)
    observations = Observations(
        kind=tuple(kinds),
        name=tuple(names),
        plan_m=np.array(plan, dtype=float).reshape(-1, 2),
        host_m=np.array(host, dtype=float).reshape(-1, 2),
        bearing_rad=np.array(
            [b.magnetic_azimuth_rad + to_host - b.orientation_rad for b in bearings], dtype=float
        ),
        sigma=np.array(sigma, dtype=float),
        plan_covariance=_plan_covariance(network, tagged, known, pointed),
        scale=place.scale,
        sigma_declination_rad=north.sigma_declination_rad if pointed else 0.0,
        sigma_datum_m=accuracy,
    )
    _same_region(observations, group.title(network), place)
    return Gathered(observations, place, north, tuple(notes), tuple(warnings), bearings, told)


def _bearing(capture: Capture, orientation_rad: float) -> Bearing:
    return Bearing(
        capture.station,
        math.radians(capture.magnetic_azimuth_deg),
        math.radians(capture.bearing_sigma_deg),
        capture.compass_calibrated,
        orientation_rad,
    )


def _capture(survey: Survey, station: str) -> Capture:
    try:
        return survey.captures[survey.index(station)]
    except ValueError:
        raise SurveyError(
            f"Station {station} of the network is not among the captures of the survey."
        ) from None


def _place(
    tagged: Sequence[Capture], known: Sequence[Known], target_crs: CRS | str
) -> tuple[float, float]:
    """Longitude and latitude to reduce at: of the control points, else the geotags' median."""
    middle = middle_of_geotags(tagged)
    if middle is not None and not known:
        return middle
    crs, _ = horizontal(target_crs, 0.0, 0.0)
    x, y = np.mean([point.xy for point in known], axis=0)
    inverse = geographic_to(crs, *(middle or middle_of_area(crs))).transformer
    longitude, latitude = inverse.transform(x, y, direction="INVERSE")
    if not (math.isfinite(longitude) and math.isfinite(latitude)):
        raise SurveyError(
            f"Control points: x {x:.3f}, y {y:.3f} is not a place in {crs.name}; expected "
            "coordinates of the target CRS."
        )
    return float(longitude), float(latitude)


def _height(captures: Sequence[Capture], height_m: float | None, warnings: list[str]) -> float:
    if height_m is not None:
        if not (math.isfinite(height_m) and -1e4 < height_m < 1e5):
            raise SurveyError(
                f"Height: {height_m:g} m; expected the ellipsoidal height of the plan in metres."
            )
        return float(height_m)
    heights = [c.ellipsoidal_height_m for c in captures if math.isfinite(c.ellipsoidal_height_m)]
    if heights:
        return float(np.mean(heights))
    warnings.append(
        "No ellipsoidal height is known; 0 m is taken (100 m more would shorten 100 m on the grid "
        "by 1.6 mm)."
    )
    return 0.0


def _tagged_position(capture: Capture, place: GridPlace, to_host: Transformer) -> Floats:
    xy = np.array(to_host.transform(capture.longitude_deg, capture.latitude_deg))
    if not np.isfinite(xy).all():
        raise SurveyError(
            f"{capture.capture_file}: the geotag of station {capture.station} (longitude "
            f"{capture.longitude_deg:g}, latitude {capture.latitude_deg:g}) has no coordinates in "
            f"{place.crs.name}; expected a place that the target CRS covers."
        )
    return xy * place.unit_m


def _north(
    pointed: Sequence[int],
    captures: dict[int, Capture],
    place: GridPlace,
    on: date | None,
    warnings: list[str],
) -> North:
    """The parts of north at the place; without a compass no declination is asked for."""
    at = (place.convergence_rad, place.longitude_deg, place.latitude_deg, place.height_m)
    if not pointed:
        nan = float("nan")
        return North(nan, nan, "", None, *at)
    day = on or _day(pointed, captures, warnings)
    field = magnetic_field(place.longitude_deg, place.latitude_deg, place.height_m, day)
    if field.warning:
        warnings.append(field.warning)
    return North(field.declination_rad, field.sigma_rad, field.model, day, *at, field.horizontal_nt)


def _day(pointed: Sequence[int], captures: dict[int, Capture], warnings: list[str]) -> date:
    """The middle of the days on which bearings (else any captures) were taken."""
    times = [captures[i].captured_at for i in pointed]
    if not any(times):
        times = [capture.captured_at for capture in captures.values()]
    days = sorted(time.date() for time in times if time is not None)
    if not days:
        names = ", ".join(captures[i].station for i in pointed[:5])
        raise SurveyError(
            "Magnetic declination needs a date, and none of the captures with a compass bearing "
            f"has captured_at (stations {names}): give DATE."
        )
    middle = days[0] + (days[-1] - days[0]) / 2
    if days[-1] - days[0] > DATES_APART:
        warnings.append(
            f"The captures are from {days[0]} to {days[-1]}; the declination is taken for "
            f"{middle}, in the middle."
        )
    return middle


def _plan_covariance(
    network: Network, tagged: Sequence[int], known: Sequence[Known], pointed: Sequence[int]
) -> Floats:
    """Covariance of the plan points of geotags, of control points, and of the orientations.

    Targets are taken as independent of the stations and of each other, which the network does not
    tell. A sketched station has no covariance: its frame is its own.
    """
    # The row of each in the stations' covariance; -1 for targets, which have their own.
    places = [*tagged, *(point.station for point in known)]
    rows = [3 * i + j if i >= 0 else -1 for i in places for j in (0, 1)]
    chosen = np.array(rows + [3 * i + 2 for i in pointed], dtype=np.int64)
    covariance = np.zeros((len(chosen), len(chosen)))
    own = np.flatnonzero(chosen >= 0)
    covariance[np.ix_(own, own)] = np.nan_to_num(
        network.covariance[np.ix_(chosen[own], chosen[own])]
    )
    for position, point in enumerate(known, start=len(tagged)):
        if point.target >= 0:
            block = slice(2 * position, 2 * position + 2)
            covariance[block, block] = np.nan_to_num(network.targets.covariance_m2[point.target])
    return covariance


def _same_region(observations: Observations, title: str, place: GridPlace) -> None:
    control = observations.of_kind(CONTROL)[: observations.positions]
    geotag = observations.of_kind(GEOTAG)[: observations.positions]
    if not (control.any() and geotag.any()):
        return
    apart = np.median(observations.host_m[geotag], axis=0) - observations.host_m[control].mean(
        axis=0
    )
    if np.hypot(*apart) > FAR_APART_M:
        raise SurveyError(
            f"Control points of {title} lie {np.hypot(*apart) / 1000:.0f} km from its geotags; "
            f"expected control coordinates in the target CRS, {place.crs.name}."
        )
