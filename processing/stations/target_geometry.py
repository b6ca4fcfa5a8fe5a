# SPDX-License-Identifier: GPL-2.0-or-later
"""Where targets stand badly, and what that costs in millimetres."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import Floats, unit, wrap_half
from ..captures.model import Ints
from .network_evidence import Evidence
from .network_group import AdjustedGroup
from .network_options import TargetLimits
from .target_surfaces import TargetSurfaces
from .tie_names import sighting_name

MM = 1000.0
BESIDE_M = 0.001
"""How far a sighting may be beside its mark: what a near target costs is told for this."""

SHOWN = 3
"""So many of a kind are told by name, the dearest first."""

LEAST_COST_M = 0.001
"""A weak cut that costs less is not worth a sentence."""


def geometry_warnings(
    evidence: Evidence,
    adjusted: Sequence[AdjustedGroup],
    surfaces: TargetSurfaces,
    limits: TargetLimits,
) -> list[str]:
    """A sentence on each kind of bad geometry that the sightings used show, with what it costs;
    `surfaces` are all directions of target surfaces that are known."""
    s = evidence.sightings
    tying = np.array(sorted(_tying(evidence, adjusted)), dtype=np.int64)
    told = [
        _distances(evidence, tying, limits),
        _incidence(evidence, tying, surfaces, limits),
    ]
    for group in adjusted:
        own = tying[np.isin(s.station[tying], group.members)]
        place = dict(zip(group.members.tolist(), group.pose))
        told.append(_stations_in_line(evidence, group, own, limits))
        told.append(_targets_in_line(evidence, own, place, limits))
    return [sentence for sentence in told if sentence]


def _tying(evidence: Evidence, adjusted: Sequence[AdjustedGroup]) -> list[int]:
    """Rows of the sightings that tie: used, and of a target that two stations or more sighted."""
    s = evidence.sightings
    found: list[int] = []
    for group in adjusted:
        adjustment = group.snooping.adjustment
        used = adjustment.observations.by_item("sightings", adjustment.used).all(axis=1)
        rows = group.target_rows[used]
        pairs = np.unique(np.stack([s.target[rows], s.station[rows]]), axis=1)
        several = np.bincount(pairs[0], minlength=len(s.name)) > 1
        found.extend(int(row) for row in rows[several[s.target[rows]]])
    return found


def _distances(evidence: Evidence, rows: Ints, limits: TargetLimits) -> str:
    s = evidence.sightings
    near = rows[s.distance_m[rows] < limits.nearest_m]
    far = rows[s.distance_m[rows] > limits.farthest_m]
    if not len(near) and not len(far):
        return ""
    best = np.maximum(s.sigma_m, limits.farthest_m * s.sigma_rad)
    far_texts = [
        f"{_tie(evidence, row)} at {s.distance_m[row]:.1f} m fixes its target to "
        f"{MM * s.spread_m[row]:.1f} mm ({MM * best[row]:.1f} mm at {limits.farthest_m:g} m)"
        for row in sorted(far, key=lambda row: -float(s.spread_m[row]))
    ]
    near_texts = [
        f"{_tie(evidence, row)} at {s.distance_m[row]:.2f} m: {MM * BESIDE_M:g} mm beside the mark "
        f"turns it by {np.degrees(BESIDE_M / s.distance_m[row]):.2f} deg, "
        f"{MM * BESIDE_M * limits.farthest_m / s.distance_m[row]:.0f} mm at {limits.farthest_m:g} m"
        for row in sorted(near, key=lambda row: float(s.distance_m[row]))
    ]
    return (
        f"{len(near) + len(far)} of {len(rows)} target sightings that tie are nearer than "
        f"{limits.nearest_m:g} m or farther than {limits.farthest_m:g} m (common practice): "
        f"{_shown([*far_texts[:SHOWN], *near_texts[:SHOWN]], len(near) + len(far))}."
    )


def _incidence(
    evidence: Evidence, rows: Ints, surfaces: TargetSurfaces, limits: TargetLimits
) -> str:
    """Surfaces that the beam meets at a slant: a pointing error changes the distance by d tan(i)
    times itself."""
    s = evidence.sightings
    normal = {
        (int(a), int(b)): float(angle)
        for a, b, angle in zip(surfaces.station, surfaces.target, surfaces.angle_rad)
    }
    found: list[tuple[float, str]] = []
    for row in rows:
        angle = normal.get((int(s.station[row]), int(s.target[row])))
        if angle is None:
            continue
        slant = abs(float(wrap_half(angle + np.pi - s.angle_rad[row])))
        if not limits.steepest_deg < np.degrees(slant) < 89.0:
            continue
        cost = float(s.distance_m[row] * np.tan(slant) * s.sigma_rad[row])
        found.append(
            (
                cost,
                f"{_tie(evidence, row)}, {np.degrees(slant):.0f} deg from square: a pointing error "
                f"of {np.degrees(s.sigma_rad[row]):.2g} deg moves the distance by "
                f"{MM * cost:.1f} mm",
            )
        )
    if not found:
        return ""
    found.sort(key=lambda one: -one[0])
    return (
        f"{len(found)} target sightings meet their surface at more than {limits.steepest_deg:g} "
        f"deg from square (common practice: square to the beam): "
        f"{_shown([text for _, text in found[:SHOWN]], len(found))}."
    )


def _stations_in_line(
    evidence: Evidence, group: AdjustedGroup, rows: Ints, limits: TargetLimits
) -> str:
    """Stations that targets alone fix, and that stand nearly in line with them."""
    s = evidence.sightings
    found: list[tuple[float, str]] = []
    for station in np.setdiff1d(group.members, group.sights.station):
        own = rows[s.station[rows] == station]
        cut = largest_cut_rad(s.angle_rad[own])
        if len(own) < 2 or cut >= np.radians(limits.least_cut_deg):
            continue
        polar = s.distance_m[own], s.sigma_m[own], s.sigma_rad[own]
        now = resection_sigma_m(s.angle_rad[own], *polar)
        well = resection_sigma_m(np.arange(len(own)) * np.pi / len(own), *polar)
        if now - well > LEAST_COST_M:
            found.append(
                (
                    now - well,
                    f"{evidence.names[station]} (cut {np.degrees(cut):.0f} deg), fixed to "
                    f"{MM * now:.1f} mm by its sightings instead of {MM * well:.1f} mm",
                )
            )
    return _weak("Nearly in line with the targets that tie them stand", found)


def _targets_in_line(
    evidence: Evidence, rows: Ints, place: dict[int, Floats], limits: TargetLimits
) -> str:
    """Targets that are nearly in line with the stations that sighted them."""
    s = evidence.sightings
    found: list[tuple[float, str]] = []
    for target in np.unique(s.target[rows]):
        own = rows[s.target[rows] == target]
        azimuth = s.angle_rad[own] + np.array([place[int(k)][2] for k in s.station[own]])
        cut = largest_cut_rad(azimuth)
        if cut >= np.radians(limits.least_cut_deg):
            continue
        polar = s.distance_m[own], s.sigma_m[own], s.sigma_rad[own]
        now = intersection_sigma_m(azimuth, *polar)
        well = intersection_sigma_m(np.arange(len(own)) * np.pi / len(own), *polar)
        if now - well > LEAST_COST_M:
            found.append(
                (
                    now - well,
                    f"{s.name[target]} (cut {np.degrees(cut):.0f} deg), fixed to {MM * now:.1f} mm "
                    f"instead of {MM * well:.1f} mm",
                )
            )
    return _weak("Nearly in line with the stations that sighted them are", found)


def largest_cut_rad(azimuth_rad: Floats) -> float:
    """The largest angle, 0 to 90 degrees, at which any two of the lines ``(n,)`` cut."""
    apart = np.abs(wrap_half(2.0 * (azimuth_rad[:, None] - azimuth_rad))) / 2.0
    return float(apart.max(initial=0.0))


def resection_sigma_m(
    angle_rad: Floats, distance_m: Floats, sigma_m: Floats, sigma_rad: Floats
) -> float:
    """1-sigma error, in its worst direction, of a station that sights known targets ``(n,)``;
    orientation unknown."""
    ray = unit(angle_rad)
    across = np.stack([ray[:, 1], -ray[:, 0]], axis=1) / distance_m[:, None]
    ranges = np.column_stack([ray, np.zeros(len(ray))]) / sigma_m[:, None]
    angles = np.column_stack([across, np.ones(len(ray))]) / sigma_rad[:, None]
    return _worst(ranges.T @ ranges + angles.T @ angles)


def intersection_sigma_m(
    azimuth_rad: Floats, distance_m: Floats, sigma_m: Floats, sigma_rad: Floats
) -> float:
    """1-sigma error, in its worst direction, of a target sighted from known stations ``(n,)``."""
    ray = unit(azimuth_rad)
    across = np.stack([ray[:, 1], -ray[:, 0]], axis=1) / (distance_m * sigma_rad)[:, None]
    along = ray / sigma_m[:, None]
    return _worst(along.T @ along + across.T @ across)


def _worst(normal: Floats) -> float:
    """The larger semi-axis of the position's standard ellipse, by the normal matrix; infinite where
    it is not determined."""
    if np.linalg.cond(normal) > 1e12:
        return float("inf")
    return float(np.sqrt(np.linalg.eigvalsh(np.linalg.inv(normal)[:2, :2])[-1]))


def _weak(what: str, found: list[tuple[float, str]]) -> str:
    if not found:
        return ""
    found.sort(key=lambda one: -one[0])
    return f"{what} {_shown([text for _, text in found[:SHOWN]], len(found))}."


def _shown(texts: Sequence[str], count: int) -> str:
    more = count - len(texts)
    return "; ".join(texts) + (f"; and {more} more" if more > 0 else "")


def _tie(evidence: Evidence, row: int) -> str:
    s = evidence.sightings
    return sighting_name(evidence.names[s.station[row]], s.name[s.label[row]])
