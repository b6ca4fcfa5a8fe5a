# SPDX-License-Identifier: GPL-2.0-or-later
"""An indoor map (OGC 20-094, Indoor Mapping Data Format 1.0.0) of a plan's rooms and doorways.

Identifiers are UUIDs of version 5 (RFC 9562): rooms and openings keep those of the plan; venue,
building, storeys and so on take theirs from what they are called, so that a second survey of the
same building gives the same ones.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import shapely

from ..errors import SurveyError
from ..progress import SILENT, Progress
from .indoor_categories import UNSPECIFIED
from .indoor_choices import choices_left, remarks
from .indoor_extents import footprints, on_boundary, storey_extents
from .indoor_geojson import ToLonLat, feature, on_earth, point
from .indoor_model import Doorway, Feature, IndoorMap, Space, Venue

NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "urn:roomtie:indoor")
TYPES = (
    *("address", "venue", "building", "footprint"),
    *("level", "unit", "opening", "relationship"),
)

FURTHEST_MOVE_M = 0.1


def indoor_map(
    venue: Venue,
    spaces: Sequence[Space],
    doorways: Sequence[Doorway],
    to_lonlat: ToLonLat,
    outer_wall_m: float,
    progress: Progress = SILENT,
) -> IndoorMap:
    """The features of a map of one building, and what a person has still to choose.

    SurveyError when there is no room, a room's outline is not valid, two rooms have one
    identifier, or something has no place on the earth.
    """
    if not spaces:
        raise SurveyError("There is no room to put into an indoor map; expected at least one.")
    _check_ids(spaces)
    for space in spaces:
        if not space.polygon.is_valid:
            raise SurveyError(
                f"Room {space.name}: its outline is not valid "
                f"({shapely.is_valid_reason(space.polygon)}); expected one that does not cross "
                "itself."
            )
    maker = _Maker(venue, to_lonlat)
    extents = storey_extents(spaces, outer_wall_m)
    progress.at(0.2)
    maker.building(extents)
    maker.storeys(extents)
    for space in progress.part(0.3, 0.8).over(spaces):
        maker.unit(space)
    rooms = {space.id: space for space in spaces}
    there = [doorway for doorway in doorways if doorway.level in extents]
    strays = [
        f"Doorway {doorway.id} is left out: its storey {doorway.level} has no room."
        for doorway in doorways
        if doorway.level not in extents
    ]
    for doorway in progress.part(0.8, 1.0).over(there):
        placed, moved = _on_a_room(doorway, rooms)
        maker.opening(placed, set(rooms))
        if moved > FURTHEST_MOVE_M:
            strays.append(f"Doorway {doorway.id} lies {moved:.2f} m off its room: look at it.")
    return IndoorMap(
        {kind: tuple(maker.features[kind]) for kind in TYPES if maker.features[kind]},
        extents,
        tuple(choices_left(venue, spaces, there, list(extents))),
        (*remarks(spaces, extents), *strays),
    )


def _on_a_room(doorway: Doorway, rooms: dict[str, Space]) -> tuple[Doorway, float]:
    """The doorway on the boundary of a room that it belongs to, else of one on its storey, and how
    far off it was (m). One that lies further off than a plan moves things stays where it is."""
    own = [rooms[room] for room in (doorway.room_a, doorway.room_b) if room in rooms]
    own = own or [space for space in rooms.values() if space.level == doorway.level]
    line, moved = on_boundary(doorway.line, [space.polygon for space in own])
    return (replace(doorway, line=line) if moved <= FURTHEST_MOVE_M else doorway), moved


def derived(space: uuid.UUID, *words: object) -> uuid.UUID:
    """The UUID of a thing by its name in a name space."""
    return uuid.uuid5(space, "\0".join(map(str, words)))


def as_uuid(text: str, space: uuid.UUID) -> str:
    """The identifier as a UUID: itself where it is one, else derived from it."""
    try:
        return str(uuid.UUID(text))
    except ValueError:
        return str(derived(space, "id", text))


class _Maker:
    """Collects features by type."""

    def __init__(self, venue: Venue, to_lonlat: ToLonLat) -> None:
        self.venue = venue
        self.to_lonlat = to_lonlat
        self.features: dict[str, list[Feature]] = {kind: [] for kind in TYPES}
        address = venue.written_address
        self.venue_id = derived(NAMESPACE, "venue", venue.name, *address.values())
        self.building_id = derived(self.venue_id, "building", venue.building)

    def add(self, kind: str, id_: object, geometry: Any, **properties: Any) -> None:
        self.features[kind].append(feature(kind, str(id_), geometry, properties))

    def labels(self, text: str) -> dict[str, str] | None:
        return {self.venue.language: text} if text.strip() else None

    def level_id(self, ordinal: int) -> str:
        return str(derived(self.building_id, "level", ordinal))

    def building(self, extents: dict[int, Any]) -> None:
        address_id = derived(self.venue_id, "address")
        self.add("address", address_id, None, **self.venue.written_address)
        whole = on_earth(
            shapely.union_all([*extents.values()]), self.to_lonlat, "The building's outline"
        )
        self.add(
            "venue",
            self.venue_id,
            whole,
            category=self.venue.written_category,
            restriction=None,
            name=self.labels(self.venue.name),
            alt_name=None,
            hours=None,
            phone=None,
            website=None,
            display_point=point(whole),
            address_id=str(address_id),
        )
        self.add(
            "building",
            self.building_id,
            None,
            category=UNSPECIFIED,
            restriction=None,
            name=self.labels(self.venue.building or self.venue.name),
            alt_name=None,
            display_point=point(whole),
            address_id=str(address_id),
        )
        for category, shape in footprints(extents).items():
            self.add(
                "footprint",
                derived(self.building_id, "footprint", category),
                on_earth(shape, self.to_lonlat, f"The {category} footprint"),
                category=category,
                name=None,
                building_ids=[str(self.building_id)],
            )

    def storeys(self, extents: dict[int, Any]) -> None:
        for ordinal, extent in extents.items():
            shape = on_earth(extent, self.to_lonlat, f"The outline of storey {ordinal}")
            name, short = self.venue.storey(ordinal)
            self.add(
                "level",
                self.level_id(ordinal),
                shape,
                category=UNSPECIFIED,
                restriction=None,
                outdoor=False,
                ordinal=ordinal,
                name=self.labels(name),
                short_name=self.labels(short),
                display_point=point(shape),
                address_id=None,
                building_ids=[str(self.building_id)],
            )

    def unit(self, space: Space) -> None:
        shape = on_earth(space.polygon, self.to_lonlat, f"Room {space.name}")
        self.add(
            "unit",
            as_uuid(space.id, self.building_id),
            shape,
            category=space.category,
            restriction=None,
            accessibility=None,
            name=self.labels(space.name),
            alt_name=None,
            level_id=self.level_id(space.level),
            display_point=point(shape),
        )

    def opening(self, doorway: Doorway, rooms: set[str]) -> None:
        line = on_earth(doorway.line, self.to_lonlat, f"Opening {doorway.id}")
        id_ = as_uuid(doorway.id, self.building_id)
        self.add(
            "opening",
            id_,
            line,
            category=doorway.category,
            accessibility=None,
            access_control=None,
            door=None,
            name=None,
            alt_name=None,
            level_id=self.level_id(doorway.level),
            display_point=point(line),
        )
        sides = [room for room in (doorway.room_a, doorway.room_b) if room in rooms]
        if len(sides) == 2:
            # The line lies on one face of the wall: only this says which room is behind it.
            origin, destination = (
                {"id": as_uuid(room, self.building_id), "feature_type": "unit"} for room in sides
            )
            self.add(
                "relationship",
                derived(self.building_id, "traversal", id_),
                None,
                category="traversal",
                direction="undirected",
                origin=origin,
                intermediary=[{"id": id_, "feature_type": "opening"}],
                destination=destination,
                hours=None,
            )


def _check_ids(spaces: Sequence[Space]) -> None:
    met: dict[str, str] = {}
    for space in spaces:
        if space.id in met:
            raise SurveyError(
                f"Rooms {met[space.id]} and {space.name} have one identifier, {space.id}; expected "
                "one each."
            )
        met[space.id] = space.name
