# SPDX-License-Identifier: GPL-2.0-or-later
"""Control points from the coordinates that capture files give."""

from __future__ import annotations

import warnings as python_warnings
from collections.abc import Sequence

import numpy as np
from pyproj import CRS, Geod
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import TransformerGroup

from ..angles import Floats
from ..captures.findings import listed
from ..captures.model import KnownPoint
from ..errors import SurveyError
from ..stations.model import Network
from .control import CONTROL_SIGMA_M, Control
from .evidence import FAR_APART_M
from .grid import geographic_to, grid_north_rad
from .target_crs import around, bare, horizontal, in_area, middle_of_area

SAME_M = 0.01
NEAR_DEG = 1.0
"""So far outside the area of a CRS a place is still believed to be meant in it."""


class _Unfit(Exception):
    """Known points that cannot be control, with the sentence that says why."""


def crs_of_known(known: Sequence[KnownPoint]) -> str:
    """The first projected coordinate system that known points name; empty where none does."""
    for text in dict.fromkeys(point.crs for point in known):
        try:
            _source(text)
        except _Unfit:
            continue
        return text
    return ""


def place_of_known(known: Sequence[KnownPoint], crs: str) -> tuple[float, float]:
    """Longitude and latitude (WGS 84) of the middle of the points that name that system, one that
    `crs_of_known` gave."""
    system = _source(crs)
    middle = np.mean([(p.east_m, p.north_m) for p in known if p.crs == crs], axis=0)
    return _longitude_latitude(middle / _unit_m(system), system)


def control_of_known(
    known: Sequence[KnownPoint],
    network: Network,
    target_crs: CRS | str,
    geotag: tuple[float, float] | None = None,
) -> tuple[Control | None, tuple[str, ...]]:
    """The known points that are sighted targets, or stations that stood on them, as control in the
    target CRS, and sentences about what was done; None where none can be used.

    Points are transformed from the coordinate system that their file names. Where it names none
    they are taken as coordinates of the target CRS, unless they lie outside its area, or far from
    `geotag` (longitude, latitude): then they belong to a system of their own. 10 mm is taken where
    the file gives no standard error.
    """
    if not known:
        return None, ()
    targets, stations = set(network.targets.name), set(network.station)
    used = [p for p in known if p.name in (stations if p.station else targets)]
    if not used:
        names = listed(list(dict.fromkeys(point.name for point in known)))
        return None, (
            f"The coordinates in the files ({names}) are of no sighted target and of no station, "
            "so they are no control.",
        )
    target, _ = horizontal(target_crs, *(geotag or (0.0, 0.0)))
    told: list[str] = []
    chosen: dict[tuple[str, bool], tuple[Floats, float]] = {}
    for crs in dict.fromkeys(point.crs for point in used):
        group = [point for point in used if point.crs == crs]
        names = listed(list(dict.fromkeys(point.name for point in group)))
        try:
            xy, how = _in_target(group, crs, target, geotag)
        except _Unfit as reason:
            told.append(f"The coordinates in the files of {names} are no control: {reason}")
            continue
        told.append(f"The coordinates in the files of {names} are control{how}.")
        for point, place in zip(group, xy):
            sigma = point.sigma_m if point.sigma_m > 0 else CONTROL_SIGMA_M
            first, _ = chosen.setdefault((point.name, point.station), (place, sigma))
            apart = float(np.hypot(*(place - first))) * _unit_m(target)
            if apart > SAME_M:
                told.append(
                    f"The files put {point.name} at two places, {apart:.3f} m apart; the first is "
                    "used."
                )
    if not chosen:
        return None, tuple(told)
    return Control(
        tuple(name for name, _ in chosen),
        np.array([place for place, _ in chosen.values()]),
        np.array([sigma for _, sigma in chosen.values()]),
        np.array([stood for _, stood in chosen], dtype=bool),
    ), tuple(told)


def with_earlier_control(
    control: Control | None,
    earlier: Sequence[KnownPoint],
    network: Network,
    target_crs: CRS | str,
    geotag: tuple[float, float] | None = None,
) -> tuple[Control | None, tuple[str, ...]]:
    """Control points with those that an earlier plan was placed by, as far as their targets are
    still there; a point that is given anew is the new one's. And sentences about what was done."""
    anew = set(control.name) if control is not None else set()
    rest = [point for point in earlier if point.name not in anew]
    again, told = control_of_known(rest, network, target_crs, geotag)
    if again is None:
        return control, tuple(f"Control points of the earlier plan: {one}" for one in told)
    sentence = f"Control points of the earlier plan are used again: {listed(again.name)}."
    if control is None:
        return again, (sentence,)
    both = (control, again)
    return Control(
        tuple(name for one in both for name in one.name),
        np.concatenate([one.xy for one in both]),
        np.concatenate([one.sigma_m for one in both]),
        np.concatenate([one.station for one in both]),
    ), (sentence,)


