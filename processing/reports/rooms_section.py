# SPDX-License-Identifier: GPL-2.0-or-later
"""Rooms with their areas, and openings, in a report; and by which convention areas were counted."""

from __future__ import annotations

from ..walls.model import Openings, Rooms
from ..walls.rooms_furniture import LARGEST_ISLAND_M2
from .html import Markup, paragraph, section, table
from .values import MM, figure

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


def rooms_section_html(rooms: Rooms, *pictures: Markup) -> Markup:
    """The rooms of one plot scale: pictures, areas, what they count."""
    return section("Rooms", *pictures, _rooms(rooms), paragraph(_convention(rooms), "soft"))


def openings_section_html(rooms: Rooms, openings: Openings) -> Markup:
    """The openings of one plot scale."""
    return section("Openings", *_openings(rooms, openings))


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
            figure(rooms.sigma_perimeter_m[i] * MM, 0),
            f"{100 * rooms.seen_share[i]:.0f} %",
            ", ".join(rooms.stations[i]) or "seen from outside only",
        )
        for i in range(len(rooms))
    ]
    headers = (
        *("Room", "Level", "Area (m²)", "σ (m²)", "of it, of what was seen (m²)"),
        *("Perimeter (m)", "σ (mm)", "Boundary seen", "Stations"),
    )
    return table(headers, rows, range(1, 8), f"At plot scale 1:{rooms.plot_scale}")


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
