# SPDX-License-Identifier: GPL-2.0-or-later
"""Wall faces in a report: those turned to an axis, those left out of square, and curves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import Floats
from ..captures.model import Bools, Ints
from ..walls.curve_model import curve_name
from ..walls.model import WallFaces
from ..walls.rooms_furniture import LARGEST_ISLAND_M2
from ..walls.thickness import wall_thicknesses
from .html import Markup, paragraph, section, table
from .values import MM, azimuth, figure


def walls_section_html(
    drawn: Sequence[tuple[WallFaces, float]],
    bounding: Bools | None = None,
    measured: WallFaces | None = None,
) -> Markup:
    """Walls drawn at some plot scales, the finest first, with the furthest that a face of each
    moved (m); the tables are of the finest, of its faces ``bounding (W,)`` where these are told
    apart. Thicknesses are those of the faces as `measured`."""
    if not drawn:
        return Markup("")
    return section(
        "Walls",
        *(_turned_and_left(walls, moved_m) for walls, moved_m in drawn),
        *_tables(drawn[0][0], bounding),
        *([] if measured is None else [_thicknesses(drawn[0][0], bounding, measured)]),
    )


def _out_of_square_deg(walls: WallFaces) -> Floats:
    """Angles ``(W,)`` to the nearest of the plan's axes."""
    quarter = np.degrees(walls.normal_rad) % 90.0
    return np.minimum(quarter, 90.0 - quarter)


def _turned_and_left(walls: WallFaces, moved_m: float) -> Markup:
    turned = int((walls.squared_by_rad != 0.0).sum())
    return paragraph(
        f"1:{walls.plot_scale}: {len(walls)} faces, {turned} turned to a building axis, "
        f"{len(walls) - turned} as measured; "
        f"no face lies more than {moved_m * MM:.1f} mm from its least-squares face."
    )


def _tables(walls: WallFaces, bounding: Bools | None) -> list[Markup]:
    """What was turned, what was left out of square."""
    told = np.ones(len(walls), dtype=bool) if bounding is None else bounding
    turned = np.flatnonzero(told & (walls.squared_by_rad != 0.0))
    left = np.flatnonzero(told & (walls.squared_by_rad == 0.0) & ~walls.curves.curved)
    askew = _out_of_square_deg(walls)
    headers = ("Wall", "Level", "Length (m)", "Azimuth (deg)", "σ (deg)")

    def rows(chosen: Ints, last: Floats) -> list[tuple[object, ...]]:
        return [
            (
                walls.wall[i],
                walls.level[i],
                figure(walls.length_m[i], 3),
                azimuth(walls.normal_rad[i] - np.pi / 2, 3),
                figure(float(np.degrees(walls.sigma_normal_rad[i])), 3),
                figure(float(last[i]), 3),
            )
            for i in chosen
        ]

    where = f"at 1:{walls.plot_scale}"
    if bounding is not None:
        where = f"{where}, faces that bound a room"
    return [
        table(
            (*headers, "Out of square (deg)"),
            rows(left, askew),
            range(1, 6),
            f"Left as measured, {where}",
        ),
        table(
            (*headers, "Turned by (deg)"),
            rows(turned, np.degrees(walls.squared_by_rad)),
            range(1, 6),
            f"Turned to an axis of the building, {where}",
        ),
        _curves(walls),
    ]


def _thicknesses(walls: WallFaces, bounding: Bools | None, measured: WallFaces) -> Markup:
    """Walls of which both faces were seen."""
    told = {name for k, name in enumerate(walls.wall) if bounding is None or bounding[k]}
    found = wall_thicknesses(measured)
    rows = [
        (
            measured.wall[a],
            measured.wall[b],
            measured.level[a],
            figure(found.common_m[k], 2),
            figure(found.thickness_m[k], 3),
            figure(found.sigma_m[k] * MM, 1),
        )
        for k, (a, b) in enumerate(found.faces)
        if measured.wall[a] in told or measured.wall[b] in told
    ]
    headers = ("Face", "Face", "Level", "In common (m)", "Thickness (m)", "σ (mm)")
    return table(headers, rows, range(2, 6), "Thickness of walls seen on both sides, as measured")


def _curves(walls: WallFaces) -> Markup:
    """Curved walls and columns: centre, radius and its standard error."""
    curves = walls.curves
    first = [
        int(np.flatnonzero(curves.of_face == k)[0]) for k in np.unique(curves.of_face) if k >= 0
    ]
    return table(
        ("Curve", "Level", "Seen from", "Centre x (m)", "y (m)", "Radius (m)", "σ (mm)", "Chords"),
        [
            (
                curve_name(k),
                walls.level[face],
                "inside" if curves.hollow[k] else "outside",
                figure(float(curves.centre_m[k, 0]), 3),
                figure(float(curves.centre_m[k, 1]), 3),
                figure(float(curves.radius_m[k]), 4),
                figure(float(np.sqrt(curves.covariance[k, 2, 2])) * MM, 1),
                int((curves.of_face == k).sum()),
            )
            for k, face in zip(curves.of_face[first], first)
        ],
        (1, 3, 4, 5, 6, 7),
        f"Curved walls and columns, drawn at 1:{walls.plot_scale} as chords that keep the "
        "arc's area; columns that stand free are drawn, and up to "
        f"{LARGEST_ISLAND_M2:g} m² not taken out of the room's area",
    )
