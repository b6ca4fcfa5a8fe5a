# SPDX-License-Identifier: GPL-2.0-or-later
"""Where the plan lies, in a report: north in its parts, the fit, the evidence, what it is worth."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from pyproj import CRS

from ..angles import Floats
from ..site.accuracy import far_corner_sigma
from ..site.model import Evidence, SiteFit
from ..site.target_crs import bare
from ..walls.model import Rooms
from .html import Markup, bullets, facts, paragraph, section, table
from .north_section import north_section, two_digits
from .values import azimuth, figure, with_sigma

DISTANCES_M = (10.0, 50.0, 100.0)
KIND = {
    "geotag": "Geotag",
    "compass": "Compass",
    "control": "Control point",
    "footprint": "Footprint",
}
SIGN = "Residuals: observed minus fitted. Standard errors are 1 sigma."


def site_section_html(
    fits: Sequence[SiteFit],
    outline_m: Mapping[int, Floats] | None = None,
    rooms: Rooms | None = None,
) -> Markup:
    """HTML sections on the site fits, one a connected group, with the areas of its `rooms` on the
    ground and on the grid.

    `outline_m` are points ``(n, 2)`` of the plan by network number (ends of walls, say): the
    accuracy is told at the one that is known worst. Without them it is told at round distances
    from the plan's origin.
    """
    if not fits:
        return section(
            "Site",
            paragraph(
                "The plan is in its own coordinates: there was no geotag and no control point to "
                "tell where it lies on the earth."
            ),
        )
    outlines = outline_m or {}
    return Markup(
        "\n".join(_one(fit, len(fits) > 1, outlines.get(fit.network), rooms) for fit in fits)
    )


def _one(fit: SiteFit, several: bool, outline_m: Floats | None, rooms: Rooms | None) -> Markup:
    title = f"Site, group {fit.network}" if several else "Site"
    return section(
        title,
        _decisive(fit),
        bullets(fit.warnings),
        Markup("<h3>North</h3>"),
        north_section(fit),
        Markup("<h3>Fit</h3>"),
        _parameters(fit),
        _lengths(fit),
        _areas(fit, rooms),
        _accuracy(fit, outline_m),
        Markup("<h3>Evidence</h3>"),
        _evidence(fit),
    )


def _decisive(fit: SiteFit) -> Markup:
    left_out = sum(not evidence.used for evidence in fit.evidence)
    rest = (
        "All evidence is used."
        if not left_out
        else f"{left_out} of {len(fit.evidence)} pieces of evidence are not used; the reasons "
        "stand below."
    )
    return paragraph(
        f"The position rests on {fit.decides_position}; the rotation on {fit.decides_rotation}. "
        f"{rest}",
        "lead",
    )


def _parameters(fit: SiteFit) -> Markup:
    east, north, turned = _sigmas(fit)
    unit = CRS.from_user_input(fit.target_crs)
    x, y = fit.to_target(np.zeros(2))
    note = "" if fit.unit_m == 1 else f" (unit {bare(unit).axis_info[0].unit_name})"
    return facts(
        [
            ("Coordinate system", f"{_name(fit)}{note}"),
            ("Plan origin, x", with_sigma(f"{x:.3f}", figure(east / fit.unit_m, 3))),
            ("Plan origin, y", with_sigma(f"{y:.3f}", figure(north / fit.unit_m, 3))),
            ("Rotation", with_sigma(azimuth(fit.rotation_rad, 4), two_digits(turned), "deg")),
            ("Combined scale factor", f"{fit.scale:.8f} (held, from projection and height)"),
            *([("Change of datum", f"from WGS 84, for geotags: {fit.datum}")] if fit.datum else []),
        ]
    )


def _lengths(fit: SiteFit) -> Markup:
    """Ground and grid lengths, so that nobody takes one for the other."""
    ppm = (fit.scale - 1) * 1e6
    on_grid = 100 * fit.scale
    more = "longer" if ppm > 0 else "shorter"
    return paragraph(
        f"Lengths in the plan are ground lengths. 100 m on the ground are {on_grid:.4f} m on the "
        f"grid ({abs(ppm):.0f} mm a kilometre {more}); areas change by the square, "
        f"{100 * fit.scale**2:.4f} m² for 100 m². Lengths and areas stated in this "
        "report are those on the ground."
    )


def _areas(fit: SiteFit, rooms: Rooms | None) -> Markup:
    """Rooms of the group on the ground and on the grid."""
    chosen = [] if rooms is None else np.flatnonzero(rooms.network == fit.network).tolist()
    if rooms is None or not chosen:
        return Markup("")
    rows = [
        (
            rooms.name[i],
            int(rooms.level[i]),
            f"{rooms.area_m2[i]:.3f}",
            f"{rooms.area_m2[i] * fit.scale**2:.3f}",
            f"{rooms.perimeter_m[i]:.3f}",
            f"{rooms.perimeter_m[i] * fit.scale:.3f}",
        )
        for i in chosen
    ]
    headers = (
        "Room",
        "Level",
        "Area, ground (m²)",
        "Area, grid (m²)",
        "Perimeter, ground (m)",
        "Perimeter, grid (m)",
    )
    return table(headers, rows, range(1, 6), f"Rooms at 1:{rooms.plot_scale}, on ground and grid")


def _accuracy(fit: SiteFit, outline_m: Floats | None) -> Markup:
    """What the fit is worth at the plan's worst corner, or at round distances."""
    if not np.isfinite(fit.covariance).all():
        return paragraph("What the fit is worth is not known.")
    if outline_m is not None and len(outline_m):
        points = np.asarray(outline_m, dtype=float).reshape(-1, 2)
        sigma = far_corner_sigma(fit, points)
        worst = int(np.argmax(np.hypot(*sigma.T)))
        x, y = points[worst]
        return paragraph(
            f"At the far corner of the plan (x {x:.2f} m, y {y:.2f} m) the fit is worth "
            f"{_metres(sigma[worst, 0])} in east and {_metres(sigma[worst, 1])} in north; the "
            "plan's own errors come on top."
        )
    directions = np.radians(np.arange(0.0, 360.0, 15.0))
    circle = np.stack([np.sin(directions), np.cos(directions)], axis=-1)
    rows = []
    for distance in (0.0, *DISTANCES_M):
        sigma = far_corner_sigma(fit, distance * circle)
        worst = int(np.argmax(np.hypot(*sigma.T)))
        rows.append((f"{distance:.0f}", _metres(sigma[worst, 0]), _metres(sigma[worst, 1])))
    return table(
        ("From the plan's origin (m)", "σ east", "σ north"), rows, (0, 1, 2),
        "What the fit is worth at the worst point at a distance; the plan's own errors come on top",
    )  # fmt: skip


