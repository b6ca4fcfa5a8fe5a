# SPDX-License-Identifier: GPL-2.0-or-later
"""What an indoor map is made of: the venue as a person describes it, spaces, doorways."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from shapely.geometry import LineString, MultiPolygon, Polygon

from ..errors import SurveyError
from .indoor_categories import PEDESTRIAN, UNSPECIFIED, VENUE_STAND_IN

UNKNOWN = "unspecified"
UNKNOWN_COUNTRY = "ZZ"
"""A code that ISO 3166-1 leaves to its users, so that it names no country."""


@dataclass(frozen=True)
class Venue:
    """What only a person knows. Empty texts are what nobody told: the standard wants a name, an
    address, a locality, a country and a category, so that stand-ins are written and reported."""

    name: str
    category: str = ""
    building: str = ""
    address: str = ""
    unit: str = ""
    locality: str = ""
    province: str = ""
    country: str = ""
    postal_code: str = ""
    language: str = "en"
    storeys: Mapping[int, tuple[str, str]] = field(default_factory=dict)

    @property
    def written_category(self) -> str:
        return self.category or VENUE_STAND_IN

    @property
    def written_address(self) -> dict[str, str | None]:
        """The properties of the address."""
        return {
            "address": self.address or UNKNOWN,
            "unit": self.unit or None,
            "locality": self.locality or UNKNOWN,
            "province": self.province or None,
            "country": self.country or UNKNOWN_COUNTRY,
            "postal_code": self.postal_code or None,
            "postal_code_ext": None,
            "postal_code_vanity": None,
        }

    def storey(self, ordinal: int) -> tuple[str, str]:
        """Name and short name of a storey; the ordinal where nobody named it."""
        return self.storeys.get(ordinal, (str(ordinal), str(ordinal)))


@dataclass(frozen=True, eq=False)
class Space:
    """A room: its UUID, name, storey, outline in metres on the ground, and connected group."""

    id: str
    name: str
    level: int
    polygon: Polygon | MultiPolygon
    category: str = UNSPECIFIED
    group: int = 1


@dataclass(frozen=True, eq=False)
class Doorway:
    """A doorway: its UUID, storey, line in metres on the ground on the boundary of a room, and the
    UUIDs of the rooms on both sides (empty: outside, or where nobody surveyed)."""

    id: str
    level: int
    line: LineString
    room_a: str
    room_b: str
    category: str = PEDESTRIAN


Feature = dict[str, Any]


@dataclass(frozen=True, eq=False)
class IndoorMap:
    """Features by type, in the order of the standard's archive, the extents that were drawn by
    storey (metres on the ground), and what a person should know, each a sentence."""

    features: Mapping[str, tuple[Feature, ...]]
    extents: Mapping[int, Polygon | MultiPolygon]
    choices: tuple[str, ...]
    remarks: tuple[str, ...]


def read_storeys(text: str, where: str) -> dict[int, tuple[str, str]]:
    """Names of storeys by ordinal: ``0=Ground floor|G; 1=First floor|1``; without ``|`` the short
    name is the ordinal. SurveyError tells a part that is not so, and a storey that comes twice."""
    found: dict[int, tuple[str, str]] = {}
    for part in filter(None, (part.strip() for part in text.replace("\n", ";").split(";"))):
        number, _, names = part.partition("=")
        name, _, short = (piece.strip() for piece in names.partition("|"))
        try:
            ordinal = int(number)
        except ValueError:
            name = ""
        if not name:
            raise SurveyError(
                f"{where}: found {part}; expected names by storey such as 0=Ground floor|G; "
                "1=First floor|1."
            )
        if ordinal in found:
            raise SurveyError(f"{where}: storey {ordinal} comes twice; expected one name a storey.")
        found[ordinal] = (name, short or str(ordinal))
    return found
