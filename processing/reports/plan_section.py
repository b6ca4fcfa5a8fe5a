# SPDX-License-Identifier: GPL-2.0-or-later
"""The plan in a report: rooms and areas, openings, walls turned and walls left out of square."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import Floats
from ..captures.model import Ints
from ..walls.curve_model import curve_name
from ..walls.model import Openings, Plan, Rooms, WallFaces
from ..walls.rooms_furniture import LARGEST_ISLAND_M2
from .html import Markup, paragraph, section, table
from .sketch import Sketch
from .values import MM, azimuth, figure

AREA_CONVENTION = (
    "Areas are measured inside the wall faces at the height of the instrument, on the ground. "
    "Reveals of doorways, and of windows that showed glass, are not counted; {niches}. "
    "Furniture, pillars and shafts that stand free in a room are counted up to {island:g} m². "
    "Standard errors hold for what was measured: where furniture or glass hid a stretch of a "
    "room's boundary (seen: below 100 %), the room may be larger than drawn. National measuring "
    "standards differ in what they count: defer to the local one."
)
NICHES = {
    True: "other recesses of walls (niches, closed doors in their reveals) are",
    False: "neither are other recesses of walls up to 0.35 m deep (niches, closed doors in their "
    "reveals)",
}


def plan_section_html(plans: Sequence[Plan]) -> Markup:
    """HTML sections on rooms, openings and walls; the rooms of the finest plot scale."""
    if not plans:
        return Markup("")
    finest = plans[0]
    return Markup(
        "\n".join(
            [
                section(
                    "Rooms",
                    *_sketches(finest),
                    _rooms(finest.rooms),
                    paragraph(_convention(finest.rooms), "soft"),
                ),
                section("Openings", *_openings(finest.rooms, finest.openings)),
                section(
                    "Walls",
                    *(_turned_and_left(plan) for plan in plans),
                    *_walls(finest),
                ),
            ]
        )
    )


def _convention(rooms: Rooms) -> str:
    return AREA_CONVENTION.format(niches=NICHES[rooms.niches], island=LARGEST_ISLAND_M2)


def _rooms(rooms: Rooms) -> Markup:
    rows = [
        (
            rooms.name[i],
            rooms.level[i],
            figure(rooms.area_m2[i], 2),
            figure(rooms.sigma_area_m2[i], 3),
            figure(rooms.sigma_seen_m2[i], 3),
            figure(rooms.perimeter_m[i], 2),
            f"{100 * rooms.seen_share[i]:.0f} %",
            ", ".join(rooms.stations[i]) or "seen from outside only",
        )
        for i in range(len(rooms))
    ]
    headers = (
        *("Room", "Level", "Area (m²)", "σ (m²)", "of it, of what was seen (m²)"),
        *("Perimeter (m)", "Boundary seen", "Stations"),
    )
    return table(headers, rows, range(1, 7), f"At plot scale 1:{rooms.plot_scale}")


def _openings(rooms: Rooms, openings: Openings) -> list[Markup]:
    """Doorways and windows one by one; unseen stretches by room."""
    names = dict(zip(rooms.room, rooms.name))
    seen = [i for i in range(len(openings)) if openings.kind[i] != "unseen"]
    rows = [
        (
            openings.kind[i],
            openings.level[i],
            figure(openings.width_m[i], 3),
            figure(openings.sigma_width_m[i] * MM, 1),
            figure(openings.wall_thickness_m[i], 3),
            names.get(openings.room_a[i], ""),
            names.get(openings.room_b[i], ""),
        )
        for i in seen
    ]
    headers = ("Kind", "Level", "Width (m)", "σ (mm)", "Wall thickness (m)", "Room", "Room")
    unseen: dict[str, list[float]] = {}
    for i in range(len(openings)):
        if openings.kind[i] != "unseen":
            continue
        unseen.setdefault(names.get(openings.room_a[i], ""), []).append(float(openings.width_m[i]))
    hidden = [
        (room, len(widths), figure(sum(widths), 2)) for room, widths in sorted(unseen.items())
    ]
    return [
        table(headers, rows, range(1, 5)),
        table(
            ("Room", "Unseen stretches", "Together (m)"),
            hidden,
            (1, 2),
            "Stretches of the boundary that nobody saw are not drawn as walls",
        ),
    ]


def _out_of_square_deg(walls: WallFaces) -> Floats:
    """Angles ``(W,)`` to the nearest of the plan's axes."""
    quarter = np.degrees(walls.normal_rad) % 90.0
    return np.minimum(quarter, 90.0 - quarter)


