# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces that are chords of curves, beside the straight ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..angles import Floats, along, azimuth_of, unit, wrap_half
from ..captures.faces import REJECT
from ..captures.model import Ints, Survey
from ..stations.model import Network
from .chords import (
    chord_distance,
    coarse_division,
    corner_radius,
    fine_division,
    sectors,
)
from .curve_model import Curves, no_curves
from .curves import Curve, Curved, reading_on
from .model import OF_FACE, WallFaces
from .straightening import DrawnLine


@dataclass(frozen=True, eq=False)
class Chords:
    """``K`` chords: their curves and sectors, lines, half lengths and errors."""

    of: Ints
    sector_rad: Floats
    centre_m: Floats
    normal_rad: Floats
    half_m: Floats
    sigma_offset_m: Floats
    sigma_normal_rad: Floats


def with_curves(walls: WallFaces, curved: Curved, survey: Survey, network: Network) -> WallFaces:
    """The straight faces and the chords of the curves, as measured, named anew by place.

    A chord's readings are those of its sector; their residuals are from the circle.
    """
    if not curved.curves:
        return walls
    chords = _chords_of(curved.curves)
    start, count = len(walls), len(chords.of)
    wall_of_reading, residuals = [], []
    squares, number, largest = np.zeros(count), np.zeros(count), np.zeros(count)
    seen_by: list[set[str]] = [set() for _ in range(count)]
    for s, capture in enumerate(survey.captures):
        wall, residual = walls.wall_of_reading[s].copy(), walls.residual_of_reading_m[s].copy()
        curve = reading_on(curved, s)
        for k in np.unique(curve[curve >= 0]):
            at = np.flatnonzero(curve == k)
            away = network.to_plan(s, capture.xy_m[at]) - curved.curves[k].centre_m
            radial = np.hypot(*away.T) - curved.curves[k].radius_m
            radial = -radial if curved.curves[k].hollow else radial
            chord = _chord_at(chords, int(k), azimuth_of(away))
            spread = np.sqrt(np.mean(radial**2))
            on = (chord >= 0) & (np.abs(radial) <= REJECT * max(float(spread), 1e-4))
            wall[at], residual[at] = -1, np.nan
            wall[at[on]], residual[at[on]] = start + chord[on], radial[on]
            squares += np.bincount(chord[on], radial[on] ** 2, minlength=count)
            number += np.bincount(chord[on], minlength=count)
            np.maximum.at(largest, chord[on], np.abs(radial[on]))
            for c in np.unique(chord[on]):
                seen_by[c].add(capture.station)
        wall_of_reading.append(wall)
        residuals.append(residual)
    span = chords.half_m[:, None] * np.array([-1.0, 1.0])
    more: dict[str, Any] = {
        "wall": ("",) * count,
        "level": np.array([curved.curves[k].level for k in chords.of], dtype=np.int64),
        "network": np.array([curved.curves[k].network for k in chords.of], dtype=np.int64),
        "centre_m": chords.centre_m,
        "normal_rad": chords.normal_rad,
        "sigma_normal_rad": chords.sigma_normal_rad,
        "sigma_offset_m": chords.sigma_offset_m,
        "span_m": span,
        "drawn_m": chords.centre_m[:, None] + span[:, :, None] * along(chords.normal_rad)[:, None],
        "readings": number.astype(np.int64),
        "stations": tuple(tuple(sorted(names)) for names in seen_by),
        "rms_m": np.sqrt(squares / np.maximum(number, 1.0)),
        "largest_residual_m": largest,
        "squared_by_rad": np.zeros(count),
    }
    both = {name: _joined(getattr(walls, name), more[name]) for name in OF_FACE}
    return _named_in_order(
        replace(
            walls,
            **both,
            wall_of_reading=tuple(wall_of_reading),
            residual_of_reading_m=tuple(residuals),
            curves=_model_of(curved.curves, start, chords),
        )
    )


def _joined(values: Any, more: Any) -> Any:
    return values + more if isinstance(values, tuple) else np.concatenate([values, more])


