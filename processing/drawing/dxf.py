# SPDX-License-Identifier: GPL-2.0-or-later
"""Writes a drawing as DXF for AutoCAD 2007 (AC1021), the first release whose files are UTF-8.

Own code, since the host's exporter writes no units into the header and a library would have to be
installed by whoever wants a drawing. It writes four kinds of entity and no more; an independent
library reads and audits the files in the tests. Source: Autodesk, *DXF Reference*, sections HEADER,
TABLES, BLOCKS, ENTITIES and OBJECTS.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from ..angles import Floats
from ..errors import SurveyError
from ..progress import SILENT, Progress
from .dxf_frame import MODEL_SPACE, Tags, after_entities, before_entities
from .dxf_text import number_value, text_value
from .model import CENTRE, Circle, Drawing, Entity, Point, Polyline, Text

FIRST_HANDLE = 0x1000
"""Entities are numbered from here; everything before belongs to the frame of the file."""

BATCH = 2000


def write_dxf(path: Path, drawing: Drawing, progress: Progress = SILENT) -> None:
    """Write the file. SurveyError when an entity lies on a layer that the drawing does not have, or
    a coordinate is not finite; a part of the file may be left then (`files.all_or_nothing`)."""
    last = FIRST_HANDLE + len(drawing.entities)
    with path.open("w", encoding="utf-8", errors="strict", newline="\r\n") as file:
        _put(file, before_entities(drawing, extent(drawing), next_handle=last + 1))
        for number, entity in enumerate(drawing.entities):
            if number % BATCH == 0:
                progress.at(number / len(drawing.entities))
            if entity.layer not in drawing.layers:
                raise SurveyError(f"The drawing has no layer {entity.layer}; expected one.")
            _put(file, _entity(entity, f"{FIRST_HANDLE + number:X}"))
        _put(file, after_entities())
    progress.at(1.0)


def extent(drawing: Drawing) -> tuple[Floats, Floats]:
    """Lower left and upper right ``(2,)`` of all entities' points; the origin for an empty one."""
    xy = [
        entity.xy if isinstance(entity, Polyline) else np.array([[entity.x, entity.y]])
        for entity in drawing.entities
    ]
    if not xy:
        return np.zeros(2), np.zeros(2)
    together = np.concatenate(xy)
    return together.min(axis=0), together.max(axis=0)


def _put(file: io.TextIOBase, tags: Tags) -> None:
    for code, value in tags:
        file.write(f"{code:3d}\n{value}\n")


def _entity(entity: Entity, handle: str) -> Iterator[tuple[int, str]]:
    if isinstance(entity, Polyline):
        kind, body = "LWPOLYLINE", _polyline(entity)
    elif isinstance(entity, Circle):
        kind, body = "CIRCLE", _circle(entity)
    elif isinstance(entity, Point):
        kind, body = "POINT", _point(entity)
    else:
        kind, body = "TEXT", _text(entity)
    yield 0, kind
    yield 5, handle
    yield 330, MODEL_SPACE
    yield 100, "AcDbEntity"
    yield 8, entity.layer
    yield from body


def _place(x: float, y: float, first: int = 10) -> Iterator[tuple[int, str]]:
    yield first, number_value(x)
    yield first + 10, number_value(y)
    yield first + 20, "0.0"


def _polyline(line: Polyline) -> Iterator[tuple[int, str]]:
    yield 100, "AcDbPolyline"
    yield 90, str(len(line.xy))
    yield 70, "1" if line.closed else "0"
    for x, y in line.xy.tolist():
        yield 10, number_value(x)
        yield 20, number_value(y)


def _circle(circle: Circle) -> Iterator[tuple[int, str]]:
    yield 100, "AcDbCircle"
    yield from _place(circle.x, circle.y)
    yield 40, number_value(circle.radius)


def _point(point: Point) -> Iterator[tuple[int, str]]:
    yield 100, "AcDbPoint"
    yield from _place(point.x, point.y)


def _text(text: Text) -> Iterator[tuple[int, str]]:
    centred = text.at == CENTRE
    yield 100, "AcDbText"
    yield from _place(text.x, text.y)
    yield 40, number_value(text.height)
    yield 1, text_value(text.words)
    yield 50, number_value(text.angle_deg)
    yield 7, "Standard"
    if centred:
        yield 72, "1"
        yield from _place(text.x, text.y, 11)
    yield 100, "AcDbText"
    if centred:
        yield 73, "2"
