# SPDX-License-Identifier: GPL-2.0-or-later
"""The structure of an IMDF archive as JSON schemas, written from the published standard alone.

OGC 20-094, Indoor Mapping Data Format 1.0.0: the pages Manifest, Address, Venue, Building,
Footprint, Level, Unit, Opening, Relationship and Categories (https://docs.ogc.org/cs/20-094/), and
RFC 7946 for the geometries. The lists of categories are written here once more, apart from those
of the plugin; that of relationships is from memory of the standard.
"""

ID = {"type": "string", "pattern": "^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"}
LABELS = {
    "type": "object",
    "minProperties": 1,
    "patternProperties": {
        "^[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*$": {"type": "string", "minLength": 1}
    },
    "additionalProperties": False,
}
POSITION = {
    "type": "array",
    "items": [
        {"type": "number", "minimum": -180, "maximum": 180},
        {"type": "number", "minimum": -90, "maximum": 90},
    ],
    "minItems": 2,
    "maxItems": 2,
}


def geometry(kind, coordinates):
    return {
        "type": "object",
        "required": ["type", "coordinates"],
        "properties": {"type": {"const": kind}, "coordinates": coordinates},
        "additionalProperties": False,
    }


RINGS = {
    "type": "array",
    "minItems": 1,
    "items": {"type": "array", "items": POSITION, "minItems": 4},
}
POINT = geometry("Point", POSITION)
LINE = geometry("LineString", {"type": "array", "items": POSITION, "minItems": 2})
POLYGONAL = {
    "oneOf": [
        geometry("Polygon", RINGS),
        geometry("MultiPolygon", {"type": "array", "minItems": 1, "items": RINGS}),
    ]
}
NULL = {"type": "null"}
TEXT = {"type": "string", "minLength": 1}


def maybe(schema):
    return {"oneOf": [NULL, schema]}


def words(text):
    return {"enum": text.split()}


ACCESSIBILITY = {
    "type": "array",
    "items": words(
        "assisted.listening braille hearing hearingloop signlanginterpreter tactilepaving tdd trs "
        "volume wheelchair"
    ),
}
ACCESS_CONTROL = {
    "type": "array",
    "items": words(
        "badgereader fingerprintreader guard keyaccess outofservice passwordaccess retinascanner "
        "voicerecognition"
    ),
}
RESTRICTION = words("employeesonly restricted")
REFERENCE = {
    "type": "object",
    "required": ["id", "feature_type"],
    "properties": {"id": ID, "feature_type": {"type": "string"}},
    "additionalProperties": False,
}
UNITS = words(
    "auditorium brick classroom column concrete conferenceroom drywall elevator escalator "
    "fieldofplay firstaid fitnessroom foodservice footbridge glass huddleroom kitchen laboratory "
    "library lobby lounge mailroom mothersroom movietheater movingwalkway nonpublic office "
    "opentobelow parking phoneroom platform privatelounge ramp recreation restroom restroom.family "
    "restroom.female restroom.female.wheelchair restroom.male restroom.male.wheelchair "
    "restroom.transgender restroom.transgender.wheelchair restroom.unisex "
    "restroom.unisex.wheelchair restroom.wheelchair road room serverroom shower smokingarea stairs "
    "steps storage structure terrace theater unenclosedarea unspecified vegetation waitingroom "
    "walkway walkway.island wood"
)
VENUES = words(
    "airport airport.intl aquarium businesscampus casino communitycenter conventioncenter "
    "governmentfacility healthcarefacility hotel museum parkingfacility resort retailstore "
    "shoppingcenter stadium stripmall theater themepark trainstation transitstation university"
)

