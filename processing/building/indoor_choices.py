# SPDX-License-Identifier: GPL-2.0-or-later
"""What of an indoor map a person must choose or look at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import shapely
from shapely.geometry import MultiPolygon, Polygon

from .indoor_categories import UNSPECIFIED, VENUE_STAND_IN
from .indoor_extents import enclosed_m2
from .indoor_model import UNKNOWN, UNKNOWN_COUNTRY, Doorway, Space, Venue

OVERLAP_M2 = 0.01
SMALLEST_COURT_M2 = 1.0


def choices_left(
    venue: Venue, spaces: Sequence[Space], doorways: Sequence[Doorway], levels: Sequence[int]
) -> list[str]:
    """What the standard wants and the survey cannot know, with what was written instead."""
    found = []
    if not venue.category:
        found.append(
            f"The category of the venue: the standard knows no venue without one, {VENUE_STAND_IN} "
            "was written."
        )
    for what, value, stand_in in (
        ("The street and number of the address", venue.address, UNKNOWN),
        ("The locality of the address", venue.locality, UNKNOWN),
        ("The country of the address", venue.country, UNKNOWN_COUNTRY),
    ):
        if not value:
            found.append(f"{what}: {stand_in} was written.")
    unnamed = [str(level) for level in levels if level not in venue.storeys]
    if unnamed:
        found.append(f"Names of the storeys {', '.join(unnamed)}: their ordinals were written.")
    open_units = [space.name for space in spaces if space.category == UNSPECIFIED]
    if open_units:
        found.append(
            f"The categories of {len(open_units)} of {len(spaces)} rooms: {UNSPECIFIED} was "
            f"written ({', '.join(open_units)})."
        )
    names = {space.id: space.name for space in spaces}
    outside = [
        names.get(door.room_a) or names.get(door.room_b) or door.id
        for door in doorways
        if door.room_a not in names or door.room_b not in names
    ]
    if outside:
        found.append(
            f"What the {len(outside)} doorway(s) are that lead outside or to where nobody surveyed "
            f"(of {', '.join(outside)}): main entrance (pedestrian.principal), emergency exit, "
            "service door or another."
        )
    found.append(
        "The venue's boundary: the building's outline was written; the standard would rather have "
        "that of the property."
    )
    return found


def remarks(spaces: Sequence[Space], extents: Mapping[int, Polygon | MultiPolygon]) -> list[str]:
    """What was found in the plan that a map should not have."""
    found = []
    tree = shapely.STRtree([space.polygon for space in spaces])
    first, second = tree.query([space.polygon for space in spaces], predicate="intersects")
    for i, j in zip(first.tolist(), second.tolist()):
        if i < j and spaces[i].level == spaces[j].level:
            common = spaces[i].polygon.intersection(spaces[j].polygon).area
            if common > OVERLAP_M2:
                found.append(
                    f"Rooms {spaces[i].name} and {spaces[j].name} overlap by {common:.2f} m²."
                )
    for level, extent in extents.items():
        court = enclosed_m2([space for space in spaces if space.level == level], extent)
        if court > SMALLEST_COURT_M2:
            found.append(
                f"On storey {level} an area of {court:.1f} m² is enclosed and no room of the "
                "survey: it counts to the storey, cut it out where it is a court."
            )
    return found
