# SPDX-License-Identifier: GPL-2.0-or-later
"""Where the plan lies: one weighted fit of east, north and rotation a connected group."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
from pyproj import CRS

from ..angles import turn
from ..captures.model import Survey
from ..errors import SurveyError
from ..progress import SILENT, Progress
from ..stations.model import Network
from .accuracy import by_pose, far_corner_sigma, with_second_order
from .contradictions import judge
from .control import Control
from .evidence import Gathered, Group, gather, groups_of
from .footprint_evidence import Footprint, with_footprint
from .judged import PLURAL, Judged, rotation_known
from .least_squares import Solution, solve
from .model import Bearing, Evidence, SiteFit
from .observations import COMPASS, CONTROL, FOOTPRINT, GEOTAG, Observations

__all__ = ["Control", "Footprint", "RotationUnknown", "far_corner_sigma", "fit_site"]

WEAK_ROTATION_RAD = math.radians(3.0)
LEAST_REDUNDANCY = 1e-3


class RotationUnknown(SurveyError):
    """The plan's place is known, its direction is not."""


def fit_site(
    survey: Survey,
    network: Network,
    *,
    target_crs: CRS | str,
    on: date | None = None,
    height_m: float | None = None,
    control: Control | None = None,
    footprint: Footprint | None = None,
    progress: Progress = SILENT,
) -> tuple[SiteFit, ...]:
    """East, north and rotation of each connected group, from geotags, compass bearings, control and
    the outline of the building on a map.

    The scale is not estimated: it is the combined factor at the place (`grid_at`). Observations are
    weighted by their own standard errors and by the covariance of the adjusted stations and
    targets; the declination's error is one parameter that all bearings share, so that averaging
    bearings does not reduce it, and the error of a change of datum one that all geotags share.
    Blunders and contradictions are found as `judge` describes. A station without ties is fitted by
    itself if it has a geotag and a compass. `on` is the date of the declination (default: from the
    captures), `height_m` the ellipsoidal height (default: from the captures, else 0 with a
    warning).

    Returns the fits in the order of the groups; empty where no group has a geotag or a control
    point. A group that cannot be fitted is left out, and the other fits' warnings say so.

    Raises `RotationUnknown` where positions are there but no group's rotation can be told;
    SurveyError where the target CRS does not do, where a compass bearing has no date, where control
    points match no target, or where control and geotags are not in the same region.
    """
    groups = groups_of(network)
    left_out: tuple[str, ...] = ()
    _control_matches(control, network)
    fits: list[SiteFit] = []
    unknown: list[str] = []
    for part, group in progress.each(groups):
        gathered = gather(group, survey, network, target_crs, on, height_m, control)
        title = group.title(network)
        if gathered is None:
            left_out += (f"No place of its own, for want of a geotag or control point: {title}.",)
            continue
        if footprint is not None:
            gathered = with_footprint(gathered, footprint, group.number, part.part(0.0, 0.9))
        everything = np.ones(len(gathered.observations), dtype=bool)
        if not rotation_known(gathered.observations, everything):
            unknown.append(_unknown(gathered.observations, everything, title))
            continue
        fits.append(_fit(group, gathered, part.part(0.9, 1.0)))
    if unknown and not fits:
        raise RotationUnknown(" ".join(unknown))
    left_out += tuple(unknown)
    for sentence in left_out:
        progress.say(sentence)
    return tuple(_with_warnings(fit, left_out) for fit in fits)


def _fit(group: Group, gathered: Gathered, progress: Progress) -> SiteFit:
    judged, solution = judge(gathered.observations, gathered.notes, progress)
    east, north, rotation = (float(value) for value in solution.parameters[:3])
    sigma_rotation = math.sqrt(solution.covariance[2, 2])
    warnings = list(gathered.warnings) + judged.warnings
    if sigma_rotation > WEAK_ROTATION_RAD:
        warnings.append(
            f"The rotation is only known to {math.degrees(sigma_rotation):.1f} deg (1 sigma); two "
            "control points would settle it."
        )
    return SiteFit(
        network=group.number,
        target_crs=_text(gathered.place.crs),
        unit_m=gathered.place.unit_m,
        east_m=east,
        north_m=north,
        rotation_rad=rotation,
        scale=gathered.place.scale,
        covariance=with_second_order(solution.fit_covariance),
        north=gathered.north,
        evidence=_evidence(judged, solution),
        decides_position=_decides(judged, solution, position=True),
        decides_rotation=_decides(judged, solution, position=False),
        warnings=tuple(warnings),
        bearings=_bearings(gathered, judged, solution),
        datum=gathered.datum,
    )


