# SPDX-License-Identifier: GPL-2.0-or-later
"""What an indoor map holds, and what a person has still to choose, in a report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import shapely

from ..building.indoor_model import Doorway, IndoorMap, Space
from .html import Markup, bullets, facts, paragraph, section, table
from .sketch import Sketch, rings_of

CAUTION = (
    "Not a structural or boundary document, and no plan of escape routes: defer to local codes and "
    "a licensed surveyor."
)


def indoor_section_html(
    contents: IndoorMap,
    manifest: Mapping[str, Any],
    spaces: Sequence[Space],
    doorways: Sequence[Doorway],
    told: Sequence[str],
) -> Markup:
    """HTML sections: choices left, what was written, a map a storey and the table of units."""
    counts = [(kind, len(features)) for kind, features in contents.features.items()]
    left = (
        bullets(contents.choices)
        if contents.choices
        else paragraph("Nothing: all that the standard wants was given.", "advice good")
    )
    parts = [
        section("To be chosen by a person", left),
        section(
            "What was written",
            facts(
                [
                    ("Standard", f"OGC 20-094, Indoor Mapping Data Format {manifest['version']}"),
                    ("Created", manifest["created"]),
                    ("Language", manifest["language"]),
                    *counts,
                ]
            ),
            bullets([*told, *contents.remarks]),
            paragraph(CAUTION, "soft"),
        ),
        section(
            "Storeys", *(_map(contents, level, spaces, doorways) for level in contents.extents)
        ),
        section("Units", _units(spaces)),
    ]
    return Markup("\n".join(parts))


def _map(
    contents: IndoorMap, level: int, spaces: Sequence[Space], doorways: Sequence[Doorway]
) -> Markup:
    extent = contents.extents[level]
    sketch = Sketch(shapely.get_coordinates(extent), height=380.0)
    for ring in rings_of(extent):
        sketch.outline(ring, 'fill="#e3e7ea" stroke="#5d676f"')
    own = [space for space in spaces if space.level == level]
    for space in own:
        for ring in rings_of(space.polygon):
            sketch.outline(ring, 'fill="#fff" stroke="#1d2328"')
    ends = [shapely.get_coordinates(d.line)[[0, -1]] for d in doorways if d.level == level]
    sketch.lines(np.array(ends).reshape(-1, 2, 2), 'stroke="#c4661f" stroke-width="3"')
    for space in own:
        sketch.labels(
            shapely.get_coordinates(shapely.point_on_surface(space.polygon)), [space.name]
        )
    return sketch.svg(
        f"Storey {level}: units white, openings orange, the storey's extent with its walls grey"
    )


def _units(spaces: Sequence[Space]) -> Markup:
    rows = [
        (space.level, space.name, space.category, f"{space.polygon.area:.2f}", space.id)
        for space in spaces
    ]
    headers = ("Storey", "Name", "Category", "Area on the ground (m²)", "Identifier")
    return table(headers, rows, (0, 3))