def _chords_of(curves: tuple[Curve, ...]) -> Chords:
    of, parts, lines, halves, errors = [], [], [], [], []
    for k, curve in enumerate(curves):
        for begin, extent in curve.seen:
            count = fine_division(curve.radius_m, extent)
            step = extent / count
            part = sectors(begin, extent, count)
            centre, normal = chord_lines(curve.centre_m, curve.radius_m, curve.hollow, part)
            outward = unit(part.mean(axis=1))
            by = np.column_stack([outward, np.ones(count)])
            sideways = np.column_stack([along(part.mean(axis=1)), np.zeros(count)])
            offset = np.sqrt(np.einsum("ij,jk,ik->i", by, curve.covariance, by))
            turned = np.sqrt(np.einsum("ij,jk,ik->i", sideways, curve.covariance, sideways))
            of.append(np.full(count, k))
            parts.append(part)
            lines.append(np.column_stack([centre, normal]))
            halves.append(np.full(count, corner_radius(curve.radius_m, step) * np.sin(0.5 * step)))
            errors.append(np.column_stack([offset, turned / curve.radius_m]))
    line, error = np.concatenate(lines), np.concatenate(errors)
    return Chords(
        np.concatenate(of).astype(np.int64),
        np.concatenate(parts),
        line[:, :2],
        line[:, 2],
        np.concatenate(halves),
        error[:, 0],
        error[:, 1],
    )


def chord_lines(
    centre_m: Floats, radius_m: float, hollow: bool, sector_rad: Floats
) -> tuple[Floats, Floats]:
    """Middles ``(k, 2)`` and normals' azimuths ``(k,)`` of the chords of sectors ``(k, 2)``, all of
    one width."""
    middle = sector_rad.mean(axis=1)
    width = float(sector_rad[0, 1] - sector_rad[0, 0])
    outward = unit(middle)
    normal = wrap_half(middle + (np.pi if hollow else 0.0))
    return centre_m + chord_distance(radius_m, width) * outward, normal


def _chord_at(chords: Chords, curve: int, azimuth_rad: Floats) -> Ints:
    """The chord ``(n,)`` of a curve in whose sector each azimuth lies; -1 for none."""
    own = np.flatnonzero(chords.of == curve)
    begin, end = chords.sector_rad[own].T
    inside = (azimuth_rad[:, None] - begin[None]) % (2 * np.pi) <= (end - begin)[None] + 1e-9
    return np.where(inside.any(axis=1), own[np.argmax(inside, axis=1)], -1)


def _model_of(curves: tuple[Curve, ...], straight: int, chords: Chords) -> Curves:
    none = np.full(straight, -1, dtype=np.int64)
    return Curves(
        centre_m=np.array([c.centre_m for c in curves]),
        radius_m=np.array([c.radius_m for c in curves]),
        covariance=np.array([c.covariance for c in curves]),
        hollow=np.array([c.hollow for c in curves]),
        of_face=np.concatenate([none, chords.of]),
        sector_rad=np.concatenate([np.full((straight, 2), np.nan), chords.sector_rad]),
    )


def _named_in_order(walls: WallFaces) -> WallFaces:
    """The faces by level, then north to south, then west to east, and named so."""
    u = along(walls.normal_rad)
    middle = np.round(walls.centre_m + walls.span_m.mean(axis=1)[:, None] * u, 3)
    order = np.lexsort((np.round(walls.normal_rad, 4), middle[:, 0], -middle[:, 1], walls.level))
    names = tuple(f"W{number + 1:03d}" for number in range(len(order)))
    return replace(walls.in_order(order), wall=names)


def common_chords(walls: WallFaces, tolerance_m: float) -> list[DrawnLine]:
    """Lines for the chords as measured at a tolerance: so many become one as it allows."""
    curves, lines = walls.curves, []
    for k in range(len(curves)):
        own = np.flatnonzero(curves.of_face == k)
        begin = curves.sector_rad[own, 0]
        own = own[np.argsort(begin, kind="stable")]
        sector = curves.sector_rad[own]
        width = sector[:, 1] - sector[:, 0]
        new = np.abs(sector[1:, 0] - sector[:-1, 1]) > 1e-9
        for run in np.split(np.arange(len(own)), np.flatnonzero(new) + 1):
            radius = float(curves.radius_m[k])
            group = coarse_division(radius, float(width[run].sum()), len(run), tolerance_m)
            for part in run.reshape(-1, group):
                both = np.array([[sector[part[0], 0], sector[part[-1], 1]]])
                centre, normal = chord_lines(
                    curves.centre_m[k], radius, bool(curves.hollow[k]), both
                )
                lines.append(DrawnLine([int(f) for f in own[part]], centre[0], float(normal[0])))
    return lines