def _turned_and_left(plan: Plan) -> Markup:
    walls = plan.walls
    turned = int((walls.squared_by_rad != 0.0).sum())
    return paragraph(
        f"1:{walls.plot_scale}: {len(walls)} faces, {turned} turned to a building axis, "
        f"{len(walls) - turned} as measured; "
        f"no face lies more than {plan.moved_m * MM:.1f} mm from its least-squares face."
    )


def _walls(plan: Plan) -> list[Markup]:
    """The faces that bound rooms: what was turned, what was left out of square."""
    walls = plan.walls
    turned = np.flatnonzero(plan.bounding & (walls.squared_by_rad != 0.0))
    left = np.flatnonzero(plan.bounding & (walls.squared_by_rad == 0.0) & ~walls.curves.curved)
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

    where = f"at 1:{walls.plot_scale}, faces that bound a room"
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
        _curves(plan),
    ]


def _curves(plan: Plan) -> Markup:
    """Curved walls and columns: centre, radius and its standard error."""
    curves = plan.walls.curves
    first = [
        int(np.flatnonzero(curves.of_face == k)[0]) for k in np.unique(curves.of_face) if k >= 0
    ]
    return table(
        ("Curve", "Level", "Seen from", "Centre x (m)", "y (m)", "Radius (m)", "σ (mm)", "Chords"),
        [
            (
                curve_name(k),
                plan.walls.level[face],
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
        f"Curved walls and columns, drawn at 1:{plan.walls.plot_scale} as chords that keep the "
        "arc's area; columns that stand free are drawn, and up to "
        f"{LARGEST_ISLAND_M2:g} m² not taken out of the room's area",
    )


def _sketches(plan: Plan) -> list[Markup]:
    return [_sketch(plan, int(level)) for level in np.unique(plan.walls.level)]


def _sketch(plan: Plan, level: int) -> Markup:
    here = plan.walls.level == level
    walls = plan.walls.drawn_m[here & plan.bounding]
    others = plan.walls.drawn_m[here & ~plan.bounding]
    picture = Sketch((walls if len(walls) else others).reshape(-1, 2))
    chosen = np.flatnonzero(plan.rooms.level == level)
    for i in chosen:
        outer = np.asarray(plan.rooms.polygon[i].exterior.coords)
        picture.outline(outer, 'fill="#eef3ea" stroke="none"')
    picture.lines(others, 'stroke="#aab2b8" stroke-width=".8"')
    picture.lines(walls, 'stroke="#1d2328" stroke-width="1.6"')
    for i in np.flatnonzero(plan.openings.level == level):
        dash = "" if plan.openings.kind[i] == "doorway" else ' stroke-dasharray="3 3"'
        ends = np.asarray(plan.openings.line[i].coords)[[0, -1]]
        picture.lines(ends[None], f'stroke="#b45309" stroke-width="1.6"{dash}')
    places = np.array([plan.rooms.polygon[i].representative_point().coords[0] for i in chosen])
    words = [f"{plan.rooms.name[i]}, {plan.rooms.area_m2[i]:.1f} m²" for i in chosen]
    picture.labels(places.reshape(-1, 2), words, 'text-anchor="middle"')
    return picture.svg(
        f"Level {level} at 1:{plan.walls.plot_scale}, plan north up; faces that bound no room "
        "(furniture, seen through glass) are grey, unseen stretches dashed"
    )