def _evidence(fit: SiteFit) -> Markup:
    rows = [
        (
            KIND.get(e.kind, e.kind),
            e.name,
            _figure(e.residual_east_m, 3),
            _figure(e.residual_north_m, 3),
            _figure(math.degrees(e.residual_rad), 2),
            _figure(e.standardised, 2),
            "used" if e.used else "not used",
            e.reason,
        )
        for e in sorted(fit.evidence, key=_order)
    ]
    headers = (
        "Kind",
        "Station or target",
        "Residual east (m)",
        "Residual north (m)",
        "Residual (deg)",
        "Standardised",
        "",
        "Remark",
    )
    return table(headers, rows, (2, 3, 4, 5), SIGN)


def _order(evidence: Evidence) -> tuple[bool, int, str]:
    """What was left out first, then by kind and name."""
    kinds = list(KIND)
    place = kinds.index(evidence.kind) if evidence.kind in kinds else len(kinds)
    return evidence.used, place, evidence.name


def _sigmas(fit: SiteFit) -> Floats:
    return np.sqrt(np.diagonal(fit.covariance))


def _name(fit: SiteFit) -> str:
    crs = CRS.from_user_input(fit.target_crs)
    known = fit.target_crs if len(fit.target_crs) < 40 else "no identifier"
    return f"{crs.name} ({known})"


def _metres(value: float) -> str:
    return f"{value * 1000:.0f} mm" if value < 1 else f"{value:.1f} m"


def _figure(value: float, digits: int) -> str:
    return f"{value:.{digits}f}" if math.isfinite(value) else ""