def joined_sectors(walls: WallFaces, leads: Ints, members: list[Ints]) -> Curves:
    """The curves of faces that stand for several chords each: ``leads (k,)`` one of each,
    ``members`` all."""
    curves = walls.curves.of(leads)
    sector = curves.sector_rad.copy()
    for k in np.flatnonzero(curves.of_face >= 0):
        own = walls.curves.sector_rad[members[k]]
        sector[k] = own[:, 0].min(), own[:, 1].max()
    return replace(curves, sector_rad=sector)


def corners_on_curves(walls: WallFaces, drawn_m: Floats) -> Floats:
    """The drawn ends ``(W, 2, 2)`` with chords that follow each other joined in their corners."""
    curves = walls.curves
    drawn = drawn_m.copy()
    for k in range(len(curves)):
        own = np.flatnonzero(curves.of_face == k)
        begin, end = curves.sector_rad[own].T
        for i, face in enumerate(own):
            after = np.flatnonzero(np.abs((begin - end[i] + np.pi) % (2 * np.pi) - np.pi) < 1e-9)
            if len(after) == 0:
                continue
            width = float(end[i] - begin[i])
            corner = curves.centre_m[k] + corner_radius(float(curves.radius_m[k]), width) * unit(
                end[i]
            )
            # A hollow curve's faces run against the azimuths as seen from its centre.
            first, second = (1, 0) if not _runs_back(walls, face, end[i]) else (0, 1)
            drawn[face, first] = corner
            drawn[own[after[0]], second] = corner
    return drawn


def _runs_back(walls: WallFaces, face: int, end_rad: float) -> bool:
    """Whether a face starts where its sector ends."""
    k = walls.curves.of_face[face]
    tip = walls.curves.centre_m[k] + walls.curves.radius_m[k] * unit(end_rad)
    return bool((tip - walls.centre_m[face]) @ along(walls.normal_rad[face]) < 0.0)


def curves_of_chords(
    drawn_m: Floats,
    normal_rad: Floats,
    names: Sequence[str],
    radius_m: Floats,
    sigma_radius_m: Floats,
    sigma_offset_m: Floats,
) -> Curves:
    """The curves of faces as a layer keeps them: ends ``(W, 2, 2)``, normals, the curve's name
    (empty: straight), its radius and errors ``(W,)``. A centre is where the normals meet; its
    errors are what the chords' leave beside the radius'."""
    known = sorted({name for name in names if name})
    number = {name: k for k, name in enumerate(known)}
    of_face = np.array([number.get(name, -1) for name in names], dtype=np.int64)
    if not known:
        return no_curves(len(names))
    centre, hollow, covariance = [], [], []
    sector = np.full((len(names), 2), np.nan)
    for k in range(len(known)):
        own = np.flatnonzero(of_face == k)
        middle, u = drawn_m[own].mean(axis=1), along(normal_rad[own])
        if len(own) > 1:
            at = np.linalg.lstsq(u, np.einsum("ij,ij->i", u, middle), rcond=None)[0]
        else:
            at = middle[0] - float(radius_m[own[0]]) * unit(normal_rad[own[0]])
        away = middle - at
        hollow.append(bool(np.sum(away * unit(normal_rad[own])) < 0.0))
        half = 0.5 * np.hypot(*(drawn_m[own, 1] - drawn_m[own, 0]).T)
        turned = np.arctan2(half, np.hypot(*away.T))
        azimuth = azimuth_of(away)
        sector[own] = np.stack([azimuth - turned, azimuth + turned], axis=-1)
        spread = float(sigma_radius_m[own[0]]) ** 2
        rest = max(float(np.mean(sigma_offset_m[own] ** 2)) - spread, 0.0)
        covariance.append(np.diag([rest, rest, spread]))
        centre.append(at)
    first = [int(np.flatnonzero(of_face == k)[0]) for k in range(len(known))]
    return Curves(
        np.array(centre),
        radius_m[first],
        np.array(covariance),
        np.array(hollow),
        of_face,
        sector,
    )
