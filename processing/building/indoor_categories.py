# SPDX-License-Identifier: GPL-2.0-or-later
"""The categories of an indoor map (OGC 20-094, Indoor Mapping Data Format 1.0.0, Categories)."""

from __future__ import annotations

import difflib
from collections.abc import Collection

from ..errors import SurveyError

UNSPECIFIED = "unspecified"

VENUE = [
    "airport",
    "airport.intl",
    "aquarium",
    "businesscampus",
    "casino",
    "communitycenter",
    "conventioncenter",
    "governmentfacility",
    "healthcarefacility",
    "hotel",
    "museum",
    "parkingfacility",
    "resort",
    "retailstore",
    "shoppingcenter",
    "stadium",
    "stripmall",
    "theater",
    "themepark",
    "trainstation",
    "transitstation",
    "university",
]

UNIT = [
    "auditorium",
    "brick",
    "classroom",
    "column",
    "concrete",
    "conferenceroom",
    "drywall",
    "elevator",
    "escalator",
    "fieldofplay",
    "firstaid",
    "fitnessroom",
    "foodservice",
    "footbridge",
    "glass",
    "huddleroom",
    "kitchen",
    "laboratory",
    "library",
    "lobby",
    "lounge",
    "mailroom",
    "mothersroom",
    "movietheater",
    "movingwalkway",
    "nonpublic",
    "office",
    "opentobelow",
    "parking",
    "phoneroom",
    "platform",
    "privatelounge",
    "ramp",
    "recreation",
    "restroom",
    "restroom.family",
    "restroom.female",
    "restroom.female.wheelchair",
    "restroom.male",
    "restroom.male.wheelchair",
    "restroom.transgender",
    "restroom.transgender.wheelchair",
    "restroom.unisex",
    "restroom.unisex.wheelchair",
    "restroom.wheelchair",
    "road",
    "room",
    "serverroom",
    "shower",
    "smokingarea",
    "stairs",
    "steps",
    "storage",
    "structure",
    "terrace",
    "theater",
    "unenclosedarea",
    "unspecified",
    "vegetation",
    "waitingroom",
    "walkway",
    "walkway.island",
    "wood",
]

OPENING = [
    "automobile",
    "bicycle",
    "pedestrian",
    "emergencyexit",
    "pedestrian.principal",
    "pedestrian.transit",
    "service",
]

PEDESTRIAN = "pedestrian"
VENUE_STAND_IN = "businesscampus"
"""The standard knows no venue without a category: written where nobody chose, and reported."""


def check_category(word: str, known: Collection[str], where: str) -> str:
    """The category; SurveyError says `where` and proposes what is written alike."""
    if word in known:
        return word
    alike = difflib.get_close_matches(word.lower(), known, 3, 0.5)
    wanted = f", such as {', '.join(alike)}" if alike else f": {', '.join(sorted(known))}"
    raise SurveyError(f"{where}: found {word}; expected a category of OGC 20-094{wanted}.")


def read_mapping(text: str, where: str) -> dict[str, str]:
    """Categories of units by the words of a field: ``WC=restroom; Büro=office``.

    SurveyError for a part without ``=``, a word that comes twice, and an unknown category.
    """
    found: dict[str, str] = {}
    for part in filter(None, (part.strip() for part in text.replace("\n", ";").split(";"))):
        word, equals, category = (piece.strip() for piece in part.rpartition("="))
        if not equals or not word:
            raise SurveyError(
                f"{where}: found {part}; expected pairs of word and category such as "
                "WC=restroom; Office=office."
            )
        if word.casefold() in found:
            raise SurveyError(f"{where}: {word} comes twice; expected one category a word.")
        found[word.casefold()] = check_category(category, UNIT, f"{where}, {word}")
    return found


def category_of(value: object, mapping: dict[str, str], known: Collection[str]) -> str:
    """The category that a field's value means: by the mapping, else the value itself where it is
    one; empty where neither tells."""
    word = "" if value is None else str(value).strip()
    mapped = mapping.get(word.casefold(), "")
    return mapped or (word if word in known else "")