def _bearings(gathered: Gathered, judged: Judged, solution: Solution) -> tuple[Bearing, ...]:
    """The compass bearings with what became of each."""
    first = judged.observations.positions
    result = []
    for i, bearing in enumerate(gathered.bearings, start=first):
        checked = math.isfinite(solution.standardised[i])
        off = float(solution.residual[first + i])
        if judged.use[i]:
            # A bearing that takes part draws the fit to itself: its residual is only the share of
            # its error that its redundancy says.
            off /= max(float(solution.redundancy[i]), LEAST_REDUNDANCY)
        result.append(
            replace(
                bearing,
                off_rad=off if checked else float("nan"),
                standardised=float(solution.standardised[i]),
                used=bool(judged.use[i]),
                reason=judged.reason[i],
            )
        )
    return tuple(result)


def _text(crs: CRS) -> str:
    authority = crs.to_authority(min_confidence=100)
    return ":".join(authority) if authority else str(crs.to_wkt("WKT2_2019"))


def _evidence(judged: Judged, solution: Solution) -> tuple[Evidence, ...]:
    observations, item = judged.observations, judged.observations.item_of_row
    nan = float("nan")
    result = []
    for i in range(len(observations)):
        own = [float(value) for value in solution.residual[item == i]]
        east, north, turned = (nan, nan, own[0]) if len(own) == 1 else (own[0], own[1], nan)
        result.append(
            Evidence(
                kind=observations.kind[i],
                name=observations.name[i],
                residual_east_m=east,
                residual_north_m=north,
                residual_rad=turned,
                standardised=float(solution.standardised[i]),
                used=bool(judged.use[i]),
                reason=judged.reason[i],
            )
        )
    return tuple(result)


def _decides(judged: Judged, solution: Solution, *, position: bool) -> str:
    """Which kinds the position (at the middle of the evidence), or the rotation, rests on: the
    share of each is the part of the information that is lost without it."""
    whole = _variance(judged.observations, judged.use, solution, position)
    share = {}
    for kind in (CONTROL, FOOTPRINT, COMPASS, GEOTAG):
        items = judged.used(kind)
        if not items.any():
            continue
        without = judged.use & ~items
        enough = without[: judged.observations.positions].any() and rotation_known(
            judged.observations, without
        )
        if enough:
            rest = solve(judged.observations, without)
            lost = 1 - whole / _variance(judged.observations, judged.use, rest, position)
        else:
            # Without it there is no fit at all; that it alone decides shows in its own part.
            lost = _only(judged, kind, position)
        share[kind] = min(max(lost, 0.0), 1.0)
    total = sum(share.values())
    ranked = sorted(share, key=lambda kind: -share[kind])
    words = [
        f"{PLURAL[kind]} ({int(judged.used(kind).sum())} used)"
        for kind in ranked
        if share[kind] > 0.05 * total
    ]
    return ", then ".join(words)


def _only(judged: Judged, kind: str, position: bool) -> float:
    """Share of a kind that the fit cannot do without."""
    if kind == COMPASS:
        return 0.0 if position else 1.0
    if position:
        return 1.0
    items = judged.used(kind)
    by_spread = judged.observations.sigma_rotation_by_spread(items)
    if not math.isfinite(by_spread):
        return 0.0
    compass = judged.used(COMPASS)
    if not compass.any():
        return 1.0
    information = float((judged.observations.sigma[compass] ** -2.0).sum()) ** -0.5
    by_compass = math.hypot(information, judged.observations.sigma_declination_rad)
    return by_compass**2 / (by_compass**2 + by_spread**2)


def _variance(
    observations: Observations, use: np.ndarray, solution: Solution, position: bool
) -> float:
    """Variance of the rotation, or of the position at the middle of the used positions."""
    if not position:
        return float(solution.covariance[2, 2])
    middle = observations.plan_m[use[: observations.positions]].mean(axis=0)
    jacobian = by_pose(turn(observations.scale * middle, solution.parameters[2]))
    return float(np.trace(jacobian @ solution.fit_covariance @ jacobian.T))


def _unknown(observations: Observations, use: np.ndarray, title: str) -> str:
    spread = observations.sigma_rotation_by_spread(use)
    known = (
        f"the geotags and control points tell it to {math.degrees(spread):.0f} deg only"
        if spread < math.pi / 2
        else "the geotags and control points do not tell it"
    )
    kinds = " and ".join(
        f"{int(observations.of_kind(k).sum())} {PLURAL[k]}"
        for k in (GEOTAG, CONTROL, FOOTPRINT)
        if observations.of_kind(k).any()
    )
    return (
        f"The rotation of {title} is unknown: found {kinds} and no compass bearing, and {known}; "
        "expected a compass bearing, two control points, or geotags farther apart."
    )


def _control_matches(control: Control | None, network: Network) -> None:
    if control is None or not len(control) or set(control.name) & set(network.targets.name):
        return
    if control.station.any():
        return  # taken from a file, whose names were looked up already
    targets = ", ".join(network.targets.name[:10]) or "none"
    raise SurveyError(
        f"Control points: none of the names ({', '.join(control.name[:10])}) is a sighted target; "
        f"expected some of: {targets}."
    )


def _with_warnings(fit: SiteFit, more: tuple[str, ...]) -> SiteFit:
    return replace(fit, warnings=fit.warnings + more) if more else fit