def _in_target(
    points: Sequence[KnownPoint], crs: str, target: CRS, geotag: tuple[float, float] | None
) -> tuple[Floats, str]:
    """Host x, y ``(n, 2)`` of points of one coordinate system, and how they came there."""
    metres = np.array([(point.east_m, point.north_m) for point in points])
    if not crs:
        if grid_north_rad(bare(target)) != 0.0:
            raise _Unfit(
                f"their file names no coordinate system, and the axes of {target.name} do not run "
                "east and north; expected an epsgCode in the file."
            )
        xy = metres / _unit_m(target)
        _plausible(xy, target, geotag)
        return xy, f", taken as coordinates of {target.name}, as their file names no system"
    source = _source(crs)
    xy = metres / _unit_m(source)
    place = _longitude_latitude(xy.mean(axis=0), source)
    if geotag is not None:
        _near(place, geotag, source.name)
    if source.equals(target):
        return xy, ""
    try:
        with python_warnings.catch_warnings():
            python_warnings.simplefilter("ignore")
            area = around(*place)
            group = TransformerGroup(source, target, always_xy=True, area_of_interest=area)
    except ProjError as error:
        raise _Unfit(f"PROJ cannot transform {source.name} to {target.name}: {error}.") from None
    if not group.transformers or "ballpark" in group.transformers[0].description.lower():
        raise _Unfit(
            f"only an approximate change of datum from {source.name} to {target.name} is at hand; "
            f"expected {source.name} as the target CRS, or another on its datum."
        )
    change = group.transformers[0]
    moved = np.stack(change.transform(xy[:, 0], xy[:, 1]), axis=-1)
    if not np.isfinite(moved).all():
        raise _Unfit(f"they have no coordinates in {target.name}; expected a CRS of the place.")
    worth = f", which is good to {change.accuracy:g} m" if change.accuracy > 0 else ""
    return moved, f", transformed from {source.name} to {target.name}{worth}"


def _source(text: str) -> CRS:
    """The projected coordinate system of known points; `_Unfit` where it is none of use."""
    if not text:
        raise _Unfit("their file names no coordinate system.")
    try:
        crs = CRS.from_user_input(text)
    except CRSError:
        raise _Unfit(f"their coordinate system {text[:40]!r} is not known to PROJ.") from None
    try:
        crs, _ = horizontal(crs, 0.0, 0.0)
    except SurveyError:
        raise _Unfit(f"their coordinate system {crs.name} is not a projected one.") from None
    if grid_north_rad(bare(crs)) != 0.0:
        raise _Unfit(f"the axes of their coordinate system {crs.name} do not run east and north.")
    return crs


def _unit_m(crs: CRS) -> float:
    return float(bare(crs).axis_info[0].unit_conversion_factor)


def _longitude_latitude(xy: Floats, crs: CRS) -> tuple[float, float]:
    """WGS 84 degrees of a place in a CRS; not finite where it has none."""
    try:
        change = geographic_to(crs, *middle_of_area(crs)).transformer
        longitude, latitude = change.transform(float(xy[0]), float(xy[1]), direction="INVERSE")
    except (SurveyError, ProjError):
        return float("inf"), float("inf")
    return float(longitude), float(latitude)


def _plausible(xy: Floats, target: CRS, geotag: tuple[float, float] | None) -> None:
    """Whether coordinates without a system of their own can be those of the target CRS."""
    longitude, latitude = _longitude_latitude(xy.mean(axis=0), target)
    somewhere = np.isfinite(longitude) and np.isfinite(latitude)
    if not (somewhere and in_area(target, longitude, latitude, NEAR_DEG)):
        raise _Unfit(
            f"their file names no coordinate system, and east {xy[0, 0]:.1f}, north {xy[0, 1]:.1f} "
            f"is no place in the area of {target.name}; they belong to a local system."
        )
    if geotag is not None:
        _near((longitude, latitude), geotag, target.name)


def _near(place: tuple[float, float], geotag: tuple[float, float], name: str) -> None:
    if not np.isfinite(place).all():
        raise _Unfit(f"they are no place in {name}.")
    apart = Geod(ellps="WGS84").inv(*place, *geotag)[2]
    if apart > FAR_APART_M:
        raise _Unfit(
            f"in {name} they lie {apart / 1000:.0f} km from the geotags; they belong to a local "
            "system."
        )
