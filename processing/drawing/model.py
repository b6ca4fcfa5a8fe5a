# SPDX-License-Identifier: GPL-2.0-or-later
"""A drawing for CAD: layers and the few kinds of entity that a plan needs."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Union

from ..angles import Floats

CENTRE, LEFT = "centre", "left"


@dataclass(frozen=True)
class CadLayer:
    """A layer: its name, what it holds, true colour 0xRRGGBB, the nearest of the 255 indexed
    colours, line width in mm (one of those that ISO 128 has), and whether lines are dashed."""

    name: str
    description: str
    true_colour: int
    indexed_colour: int
    width_mm: float = 0.25
    dashed: bool = False
    shown: bool = True


@dataclass(frozen=True, eq=False)
class Polyline:
    """A line through vertices ``(n, 2)``; closed without repeating the first one."""

    layer: str
    xy: Floats
    closed: bool = False


@dataclass(frozen=True)
class Point:
    """A point without extent."""

    layer: str
    x: float
    y: float


@dataclass(frozen=True)
class Circle:
    """A circle about a point."""

    layer: str
    x: float
    y: float
    radius: float


@dataclass(frozen=True)
class Text:
    """One line of text of a height in drawing units; the point is its left end on the base line or
    its centre. `angle_deg` is counterclockwise from +x."""

    layer: str
    x: float
    y: float
    height: float
    words: str
    at: str = LEFT
    angle_deg: float = 0.0


Entity = Union[Polyline, Point, Circle, Text]


@dataclass
class Drawing:
    """Layers by name and entities in the order they are drawn. `insert_units` is the drawing unit
    as DXF's $INSUNITS counts them (6: metres)."""

    layers: dict[str, CadLayer] = field(default_factory=dict)
    entities: list[Entity] = field(default_factory=list)
    insert_units: int = 6