# Geometry and properties by type of feature; every property is required, null where allowed.
FEATURES = {
    "address": (
        NULL,
        {
            "address": TEXT,
            "unit": maybe(TEXT),
            "locality": TEXT,
            "province": maybe({"type": "string", "pattern": "^[A-Z]{2}-[A-Z0-9]{1,3}$"}),
            "country": {"type": "string", "pattern": "^[A-Z]{2}$"},
            "postal_code": maybe(TEXT),
            "postal_code_ext": maybe(TEXT),
            "postal_code_vanity": maybe(TEXT),
        },
    ),
    "venue": (
        POLYGONAL,
        {
            "category": VENUES,
            "restriction": maybe(RESTRICTION),
            "name": LABELS,
            "alt_name": maybe(LABELS),
            "hours": maybe(TEXT),
            "phone": maybe(TEXT),
            "website": maybe(TEXT),
            "display_point": POINT,
            "address_id": ID,
        },
    ),
    "building": (
        NULL,
        {
            "category": words("parking transit transit.bus transit.train unspecified"),
            "restriction": maybe(RESTRICTION),
            "name": maybe(LABELS),
            "alt_name": maybe(LABELS),
            "display_point": maybe(POINT),
            "address_id": maybe(ID),
        },
    ),
    "footprint": (
        POLYGONAL,
        {
            "category": words("aerial ground subterranean"),
            "name": maybe(LABELS),
            "building_ids": {"type": "array", "items": ID, "minItems": 1},
        },
    ),
    "level": (
        POLYGONAL,
        {
            "category": words(
                "arrivals arrivals.domestic arrivals.intl departures departures.domestic "
                "departures.intl parking transit unspecified"
            ),
            "restriction": maybe(RESTRICTION),
            "outdoor": {"type": "boolean"},
            "ordinal": {"type": "integer"},
            "name": LABELS,
            "short_name": LABELS,
            "display_point": maybe(POINT),
            "address_id": maybe(ID),
            "building_ids": maybe({"type": "array", "items": ID, "minItems": 1}),
        },
    ),
    "unit": (
        POLYGONAL,
        {
            "category": UNITS,
            "restriction": maybe(RESTRICTION),
            "accessibility": maybe(ACCESSIBILITY),
            "name": maybe(LABELS),
            "alt_name": maybe(LABELS),
            "level_id": ID,
            "display_point": maybe(POINT),
        },
    ),
    "opening": (
        LINE,
        {
            "category": words(
                "automobile bicycle emergencyexit pedestrian pedestrian.principal "
                "pedestrian.transit service"
            ),
            "accessibility": maybe(ACCESSIBILITY),
            "access_control": maybe(ACCESS_CONTROL),
            "door": maybe({"type": "object"}),
            "name": maybe(LABELS),
            "alt_name": maybe(LABELS),
            "display_point": maybe(POINT),
            "level_id": ID,
        },
    ),
    "relationship": (
        {"oneOf": [NULL, {"type": "object"}]},
        {
            "category": words(
                "elevator escalator movingwalkway ramp stairs steps traversal traversal.path"
            ),
            "direction": words("directed undirected"),
            "origin": maybe(REFERENCE),
            "intermediary": maybe({"type": "array", "items": REFERENCE}),
            "destination": maybe(REFERENCE),
            "hours": maybe(TEXT),
        },
    ),
}

MANIFEST = {
    "type": "object",
    "required": ["version", "created", "language"],
    "properties": {
        "version": {"const": "1.0.0"},
        "created": {
            "type": "string",
            "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(Z|[+-]\d\d:\d\d)?$",
        },
        "generated_by": maybe({"type": "string"}),
        "language": {"type": "string", "pattern": "^[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*$"},
        "extensions": maybe({"type": "array"}),
    },
    "additionalProperties": False,
}


def collection(kind):
    """The schema of one file of features."""
    shape, properties = FEATURES[kind]
    return {
        "type": "object",
        "required": ["type", "features"],
        "properties": {
            "type": {"const": "FeatureCollection"},
            "features": {
                "type": "array",
                "minItems": 1,
                "items": {
                    "type": "object",
                    "required": ["id", "type", "feature_type", "geometry", "properties"],
                    "properties": {
                        "id": ID,
                        "type": {"const": "Feature"},
                        "feature_type": {"const": kind},
                        "geometry": shape,
                        "properties": {
                            "type": "object",
                            "required": [*properties],
                            "properties": properties,
                            "additionalProperties": False,
                        },
                    },
                    "additionalProperties": False,
                },
            },
        },
        "additionalProperties": False,
    }
