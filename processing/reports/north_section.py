# SPDX-License-Identifier: GPL-2.0-or-later
"""North in its parts: every station's bearing on its way to plan north, and a small figure."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from pyproj import CRS

from ..angles import wrap_half_deg
from ..site.declination import BLACKOUT_NT, CAUTION_NT
from ..site.grid import grid_north_rad
from ..site.model import Bearing, SiteFit
from ..site.target_crs import bare
from .html import Markup, facts, paragraph, table, text
from .values import NONE, azimuth

CALIBRATION = {True: "calibrated", False: "not calibrated", None: "not stated"}
HEADERS = (
    "Station",
    "Compass",
    "Magnetic",
    "σ",
    "Declination",
    "True",
    "Convergence",
    "Grid",
    "Orientation",
    "Plan north",
    "Off the others",
    "w",
)
WITHOUT_COMPASS = ("", "True", "Convergence", "Grid", "σ")


def north_section(fit: SiteFit) -> Markup:
    """The table, what declination and convergence hold for, and the figure."""
    parts = [_with_bearings(fit) if fit.bearings else _without(fit), _place(fit)]
    turned = _turned_axes(fit)
    if turned:
        parts.append(turned)
    parts.append(_figure(fit))
    return Markup("\n".join(parts))


def grid_azimuth_rad(fit: SiteFit) -> float:
    """The azimuth of plan north from the grid's own north, which is not always the map's y."""
    crs = bare(CRS.from_user_input(fit.target_crs))
    return fit.rotation_rad - grid_north_rad(crs)


def _with_bearings(fit: SiteFit) -> Markup:
    north = fit.north
    rows = [_row(fit, bearing) for bearing in fit.bearings]
    grid = grid_azimuth_rad(fit)
    true = grid + north.convergence_rad
    sigma = math.sqrt(float(fit.covariance[2, 2]))
    rows.append(
        (
            "Plan, fitted",
            "",
            azimuth(true - north.declination_rad, 4),
            two_digits(sigma),
            _signed(north.declination_rad, 4),
            azimuth(true, 4),
            _signed(north.convergence_rad, 4),
            azimuth(grid, 4),
            azimuth(0.0, 4),
            azimuth(grid, 4),
            "",
            "",
        )
    )
    return table(
        HEADERS, rows, range(2, 12),
        "Azimuths of the instruments' zero directions in degrees, clockwise. True = magnetic + "
        "declination; grid = true - convergence; plan north = grid - orientation in the plan. Off "
        "the others: through the adjusted orientations, against all other evidence; w: the same "
        "in standard errors",
    )  # fmt: skip


def _row(fit: SiteFit, bearing: Bearing) -> tuple[object, ...]:
    north = fit.north
    true = bearing.magnetic_azimuth_rad + north.declination_rad
    grid = true - north.convergence_rad
    return (
        bearing.station,
        CALIBRATION[bearing.calibrated],
        azimuth(bearing.magnetic_azimuth_rad, 2),
        f"{math.degrees(bearing.sigma_rad):.1f}",
        _signed(north.declination_rad, 2),
        azimuth(true, 2),
        _signed(north.convergence_rad, 2),
        azimuth(grid, 2),
        azimuth(bearing.orientation_rad, 2),
        azimuth(grid - bearing.orientation_rad, 2),
        _off(bearing),
        f"{bearing.standardised:.2f}" if math.isfinite(bearing.standardised) else "",
    )


def _off(bearing: Bearing) -> str:
    off = _signed(bearing.off_rad, 1) if math.isfinite(bearing.off_rad) else "unchecked"
    return off if bearing.used else f"{off}, not used"


def _without(fit: SiteFit) -> Markup:
    grid = grid_azimuth_rad(fit)
    convergence = fit.north.convergence_rad
    row = (
        "Plan, fitted",
        azimuth(grid + convergence, 4),
        _signed(convergence, 4),
        azimuth(grid, 4),
        two_digits(math.sqrt(float(fit.covariance[2, 2]))),
    )
    return table(
        WITHOUT_COMPASS, [row], (1, 2, 3, 4),
        "Degrees, clockwise: grid azimuth = true azimuth - convergence; no station has a compass "
        "bearing",
    )  # fmt: skip


def _place(fit: SiteFit) -> Markup:
    """Where and when declination and convergence hold, and what they are worth."""
    north = fit.north
    pairs: list[tuple[object, object]] = []
    if math.isfinite(north.declination_rad):
        epoch = north.model[-4:]
        on = north.on.isoformat() if north.on else "unknown date"
        pairs += [
            (
                "Declination",
                f"{_signed(north.declination_rad, 2)} ± {_plain(north.sigma_declination_rad, 2)} "
                f"deg, magnetic north east of true north, on {on}",
            ),
            (
                "Model",
                f"{north.model}, epoch {epoch}.0, for dates to {int(epoch) + 4}-12-31; the "
                "standard error is the model's own, which all bearings share; it knows nothing of "
                "iron in the building",
            ),
        ]
    if math.isfinite(north.horizontal_nt):
        pairs.append(("Horizontal intensity", f"{north.horizontal_nt:.0f} nT: {_zone(fit)}"))
    if math.isfinite(north.longitude_deg):
        pairs.append(
            (
                "Place",
                f"longitude {north.longitude_deg:.5f}, latitude {north.latitude_deg:.5f} deg, "
                f"{north.height_m:.0f} m above the ellipsoid",
            )
        )
    name = CRS.from_user_input(fit.target_crs).name
    pairs.append(
        (
            "Convergence",
            f"{_signed(north.convergence_rad, 4)} deg, grid north of {name} east of true north",
        )
    )
    return facts(pairs)


def _zone(fit: SiteFit) -> str:
    if fit.north.horizontal_nt < BLACKOUT_NT:
        return f"blackout zone of the model (under {BLACKOUT_NT:.0f} nT)"
    if fit.north.horizontal_nt < CAUTION_NT:
        return f"caution zone of the model (under {CAUTION_NT:.0f} nT)"
    return f"outside the model's caution zone (under {CAUTION_NT:.0f} nT)"


def _turned_axes(fit: SiteFit) -> Markup | None:
    quarter = fit.rotation_rad - grid_azimuth_rad(fit)
    if abs(quarter) < 1e-9:
        return None
    return paragraph(
        "Azimuth of plan north in the map's x, y: "
        f"{azimuth(fit.rotation_rad, 4)} deg; the axes of this grid do not run east and north."
    )


# the figure

WIDTH, RADIUS, LABEL, GAP_DEG = 440, 95.0, 24.0, 18.0
COLOURS = {"true": "#1d2328", "magnetic": "#a4510f", "grid": "#1f5f99", "plan": "#2f6f4f"}


def _figure(fit: SiteFit) -> Markup:
    """The norths as arrows from one point, as maps show them: in their order around true north, but
    set apart so that small angles can be seen."""
    north = fit.north
    true_of_plan = grid_azimuth_rad(fit) + north.convergence_rad
    angles = {"grid": math.degrees(north.convergence_rad), "plan": math.degrees(true_of_plan)}
    words = {
        "true": "true north",
        "grid": f"grid north, {_signed(north.convergence_rad, 2)}°",
        "plan": f"plan north, {azimuth(true_of_plan, 2)}°",
    }
    if math.isfinite(north.declination_rad):
        angles["magnetic"] = math.degrees(north.declination_rad)
        words["magnetic"] = f"magnetic north, {_signed(north.declination_rad, 2)}°"
    title = "Norths at the plan, angles from true north, clockwise; not to scale"
    drawn = dict(_set_apart(angles))
    marks = "".join(_arrow(name, angle, words[name]) for name, angle in drawn.items())
    lowest = max(0.0, *(-RADIUS * math.cos(math.radians(angle)) for angle in drawn.values()))
    top, height = -RADIUS - LABEL, RADIUS + lowest + 2 * LABEL
    return Markup(
        f'<figure><svg viewBox="{-WIDTH / 2:g} {top:g} {WIDTH} {height:.0f}" width="{WIDTH}" '
        f'role="img" font-family="inherit" font-size="12"><title>{text(title)}</title>'
        f'<circle r="3" fill="{COLOURS["true"]}"/>{marks}</svg>'
        f"<figcaption>{text(title)}</figcaption></figure>"
    )


def _set_apart(angles: dict[str, float]) -> Iterator[tuple[str, float]]:
    """The names with the angles (deg) that they are drawn at, true north at 0."""
    yield "true", 0.0
    own = {name: float(wrap_half_deg(angle)) for name, angle in angles.items()}
    for side in (1.0, -1.0):
        before = 0.0
        for name in sorted(own, key=lambda name: abs(own[name])):
            if (own[name] >= 0) == (side > 0):
                before = max(side * own[name], before + GAP_DEG)
                yield name, side * before


def _arrow(name: str, angle_deg: float, words: str) -> str:
    a = math.radians(angle_deg)
    way = np.array([math.sin(a), -math.cos(a)])
    across = np.array([math.cos(a), math.sin(a)])
    tip = RADIUS * way
    head = " ".join(
        f"{x:.1f},{y:.1f}"
        for x, y in (tip, tip - 11 * way + 4 * across, tip - 11 * way - 4 * across)
    )
    at = (RADIUS + 12) * way
    anchor = "middle" if abs(way[0]) < 0.2 else "start" if way[0] > 0 else "end"
    drop = 4.0 + (6.0 if way[1] > 0.9 else 0.0)
    colour = COLOURS[name]
    return (
        f'<line x1="0" y1="0" x2="{tip[0]:.1f}" y2="{tip[1]:.1f}" '
        f'stroke="{colour}" stroke-width="1.6"/><polygon points="{head}" fill="{colour}"/>'
        f'<text x="{at[0]:.1f}" y="{at[1] + drop:.1f}" text-anchor="{anchor}" '
        f'fill="{colour}">{text(words)}</text>'
    )


def two_digits(sigma_rad: float) -> str:
    """The standard error of an angle in degrees; a dash where it is not known."""
    return f"{math.degrees(sigma_rad):.2g}" if math.isfinite(sigma_rad) else NONE


def _signed(radians: float, digits: int) -> str:
    return f"{math.degrees(radians):+.{digits}f}"


def _plain(radians: float, digits: int) -> str:
    return f"{math.degrees(radians):.{digits}f}"
